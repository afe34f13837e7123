"""The command line: the main job in words, one sentence and status 2 for what cannot be used."""

import csv
import json
import subprocess
import sys
import warnings
from pathlib import Path

import pytest
from PIL import Image

from colormatch.cli.asking import save_picture
from colormatch.colorimetry import hex_to_lab, lab_to_hex
from colormatch.difference import delta_e_2000
from colormatch.errors import InputError
from colormatch.library import open_library
from colormatch.photo.chart import edition_lab
from colormatch.starter import starter_palette
from colormatch.workshop.charts import take_edition

PHOTOGRAPHS = Path(__file__).resolve().parents[2] / "swatches" / "photographs"


def test_a_colour_becomes_recipes_in_grams(run):
    status, out, _ = run("recipe", "--lab", "52,18,20", "--cement", "780", "--step", "0.1")
    assert status == 0
    assert " g  Red iron oxide" in out
    assert all(state in out for state in ("demould", "wet", "dry", "sealed"))
    assert "mask" in out


def test_a_screen_colour_is_its_lab_colour(run):
    _, by_hex, _ = run("recipe", "--hex", "#a4705b")
    lab = ",".join(f"{value:.6f}" for value in hex_to_lab("#a4705b"))
    _, by_lab, _ = run("recipe", "--lab", lab)
    assert by_hex.splitlines()[1:] == by_lab.splitlines()[1:]


def test_only_what_is_on_the_shelf_is_offered_and_an_empty_shelf_says_how_to_fill_it(run, tmp_path):
    run("library", "new", "empty", library=False)
    where = ["--library", "empty"]
    status, _, err = run("recipe", "--lab", "52,18,20", *where, library=False)
    assert status == 2
    assert "no cement on your shelf" in err
    assert "shelf is empty" in run("shelf", *where, library=False)[1]
    assert run("shelf", "cement", "White bag", "--kind", "portland", *where, library=False)[0] == 0
    assert (
        run("shelf", "jar", "Brick red", "--like", "red-iron-oxide", "--stock", "0.5kg", *where, library=False)[0] == 0
    )
    assert run("shelf", "mould", "Bud planter", "--volume", "300", *where, library=False)[0] == 0
    _, out, _ = run("shelf", "--json", *where, library=False)
    assert [(each["kind"], each["name"], each["stock_g"]) for each in json.loads(out)["shelf"]] == [
        ("cement", "White bag", None),
        ("pigment", "Brick red", 500.0),
    ]
    _, out, _ = run("recipe", "--lab", "52,18,20", "--json", *where, library=False)
    assert {name for one in json.loads(out)["recipes"] for name in one["loads"]} == {"brick-red"}


def test_json_says_what_the_lines_say(run):
    _, out, _ = run("recipe", "--lab", "52,18,20", "--json")
    answer = json.loads(out)
    assert answer["target"]["lab"] == [52, 18, 20]
    first = answer["recipes"][0]
    assert sum(first["grams"].values()) == pytest.approx(sum(first["loads"].values()) * first["cement_g"], abs=0.01)
    assert set(first["shades"]) == {"demould", "wet", "dry", "sealed"}
    assert json.loads(run("preview", "red-iron-oxide=2", "--json")[1])["loads"] == {"red-iron-oxide": 0.02}
    assert json.loads(run("next-tiles", "--lab", "52,18,20", "--count", "1", "--json")[1])["tiles"]
    assert json.loads(run("drying", "0=412.3", "1=401", "2=395.2", "3=392.1", "--json", library=False)[1])["words"]


def test_many_shades_come_from_one_file(run, tmp_path):
    (tmp_path / "card.csv").write_text("name,L,a,b,hex\nclay,52,18,20,\nleaf,,,,#7a8560\n")
    _, out, _ = run("recipe", "--shades", "card.csv")
    assert [line.split()[0] for line in out.splitlines()[:2]] == ["clay", "leaf"]
    _, out, _ = run("recipe", "--shades", "card.csv", "--json")
    answer = json.loads(out)["targets"]
    one = json.loads(run("recipe", "--lab", "52,18,20", "--json")[1])["recipes"][0]
    assert [each["name"] for each in answer] == ["clay", "leaf"]
    assert answer[0]["recipe"] == one


@pytest.mark.parametrize(
    "content", ["", "name,L,a,b\n", "name,L,a,b\nclay,52,18,\n", "name,L,a,b\nclay,x,1,2\n", "\xff"]
)
def test_a_file_without_shades_is_one_sentence(run, tmp_path, content):
    (tmp_path / "card.csv").write_text(content, encoding="latin-1")
    status, _, err = run("recipe", "--shades", "card.csv")
    assert status == 2
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize(
    "typed", ["red-iron-oxide=2", "Red iron oxide=2%", "RED IRON OXIDE=20g/kg", "red-iron-oxide=2,0"]
)
def test_names_are_as_on_the_jar_and_loads_in_per_cent_or_grams_per_kilogram(run, typed):
    assert json.loads(run("preview", typed, "--json")[1])["loads"] == {"red-iron-oxide": pytest.approx(0.02)}


@pytest.mark.parametrize(
    ("arguments", "asked"),
    [
        (("preview", "red-iron-oxide=0.02"), "0.02% for the one, 2% for the other"),
        (("recipe", "--lab", "52,18,20", "--cap", "0.05"), "0.05% for the one, 5% for the other"),
        (("drying", "0=412", "24=401", "48=395"), "Write 0h 24h 48h"),
        (("drying", "0=0.412", "1=0.401", "2=0.395"), "Write 0.412kg"),
    ],
)
def test_what_could_mean_two_things_is_asked_about(run, arguments, asked):
    status, _, err = run(*arguments, library=arguments[0] != "drying")
    assert status == 2
    assert asked in err


def test_what_is_asked_about_is_a_sentence_without_a_line_of_code(run):
    with warnings.catch_warnings():
        warnings.simplefilter("default")
        status, _, err = run("recipe", "--lab", "0.52,0.18,0.2")
    assert status == 0
    assert err.startswith("Note: A shade of L*=0.52")
    assert len(err.splitlines()) == 1


def test_the_help_lists_what_may_be_chosen_in_the_demo(run):
    palette, said = starter_palette(), " ".join(run("recipe", "--help", library=False)[1].split()).replace("- ", "-")
    assert all(name in said for name in (*palette.bases, *palette.pigments))


def test_a_weight_is_grams_or_kilograms_and_a_time_days_or_hours(run):
    plain = run("drying", "0=412.3", "1=401", "2=395.2", "3=392.1", library=False)[1]
    assert run("drying", "0h=412.3g", "24h=0.401kg", "2d=395.2", "72h=392.1g", library=False)[1] == plain
    one, other = (run("recipe", "--lab", "52,18,20", "--cement", typed)[1] for typed in ("500", "0.5kg"))
    assert one == other


def test_the_version(run):
    assert run("--version", library=False)[1].startswith("colormatch ")


def test_what_is_there_is_replaced_only_by_force(run, tmp_path):
    for command, name in (("export", "out.zip"), ("backup", "out.backup")):
        assert run("library", command, name)[0] == 0
        status, _, err = run("library", command, name)
        assert status == 2
        assert "--force" in err
        assert run("library", command, name, "--force")[0] == 0, command


def test_the_library_of_the_environment_is_the_one_in_use(run, tmp_path, monkeypatch):
    monkeypatch.setenv("COLORMATCH_LIBRARY", str(tmp_path / "studio"))
    assert "Red iron oxide" in run("shelf", library=False)[1]


def test_preview_says_every_state(run):
    status, out, _ = run("preview", "red-iron-oxide=2", "titanium-white=1", "--base", "grey-cement")
    assert status == 0
    assert len(out.strip().splitlines()) == 4
    assert lab_to_hex([0, 0, 0]) not in out


@pytest.mark.slow
def test_a_photograph_becomes_a_recipe(run, tmp_path):
    """A flat picture with a white sheet in it: not a good photograph, but every step runs."""
    picture = Image.new("RGB", (400, 300), (150, 100, 80))
    picture.paste((230, 230, 230), (0, 0, 120, 300))
    picture.save(tmp_path / "pot.png")
    where = ["--region", "200,100,300,200", "--grey", "10,50,110,250", "--grey-factor", "0.85"]
    status, out, _ = run("recipe", "--photo", "pot.png", *where)
    assert status == 0
    assert "Measured" in out
    assert " g  " in out
    status, out, _ = run("shade", "pot.png", *where, "--proof", "proof.png", library=False)
    assert status == 0
    assert (tmp_path / "proof.png").stat().st_size > 1000


@pytest.mark.slow
def test_what_is_no_cement_is_less_certain(run):
    saucer = str(next(PHOTOGRAPHS.glob("be3e8d16*.jpg")))
    asked = ["shade", saucer, "--region", "1055,487,1265,697", "--json"]
    cement, anything = (json.loads(run(*asked, *more, library=False)[1])["shade"] for more in ([], ["--anything"]))
    assert anything["lab"] == cement["lab"]
    assert anything["sd"] > cement["sd"]


def test_the_library_goes_out_and_comes_back(run, tmp_path):
    assert run("library", "where")[0] == 0
    assert run("library", "export", "out.zip")[0] == 0
    status, out, _ = run("library", "import", "out.zip", "--dry-run")
    assert status == 0
    assert out.strip()
    assert run("library", "backup", "kept.backup")[0] == 0
    assert run("library", "restore", "kept.backup", str(tmp_path / "again"), library=False)[0] == 0
    assert run("library", "check")[0] == 0


def test_drying_says_when(run):
    weights = [f"{day}={300 + 20 * 0.6**day:.1f}" for day in range(10)]
    status, out, _ = run("drying", *weights, library=False)
    assert status == 0
    assert "seal" in out.lower()


@pytest.mark.slow
def test_the_chart_is_named_by_its_edition_or_its_file(run, tmp_path):
    photograph = next(PHOTOGRAPHS.glob("be3e8d16*.jpg"))
    where, found = ["shade", str(photograph), "--region", "1056,488,1264,696", "--json"], []
    (tmp_path / "mine.csv").write_text("\n".join(f"{L},{a},{b}" for L, a, b in edition_lab("before November 2014")))
    for chart in ([], ["--chart", "before November 2014"], ["--chart", "mine.csv"], ["--chart", "after November 2014"]):
        status, out, err = run(*where, *chart, library=False)
        assert status == 0, err
        found.append(json.loads(out)["shade"]["lab"])
    standard, before, measured, after = found
    assert measured == pytest.approx(before, abs=0.05)
    assert delta_e_2000(standard, before) > 0.1 < delta_e_2000(before, after)
    recipe = ["recipe", "--photo", str(photograph), "--region", "1056,488,1264,696", "--json"]
    with open_library(tmp_path / "studio") as library:
        take_edition(library, "after November 2014")
    assert json.loads(run(*recipe)[1])["target"]["lab"] == after  # as the studio has it
    assert json.loads(run(*recipe, "--chart", "before November 2014")[1])["target"]["lab"] == before
    status, _, err = run(*where, "--chart", "next year's", library=False)
    assert (status, "before November 2014, after November 2014" in err) == (2, True)


def test_out_of_reach_says_what_stops_it(run):
    _, out, _ = run("recipe", "--lab", "40,60,-40")
    assert "Out of reach" in out


def test_over_its_own_maximum_is_said(run):
    assert "own maximum" in run("preview", "carbon-black=8")[1]
    assert "own maximum" not in run("preview", "carbon-black=1.5")[1]


def test_next_tiles_say_what_to_cast(run):
    status, out, _ = run("next-tiles", "--lab", "52,18,20", "--count", "2", "--base", "grey-cement")
    assert status == 0
    lines = out.strip().splitlines()
    assert len(lines) == 5
    assert all("on grey-cement" in line and "dE00" in line for line in lines[:4:2])
    assert all("g Grey cement" in line for line in lines[1:4:2])
    assert lines[-1] == "Then make recipes."


def test_a_cast_list_is_saved_filled_in_and_learned_from_once(run, tmp_path):
    run("next-tiles", "--lab", "52,18,20", "--count", "2", "--cement", "50", "--save", "tiles.csv")
    heading, *rows = csv.reader((tmp_path / "tiles.csv").read_text().splitlines())
    assert len(rows) == 2
    assert "there already" in run("next-tiles", "--lab", "52,18,20", "--save", "tiles.csv")[2]
    at = heading.index("L")
    for row in rows:
        row[at : at + 3] = ["60", "12", "15"]
    (tmp_path / "tiles.csv").write_text("\n".join(";".join(row) for row in [heading, *rows]))
    assert json.loads(run("learn", "--cast-list", "tiles.csv", "--json")[1])["tiles"] == 2
    assert "kept dry before" in run("learn", "--cast-list", "tiles.csv")[2]


def test_a_piece_that_gains_weight_may_not_be_sealed(run):
    _, out, _ = run("drying", "0=400", "1=405", "2=410", "3=420", "4=425", library=False)
    assert "gained" in out
    assert "may be sealed" not in out


def test_grams_are_shown_with_the_places_of_the_scale(run):
    _, out, _ = run("recipe", "--lab", "52,18,20", "--cement", "100", "--step", "0.001", "--use", "red-iron-oxide")
    grams = [line.split()[0] for line in out.splitlines() if " g  " in line]
    assert grams
    assert all(len(each.partition(".")[2]) == 3 for each in grams)
    _, out, _ = run("recipe", "--lab", "52,18,20", "--step", "1", "--use", "red-iron-oxide")
    assert all("." not in line.split()[0] for line in out.splitlines() if " g  " in line)


def test_a_library_is_not_made_over_something_else(run, tmp_path):
    status, _, err = run("library", "new", "studio", library=False)
    assert (status, "already" in err) == (2, True)
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "letter.txt").write_text("dear")
    status, _, err = run("library", "new", "letters", library=False)
    assert (status, "other files" in err) == (2, True)
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["letter.txt"]


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="needs a folder that nobody can write to")
@pytest.mark.parametrize("arguments", [("export", "/proc/out"), ("export", "/proc/out.zip"), ("backup", "/proc/kept")])
def test_a_place_that_cannot_be_written_is_named(run, arguments):
    status, _, err = run("library", *arguments)
    assert status == 2
    assert err.startswith(arguments[1])


@pytest.mark.parametrize("earlier", [None, b"the card of yesterday"])
def test_a_picture_that_does_not_fit_the_disk_leaves_no_half_of_it(tmp_path, earlier):
    """A limit on the size of files stands for the full disk: the write fails in the same way."""
    resource = pytest.importorskip("resource")
    picture, place = Image.effect_noise((300, 300), 60), tmp_path / "card.png"
    if earlier is not None:
        place.write_bytes(earlier)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
    try:
        with pytest.raises(InputError, match=r"card\.png' could not be written"):
            save_picture(picture, place)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    left = [(each.name, each.read_bytes()) for each in tmp_path.iterdir()]
    assert left == ([] if earlier is None else [("card.png", earlier)])
    save_picture(picture, place)
    with Image.open(place) as read:
        assert read.size == (300, 300)


def test_numpy_waits_until_the_number_of_threads_is_set():
    source = "import sys, colormatch.cli; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", source], check=False).returncode == 0
