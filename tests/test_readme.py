"""What README and the docstrings print as Python runs as it stands."""

import doctest
import importlib
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = re.search(r"<!-- command: use -->\n```sh\n(.*?)```", README, re.DOTALL)[1].splitlines()
# The installed command: CI names that of the wheel; else the one beside this interpreter.
COMMAND = os.environ.get("COLORMATCH_COMMAND") or str(Path(sys.executable).with_name("colormatch"))
BLOCKS = re.findall(r"```python\n(.*?)```", README, re.DOTALL)


def test_there_is_something_to_run():
    assert BLOCKS
    assert len(modules_with_examples()) >= 5


@pytest.mark.parametrize("block", BLOCKS, ids=range(len(BLOCKS)))
def test_the_readmes_python_runs_as_printed(block, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    exec(compile(block, "README.md", "exec"), {})
    assert capsys.readouterr().out


def modules_with_examples():
    files = (ROOT / "colormatch").rglob("*.py")
    return [".".join(each.relative_to(ROOT).with_suffix("").parts) for each in files if ">>> " in each.read_text()]


@pytest.mark.parametrize("name", sorted(modules_with_examples()))
def test_the_docstrings_examples_hold(name):
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted
    assert result.failed == 0


@pytest.mark.slow
def test_the_readmes_commands_run_as_printed_one_after_the_other(tmp_path):
    saucer = next(ROOT.glob("swatches/photographs/be3e8d16*.jpg"))  # the demo's first target; README gives its region
    shutil.copy(saucer, tmp_path / "pot.jpg")
    (tmp_path / "card.csv").write_text("name,L,a,b\nclay,52,18,20\nfog,70,-1,3\n")
    table = "\n".join(f"{nm},{0.3 + nm / 2000}" for nm in range(400, 701, 10))
    (tmp_path / "sample.csv").write_text(f"nm,my sample\n{table}\n")
    home = {**os.environ, "XDG_DATA_HOME": str(tmp_path / "data"), "COLORMATCH_LIBRARY": ""}
    for line in COMMANDS:
        program, *arguments = shlex.split(line, comments=True)
        assert program == "colormatch"
        ran = subprocess.run([COMMAND, *arguments], cwd=tmp_path, env=home, capture_output=True, text=True, check=False)
        assert ran.returncode == 0, (line, ran.stderr)
        assert ran.stdout.strip(), line
        if "--photo" in arguments:
            first = ran.stdout.split("\n2. ")[0]
            told = re.findall(r"([\d.]+) g ((?:red|yellow|brown) iron oxide|cobalt blue)", README)
            assert len(told) == 3
            for grams, jar in told:
                assert re.search(rf"\b{re.escape(grams)} g  {jar}", first, re.IGNORECASE), (grams, jar)
        assert not ran.stderr.strip(), (line, ran.stderr)


def test_its_cautions_are_those_of_the_steps():
    from colormatch.bench.cautions import STEPS, USES, caution_for

    section = README.split("## Cautions")[1].split("\n## ")[0].lower()
    told = " ".join([*(step.caution for step in STEPS), *(caution_for(use) for use in USES)]).lower()
    words = ["p100 / ffp3", "ph 12 to 13", "chromium vi", "stays for life", "see a doctor", "drain", "soaked"]
    words += ["fresh air, no flame", "candle vessels", "food", "planters", "edges", "safety data sheets"]
    assert [word for word in words if word not in section or word not in told] == []
