"""Long work that is cancelled, at whatever step, has changed nothing."""

import pytest
from examples import fill, fingerprint

from colormatch.library import backup, export_library, import_library, open_library, restore_into


class Enough(Exception):
    pass


def until(step):
    """A progress that ends the work at its step-th call; and the shares it was told."""
    told = []

    def progress(share):
        told.append(share)
        if len(told) == step:
            raise Enough(f"at step {step}")

    return progress, told


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    """An export and a backup of a library with something of every kind."""
    folder = tmp_path_factory.mktemp("packed")
    with open_library(folder / "from") as library:
        fill(library)
        export_library(library, folder / "out.zip")
        backup(library, folder / "backup.zip")
    return folder


def works(packed, folder):
    return {
        "import": lambda library, progress: import_library(library, packed / "out.zip", progress=progress),
        "export": lambda library, progress: export_library(library, folder / "out.zip", progress=progress),
        "backup": lambda library, progress: backup(library, folder / "backup.zip", progress=progress),
        "restore": lambda library, progress: restore_into(
            library, packed / "backup.zip", folder / "aside.zip", even_if_smaller=True, progress=progress
        ),
    }


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["import", "export", "backup", "restore"])
def test_cancelled_at_any_step_everything_is_as_it_was(kind, packed, sqlite_library, tmp_path):
    work = works(packed, tmp_path)[kind]
    before = fingerprint(sqlite_library)
    _, told = progress_of_all = until(0)
    with open_library(tmp_path / "trial") as trial:
        work(trial, progress_of_all[0])
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)
    for file in tmp_path.glob("*.zip"):
        file.unlink()
    for step in range(1, len(told) + 1):
        with pytest.raises(Enough, match=f"^at step {step}$"):
            work(sqlite_library, until(step)[0])
        assert fingerprint(sqlite_library) == before, step
        assert sqlite_library.check() == []
        assert not (tmp_path / "out.zip").exists()
        assert not (tmp_path / "backup.zip").exists()
        (tmp_path / "aside.zip").unlink(missing_ok=True)  # a copy, no change
    assert not list(tmp_path.glob(".part-*"))
