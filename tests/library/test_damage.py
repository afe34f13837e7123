"""A library that was damaged, emptied, or lies on a disk that cannot be written: said in words, never taken for new."""

import errno
import os
import shutil
import sqlite3
from contextlib import closing

import pytest
import sqlalchemy as sa
from examples import fill, fingerprint, png

from colormatch.errors import LibraryError
from colormatch.library import (
    DiskFullError,
    Photograph,
    Studio,
    Swatch,
    TileRecord,
    backup,
    bin,
    database,
    export_library,
    open_library,
    restore,
    schema,
)


@pytest.fixture
def folder(tmp_path):
    with open_library(tmp_path / "studio") as library:
        fill(library)
    return tmp_path / "studio"


def test_an_emptied_file_is_damage_and_not_a_new_library(folder, tmp_path):
    (folder / "library.sqlite").write_bytes(b"")
    with pytest.raises(LibraryError, match=r"library\.sqlite is empty: this is damage.*latest backup"):
        open_library(folder)
    assert (folder / "library.sqlite").read_bytes() == b""
    alone = tmp_path / "alone"
    alone.mkdir()
    (alone / "library.sqlite").touch()
    with pytest.raises(LibraryError, match="is empty"):
        open_library(alone)


def test_photographs_without_their_library_are_not_a_new_library(folder, tmp_path):
    with open_library(folder) as library:
        whole = backup(library, tmp_path / "b.zip").path
        held = fingerprint(library)
    (folder / "library.sqlite").unlink()
    with pytest.raises(LibraryError, match="is gone, and its photographs are there"):
        open_library(folder)
    with restore(whole, folder) as library:  # restoring into that very folder is allowed
        assert fingerprint(library) == held


def test_scratched_pages_are_found_when_it_is_opened(folder):
    file = folder / "library.sqlite"
    content = bytearray(file.read_bytes())
    for place in range(8192, len(content) - 4096, 4096):
        content[place : place + 600] = b"\xa5" * 600
    file.write_bytes(content)
    with pytest.raises(LibraryError, match=r"damaged.*latest backup"):
        open_library(folder)


def test_one_damaged_value_is_named(folder):
    with closing(sqlite3.connect(folder / "library.sqlite")) as connection:
        connection.execute("UPDATE swatches SET made_on = 'soon' WHERE uid = 'pot-1'")
        connection.commit()
    with open_library(folder) as library, pytest.raises(LibraryError, match="The swatch 'pot-1' is damaged"):
        library.list(Swatch)


def test_what_is_not_allowed_any_more_is_named_and_can_be_binned(folder):
    with open_library(folder) as library:
        with library.database.writing() as connection:
            loads = schema.LINKS["tile", "loads"]
            connection.execute(sa.update(loads).where(loads.c.amount > 0).values(amount=0.5))
        ((tile, why),) = library.unsound()
        assert (tile.uid, tile.loads["red-iron-oxide"]) == ("tile-1", 0.5)
        assert "The loads of test tile tile-1: The load of red-iron-oxide is 0.5" in why
        assert any("0.5" in each and "put it in the bin" in each for each in library.check())
        corrected = TileRecord(uid="tile-1", version=tile.version, cement_uid=tile.cement_uid)
        library.save(corrected)
        assert library.unsound() == []


def test_a_damaged_photograph_is_healed_by_keeping_it_again(folder):
    with open_library(folder) as library:
        (photograph,) = library.list(Photograph)
        (file,) = (folder / "photographs").glob("??/*")
        file.write_bytes(b"x" * file.stat().st_size)
        with pytest.raises(LibraryError, match="is damaged"):
            library.photograph_bytes(photograph.uid)
        assert library.store_photograph(png(), file_name="=kiln.png").uid == photograph.uid
        assert library.photograph_bytes(photograph.uid) == png()


def test_a_library_on_a_disk_that_cannot_be_written_is_read_and_exported(folder, tmp_path, monkeypatch):
    with open_library(folder) as library:
        before = fingerprint(library)
    held = sorted(path.name for path in folder.iterdir())
    really = os.access  # a read-only mount answers no, to root too
    monkeypatch.setattr(
        database.os, "access", lambda path, mode: folder not in (path, path.parent) and really(path, mode)
    )
    with open_library(folder) as library:
        assert library.database.read_only
        assert fingerprint(library) == before
        export_library(library, tmp_path / "out.zip")
        backup(library, tmp_path / "b.zip")
        with pytest.raises(LibraryError, match="not on a read-only disk"):
            library.save(Swatch(name="new"))
    assert sorted(path.name for path in folder.iterdir()) == held


def test_the_bin_can_be_emptied_when_the_disk_is_full(folder, monkeypatch):
    """Removing rows needs room: it is got from thumbnails, and from photographs that were to go."""
    with open_library(folder) as library:
        gone, stays = library.store_photograph(png(5)), library.store_photograph(png(6))
        library.thumbnail_bytes(stays.uid)
        library.delete(gone)
        path = folder / "photographs" / gone.uid[:2] / gone.uid
        really = bin.empty

        def full(connection):
            if path.exists() or (folder / "thumbnails").exists():
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return really(connection)

        monkeypatch.setattr(bin, "empty", full)
        assert library.empty_bin() == 1
        assert library.photograph_bytes(stays.uid) == png(6)
        assert library.check() == []
        monkeypatch.setattr(bin, "empty", lambda connection: full_for_ever())
        with pytest.raises(DiskFullError, match="no room left on the disk"):
            library.empty_bin()


def full_for_ever():
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_the_folder_may_lie_on_a_disk_without_links(tmp_path, monkeypatch):
    def no_links(self, target):
        raise OSError(errno.EPERM, "no links here")

    monkeypatch.setattr(type(tmp_path), "hardlink_to", no_links)
    with open_library(tmp_path / "studio") as library:
        library.save(Swatch(name="kept"))
    with open_library(tmp_path / "studio") as library:
        assert [each.name for each in library.list(Swatch)] == ["kept"]
    shutil.rmtree(tmp_path / "studio")


def test_a_setting_that_is_no_number_stops_nothing(folder):
    with open_library(folder) as library:
        with library.database.writing() as connection:
            connection.execute(sa.update(schema.TABLES["studio"]).values(settings='{"load_cap": "much", "waste": 0.1}'))
        studio = library.get(Studio, "studio")
        assert (studio.number("load_cap", 0.05), studio.number("waste", 0.0)) == (0.05, 0.1)
        assert any(
            "The setting load_cap of the studio must be a number, not 'much'" in line for line in library.check()
        )
