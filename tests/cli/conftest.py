"""A command run as typed, in an empty folder with a library of its own."""

import pytest

from colormatch.cli import main
from colormatch.library import Cement, PigmentRecord, open_library
from colormatch.starter import starter_palette
from colormatch.workshop.shelf import set_defaults


@pytest.fixture
def run(tmp_path, capsys, monkeypatch):
    """Run a command in an empty folder with a library of its own; returns (status, out, err)."""
    monkeypatch.chdir(tmp_path)
    with open_library(tmp_path / "studio") as library:
        palette = starter_palette()
        library.save_all([Cement(uid=name, name=base.label) for name, base in palette.bases.items()])
        library.save_all([PigmentRecord(uid=name, name=each.label) for name, each in palette.pigments.items()])
        set_defaults(library, cement_uid="white-cement", scale_step_g=0.1)

    def call(*arguments, library=True):
        where = ["--library", str(tmp_path / "studio")] if library else []
        with pytest.raises(SystemExit, match=r"^\d$") as left:
            main([*arguments, *where])
        captured = capsys.readouterr()
        return left.value.code or 0, captured.out, captured.err

    return call
