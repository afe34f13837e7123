"""A backup of a library that lost most of what it held does not take the place of a good one unasked."""

from typer.testing import CliRunner

from colormatch.cli.program import app
from colormatch.library import SmallerBackupError, Swatch, backup, open_library


def test_far_less_asks_first(tmp_path):
    with open_library(tmp_path / "full") as full:
        full.save_all(Swatch(name=f"pot {i}") for i in range(9))
        good = backup(full, tmp_path / "b.zip").path
    open_library(tmp_path / "empty").close()
    command = ["library", "backup", str(good), "--force", "--library", str(tmp_path / "empty")]
    refused = CliRunner().invoke(app, command)
    assert isinstance(refused.exception, SmallerBackupError)
    assert "holds 9" in str(refused.exception)
    assert CliRunner().invoke(app, [*command, "--even-if-smaller"]).exit_code == 0
