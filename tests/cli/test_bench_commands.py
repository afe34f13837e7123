"""The maker's loop from the command line: the same functions as the page."""

from __future__ import annotations

import json
import re
import shlex

import pytest
import typer
from typer.testing import CliRunner

from colormatch.cli.program import app
from colormatch.library import Piece, Swatch, import_library, open_library
from colormatch.workshop.materials import add_bag, add_jar, add_mould
from colormatch.workshop.shelf import set_defaults


@pytest.fixture
def run(tmp_path):
    """Run a command, with what is typed; the words it said."""
    with open_library(tmp_path / "studio") as library:
        add_bag(library, "White, quick", kind="quick-setting", like="white-cement", stock_g=20_000)
        for name, like in (("Brick red", "red-iron-oxide"), ("Ochre", "yellow-iron-oxide")):
            add_jar(library, name, like=like)
        add_mould(library, "Tray", fill_weight_g=400)
        set_defaults(library, scale_step_g=0.1)

    def call(*arguments, typed="", fails=False):
        result = CliRunner().invoke(app, [*arguments, "--library", str(tmp_path / "studio")], input=typed)
        assert bool(result.exception) == fails, result.output
        return str(result.exception) if fails else result.output

    return call


@pytest.mark.slow
def test_from_a_colour_to_the_next_batch(run, tmp_path):
    run("recipe", "--lab", "60,16,20", "--keep", "Rust tray")
    assert "Rust tray" in run("find", "rust", "--picture", str(tmp_path / "found.png"))
    assert (tmp_path / "found.png").read_bytes().startswith(b"\x89PNG")
    planned = run("bench", "plan", "Rust tray")
    code = re.search(r"code (\w{6})", planned).group(1)
    assert "mask" in planned
    assert code in run("find", code.lower())
    run("preview", "Brick red=2%", "--keep", "Plain red")
    run("library", "export", str(tmp_path / "part.zip"), "--only", "tray")
    with open_library(tmp_path / "other") as other:
        import_library(other, tmp_path / "part.zip")
        assert [each.name for each in other.list(Swatch)] == ["Rust tray"]
    assert "Nothing is called" in run("library", "export", str(tmp_path / "no.zip"), "--only", "cup 9", fails=True)
    run("bench", "sheet", code, str(tmp_path / "sheet.pdf"))
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    left = run("bench", "bowl", code, typed="ok\nabc\n1,250\n3\n\n")
    assert "Step 2 of" in left
    assert "no number" in left
    assert "is that 1.25 g or 1250 g" in left
    assert "Left as it is" in left
    typed = ["340", "enough"]
    for _ in range(12):
        said = run("bench", "bowl", code, typed="\n".join(typed) + "\n\n")
        if "This bowl is weighed." in said:
            break
        steps = re.findall(r"Step \d+ of \d+\. [^:\n]+: ([\d.]+) g", said)
        typed = [steps[-1]]
    assert "This bowl is weighed." in said
    assert "out of the mould from" in run("bench", "cast", code, "--weather", "damp")
    with open_library(tmp_path / "studio") as library:
        (piece,) = library.list(Piece)
    said = run("bench", "piece", piece.name, "--demoulded", "--weight", "395,5")
    assert "drying" in said
    assert "weather: damp" in said
    assert "weather: hot" in run("bench", "piece", piece.name, "--weather", "hot")
    said = run("bench", "piece", piece.name, "--lab", "58,18,22")
    assert "before the piece had dried" in said
    assert "than wanted" in said
    assert "cannot be changed" in run("bench", "piece", piece.name, "--weather", "cold", fails=True)
    assert json.loads(run("bench", "piece", piece.name, "--json"))["conditions"]["weather"] == "hot"
    assert json.loads(run("bench", "next", piece.name, "--json"))["batch"].startswith("Rust tray, corrected")
    for sealer in ("repellent", "wax"):
        run("bench", "piece", piece.name, "--sealed", sealer, "--state", "sealed", "--lab", "52,20,24")
    assert "sealed:wax  L*" in run("recipe", "--lab", "60,16,20")
    assert "Taken back" in run("bench", "piece", piece.name, "--undo")
    needs = json.loads(run("today", "--json"))
    assert {each["kind"] for each in needs["today"]} >= {"plan"}


def test_too_much_in_the_bowl_is_answered_in_words(run):
    run("preview", "Brick red=2%", "--keep", "Plain red")
    code = re.search(r"code (\w{6})", run("bench", "plan", "Plain red")).group(1)
    cement = re.search(r"Step 2 of \d+\. [^:\n]+: ([\d.]+) g", run("bench", "bowl", code, typed="ok\n\n")).group(1)
    red = re.search(r"Step 3 of \d+\. [^:\n]+: ([\d.]+) g", run("bench", "bowl", code, typed=f"{cement}\n\n")).group(1)
    said = run("bench", "bowl", code, typed=f"{1.3 * float(red):.1f}\n\n")
    assert "Still to weigh:" in said
    assert "No water is in yet: add it dry" in said
    assert "Brick red" not in said.split("Still to weigh:")[1]  # there is enough of it
    assert "Step 4 of" in run("bench", "bowl", code, typed="leave\n\n")


def test_today_in_a_new_studio_names_the_first_steps(run):
    said = run("today")
    assert "x Your cement" in said
    assert "  Match a shade" in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("bench", "plan", "Nothing"), "colormatch find"),
        (("bench", "bowl", "QQQQQQ"), "There is no batch"),
        (("bench", "piece", "cup 9"), "There is no piece"),
    ],
)
def test_what_is_not_there_is_said_with_what_to_do(run, arguments, words):
    assert words in run(*arguments, fails=True)


@pytest.mark.slow
def test_what_answers_answers_a_script_too(run, tmp_path):
    run("recipe", "--lab", "60,16,20", "--keep", "Rust tray")
    planned = json.loads(run("bench", "plan", "Rust tray", "--json"))
    assert "Rust tray" in run("find", planned["code"])
    (lines,) = planned["bowls"].values()
    assert {"White, quick", "Brick red"} <= {line["name"] for line in lines}
    run("library", "export", str(tmp_path / "out.zip"))
    assert json.loads(run("library", "import", str(tmp_path / "out.zip"), "--dry-run", "--json"))["added"] == {}
    assert json.loads(run("library", "where", "--json"))["holds"]["batch"] == 1
    assert json.loads(run("library", "check", "--json")) == {"problems": [], "can_be_mended": []}


def commands(group, path=()):
    """Every command below a group, with the words that call it."""
    for name, command in group.commands.items():
        yield (*path, name), command
        if hasattr(command, "commands"):
            yield from commands(command, (*path, name))


def test_every_command_shows_an_example_of_itself():
    for words, command in commands(typer.main.get_command(app)):
        example = (command.epilog or "").removeprefix("Example: ")
        assert shlex.split(example)[: 1 + len(words)] == ["colormatch", *words], words
