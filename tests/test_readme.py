"""What README and the docstrings print as Python runs as it stands."""

import doctest
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

import colormatch

README = (Path(__file__).resolve().parents[1] / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```python\n(.*?)```", README, re.DOTALL)


def test_there_is_something_to_run():
    assert BLOCKS


@pytest.mark.parametrize("block", BLOCKS, ids=range(len(BLOCKS)))
def test_the_readmes_python_runs_as_printed(block, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    exec(compile(block, "README.md", "exec"), {})
    assert capsys.readouterr().out


def modules():
    below = pkgutil.walk_packages(colormatch.__path__, "colormatch.")
    return [each.name for each in below if not re.search(r"\.(migrations|screens|demo_studio|app)\b", each.name)]


@pytest.mark.parametrize("name", modules())
def test_the_docstrings_examples_hold(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
