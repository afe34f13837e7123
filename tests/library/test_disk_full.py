"""No room left on the disk: a clear sentence, and the old state intact."""

import contextlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest
from examples import fill, fingerprint, png
from writers import save_within

from colormatch.library import (
    DiskFullError,
    Photograph,
    Swatch,
    backup,
    export_library,
    import_library,
    open_library,
)

SMALL_DISK = "size=12m"


@pytest.fixture
def small_disk():
    """A real file system of 12 MB in memory. Needs the right to mount, which root has outside most containers."""
    if shutil.which("mount") is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("mounting a small disk needs root; test_a_file_that_may_not_grow checks the same without")
    with tempfile.TemporaryDirectory() as folder:
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", SMALL_DISK, "tmpfs", folder], check=False)
        if mounted.returncode:
            pytest.skip("this container may not mount; test_a_file_that_may_not_grow checks the same without")
        try:
            yield Path(folder)
        finally:
            subprocess.run(["umount", "-l", folder], check=True)


def files_in(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def fill_the_disk(folder):
    """Leave no byte free."""
    with (folder / "ballast").open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"x" * 4096)


@pytest.mark.slow
def test_every_kind_of_writing_says_so_and_changes_nothing(small_disk, tmp_path):
    where = small_disk / "library"
    with open_library(where) as library:
        fill(library)
        before = fingerprint(library)
        zipped = export_library(library, tmp_path / "out.zip")
        with open_library(tmp_path / "other") as other:
            import_library(other, zipped)
            other.save_all([Swatch(name=f"more {i}", notes="x" * 5000) for i in range(300)])
            larger = export_library(other, tmp_path / "larger.zip")
        pot = library.get(Swatch, "pot-1")
        fill_the_disk(small_disk)
        held = files_in(where / "photographs")
        noise = os.urandom(300_000)
        attempts = [
            lambda: library.save_all([Swatch(name="new", notes="x" * 20_000) for _ in range(100)]),
            lambda: library.store_photograph(png() + noise),
            lambda: import_library(library, larger),
            lambda: backup(library, small_disk / "backup.zip"),
            lambda: export_library(library, small_disk / "out"),
            lambda: export_library(library, small_disk / "out.zip"),
        ]
        for attempt in attempts:
            with pytest.raises(DiskFullError, match=r"no room left.*nothing was changed"):
                attempt()
            assert fingerprint(library) == before
            assert library.check() == []
            assert files_in(where / "photographs") == held
        assert not any((small_disk / name).exists() for name in ("backup.zip", "out", "out.zip"))
        assert [path.name for path in small_disk.iterdir() if path.name.startswith(".")] == []
        (small_disk / "ballast").unlink()
        assert library.save(pot).version == 1  # and with room again, all goes on
        library.store_photograph(png(7))
    with open_library(where) as library:
        assert library.count(Photograph) == 2
        assert library.check() == []


def test_no_room_for_a_new_library(small_disk):
    fill_the_disk(small_disk)
    with pytest.raises(DiskFullError, match="no room left on the disk"):
        open_library(small_disk / "library")
    (small_disk / "ballast").unlink()
    with open_library(small_disk / "library") as library:
        assert library.check() == []


@pytest.mark.skipif(os.name == "nt", reason="Windows has no limit on the size of files")
def test_a_file_that_may_not_grow(tmp_path, processes):
    """The same without a mount: the system refuses every file of more than 600 kB to one process."""
    where = tmp_path / "library"
    with open_library(where) as library:
        fill(library)
        before = fingerprint(library)
    processes(save_within, [(where, 600_000)])
    with open_library(where) as library:
        kept = library.list(Swatch)
        assert [s for s in kept if not s.name.startswith("kept")] == before["swatch"]
        assert len(kept) > len(before["swatch"])
        assert library.check() == []
