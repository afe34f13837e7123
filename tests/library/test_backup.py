"""Backup and restore: everything comes back, from either database into either, and what is damaged is refused."""

import json
import shutil
import sqlite3
import zipfile
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from examples import fill, fingerprint, png
from writers import count_up

from colormatch.library import (
    BackupError,
    NewerLibraryError,
    Studio,
    Swatch,
    backup,
    open_library,
    records_in,
    restore,
    restore_into,
    schema,
)

OLD = Path(__file__).with_name("data") / "library-0001"


def lived_in(library):
    """Something of every kind, an edit and a full bin."""
    fill(library)
    library.save(replace(library.get(Swatch, "hostile-01"), notes="edited"))
    library.delete(library.get(Swatch, "hostile-02"))


def everything(library):
    """Records, their history, and the bin."""
    past = {(k, r.uid): library.history(r) for k, records in fingerprint(library).items() for r in records}
    return fingerprint(library), past, library.bin()


@pytest.mark.slow
@pytest.mark.parametrize("into", ["folder", "same kind"])
def test_everything_comes_back(library, database, tmp_path, into):
    lived_in(library)
    report = backup(library, tmp_path / "backups" / "monday.zip")
    assert report.photographs == 1
    assert report.size_bytes == report.path.stat().st_size
    where = tmp_path / "restored" if into == "folder" else database()
    with restore(report.path, where) as restored:
        assert everything(restored) == everything(library)
        assert restored.check() == []
        assert restored.photograph_bytes(library.get(Swatch, "pot-1").photographs[0]) == png()
        restored.save(Swatch(name="and it can be written"))
    assert [p.name for p in (tmp_path / "backups").iterdir()] == ["monday.zip"]


@pytest.mark.postgres
def test_a_folder_can_move_to_a_server_and_back(sqlite_library, places, tmp_path):
    lived_in(sqlite_library)
    first = backup(sqlite_library, tmp_path / "one.zip").path
    with restore(first, places.empty()) as moved:
        assert everything(moved) == everything(sqlite_library)
        with restore(backup(moved, tmp_path / "two.zip").path, tmp_path / "home") as home:
            assert everything(home) == everything(sqlite_library)


def test_a_place_that_is_taken_is_left_alone(library, database, tmp_path):
    lived_in(library)
    path = backup(library, tmp_path / "b.zip").path
    where = database()
    with open_library(where) as other:
        mine = other.save(Swatch(name="mine"))
        with pytest.raises(BackupError, match=r"is a library in .* already|is not empty"):
            restore(path, where)
        assert other.list(Swatch) == [mine]


@pytest.mark.slow
def test_a_backup_while_others_write_is_of_one_moment(database, processes, tmp_path):
    where = database()
    with open_library(where) as library:
        library.save(Studio(name="counter", settings={"n": 0}))
        from writers import PROCESSES

        writers = [PROCESSES.Process(target=count_up, args=(where, 30)) for _ in range(3)]
        for writer in writers:
            writer.start()
        paths = [backup(library, tmp_path / f"{i}.zip").path for i in range(4)]
        for writer in writers:
            writer.join()
            assert writer.exitcode == 0
        assert library.get(Studio, "studio").settings == {"n": 90}
    for i, path in enumerate(paths):
        with restore(path, tmp_path / f"restored-{i}") as restored:
            studio = restored.get(Studio, "studio")
            assert studio.version == studio.settings["n"] + 1 == len(restored.history(studio))


def test_a_failed_backup_leaves_the_older_one(sqlite_library, tmp_path):
    lived_in(sqlite_library)
    path = backup(sqlite_library, tmp_path / "b.zip").path
    before = path.read_bytes()
    photograph = next((sqlite_library.folder / "photographs").glob("*/*"))
    photograph.write_bytes(b"scratched")
    with pytest.raises(Exception, match="is damaged"):
        backup(sqlite_library, path)
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["b.zip", "library"]
    with pytest.raises(BackupError, match="is a folder"):
        backup(sqlite_library, tmp_path)


def test_a_backup_replaces_an_older_one_and_nothing_else(sqlite_library, tmp_path):
    letter = tmp_path / "letter"
    letter.write_text("dear")
    with pytest.raises(BackupError, match="not an earlier backup"):
        backup(sqlite_library, letter)
    assert letter.read_text() == "dear"
    older = backup(sqlite_library, tmp_path / "b.zip")
    lived_in(sqlite_library)
    assert backup(sqlite_library, older.path).records > older.records


@pytest.fixture
def good(sqlite_library, tmp_path):
    lived_in(sqlite_library)
    return backup(sqlite_library, tmp_path / "good.zip").path


def rewritten(good, change):
    """The backup with its parts changed by a function: dict name -> bytes."""
    with zipfile.ZipFile(good) as source:
        parts = {name: source.read(name) for name in source.namelist()}
    change(parts)
    bad = good.with_name("bad.zip")
    with zipfile.ZipFile(bad, "w") as target:
        for name, content in parts.items():
            target.writestr(name, content)
    return bad


def test_damage_is_found_before_anything_is_restored(good, tmp_path):
    def drop_photograph(parts):
        del parts[next(name for name in parts if name.startswith("photographs"))]

    def scratch(parts):
        parts["library.sqlite"] = parts["library.sqlite"][:5000] + b"\xaa" * 200 + parts["library.sqlite"][5200:]

    def wrong_counts(parts):
        contents = json.loads(parts["contents.json"])
        contents["records"]["swatches"] += 1
        parts["contents.json"] = json.dumps(contents).encode()

    def outside(parts):
        contents = json.loads(parts["contents.json"])
        contents["sha256"]["../evil"] = "0" * 64
        parts["contents.json"] = json.dumps(contents).encode()
        parts["../evil"] = b""

    def no_contents(parts):
        del parts["contents.json"]

    def extra(parts):
        parts["extra"] = b"x"

    for change in (drop_photograph, scratch, wrong_counts, outside, no_contents, extra):
        with pytest.raises(BackupError, match="Use another backup"):
            restore(rewritten(good, change), tmp_path / "restored")
        assert not (tmp_path / "restored").exists(), change
    for content in (b"", b"not a zip", good.read_bytes()[:-100]):
        bad = tmp_path / "bad.zip"
        bad.write_bytes(content)
        with pytest.raises(BackupError, match="not a backup, or is damaged"):
            restore(bad, tmp_path / "restored")
    with pytest.raises(BackupError, match="There is no file"):
        restore(tmp_path / "nowhere.zip", tmp_path / "restored")


def packed(folder, path):
    """A backup of a SQLite library as it stands, made by hand."""
    from colormatch.library.files import sha256_of

    with closing(sqlite3.connect(folder / "library.sqlite")) as rows:
        photographs = [uid for (uid,) in rows.execute("SELECT uid FROM photographs")]
    content = (folder / "library.sqlite").read_bytes()
    sums = {"library.sqlite": sha256_of(content)} | {f"photographs/{each}": each for each in photographs}
    with zipfile.ZipFile(path, "w") as target:
        target.writestr("library.sqlite", content)
        target.writestr("contents.json", json.dumps({"records": {}, "sha256": sums}))
        for each in photographs:
            target.write(folder / "photographs" / each[:2] / each, f"photographs/{each}")
    return path


@pytest.mark.slow
def test_a_backup_of_an_older_version_is_brought_up_to_date(tmp_path, places):
    old = packed(OLD, tmp_path / "old.zip")
    with restore(old, tmp_path / "restored") as restored, open_library(places.with_tables()) as fresh:
        fill(fresh)
        assert restored.count(Swatch) == fresh.count(Swatch) - 1  # one is in its bin
        assert restored.check() == []
    with restore(old, places.empty()) as restored:
        assert restored.count(Swatch) > 10
        assert restored.check() == []


def test_a_backup_of_a_newer_version_is_refused(tmp_path):
    newer = Path(shutil.copytree(OLD, tmp_path / "newer"))
    with closing(sqlite3.connect(newer / "library.sqlite")) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()
    with pytest.raises(NewerLibraryError, match=f"knows up to {schema.HEAD}"):
        restore(packed(newer, tmp_path / "newer.zip"), tmp_path / "restored")


@pytest.mark.slow
def test_restoring_into_a_library_in_use_keeps_what_is_there_aside(library, tmp_path):
    lived_in(library)
    then = everything(library)
    file = backup(library, tmp_path / "then.zip").path
    library.save(replace(library.get(Swatch, "hostile-01"), notes="edited again"))
    library.save(Swatch(uid="later", name="Later"))
    library.empty_bin()
    later = everything(library)
    report = restore_into(library, file, tmp_path / "aside.zip")
    assert everything(library) == then
    assert library.check() == []
    assert report.path == tmp_path / "aside.zip"
    restore_into(library, report.path, tmp_path / "aside-2.zip")
    assert everything(library) == later
    assert library.check() == []


def test_restoring_a_damaged_backup_changes_nothing(library, tmp_path):
    lived_in(library)
    before = everything(library)
    file = backup(library, tmp_path / "then.zip").path
    file.write_bytes(file.read_bytes()[:-400])
    with pytest.raises(BackupError, match="is not a backup, or is damaged"):
        restore_into(library, file, tmp_path / "aside.zip")
    assert everything(library) == before
    assert not (tmp_path / "aside.zip").exists()


@pytest.mark.slow
def test_what_cannot_be_kept_aside_is_not_replaced(library, tmp_path):
    lived_in(library)
    file = backup(library, tmp_path / "then.zip").path
    library.save(Swatch(uid="later", name="Later"))
    before = everything(library)
    (tmp_path / "aside.zip").mkdir()
    with pytest.raises(BackupError, match="is a folder"):
        restore_into(library, file, tmp_path / "aside.zip")
    assert everything(library) == before


def test_what_is_kept_aside_goes_over_no_backup(library, tmp_path):
    lived_in(library)
    file = backup(library, tmp_path / "then.zip").path
    before, content = everything(library), file.read_bytes()
    with pytest.raises(BackupError, match="there already"):
        restore_into(library, file, file)
    assert everything(library) == before
    assert file.read_bytes() == content


def test_a_backup_that_is_not_there_is_not_called_damaged(library, tmp_path):
    with pytest.raises(BackupError, match="There is no file"):
        restore_into(library, tmp_path / "nowhere.zip", tmp_path / "aside.zip")


def test_a_backup_says_what_is_in_it_without_its_bin(library, tmp_path):
    lived_in(library)
    counts = records_in(backup(library, tmp_path / "then.zip").path)
    assert counts["swatch"] == library.count(Swatch)
    assert counts["studio"] == library.count(Studio)
