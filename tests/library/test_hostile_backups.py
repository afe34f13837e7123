"""Backups that anyone may have made or a disk have damaged: refused in words, in little time and memory, or whole."""

import json
import os
import random
import sqlite3
import time
import zipfile
from contextlib import closing
from dataclasses import replace

import pytest
from examples import fill, fingerprint
from measuring import in_a_process

from colormatch.errors import LibraryError
from colormatch.library import (
    BackupError,
    SmallerBackupError,
    Swatch,
    backup,
    open_library,
    records_in,
    restore,
    restore_into,
)
from colormatch.library.files import sha256_of


@pytest.fixture
def good(sqlite_library, tmp_path):
    fill(sqlite_library)
    return backup(sqlite_library, tmp_path / "good.zip").path


@pytest.fixture
def altered(good, tmp_path):
    """The backup with its database changed by SQL, and everything else as it should be."""

    def make(*statements, arguments=()):
        with zipfile.ZipFile(good) as source:
            parts = {name: source.read(name) for name in source.namelist()}
        file = tmp_path / "altered.sqlite"
        file.write_bytes(parts["library.sqlite"])
        with closing(sqlite3.connect(file)) as connection:
            for statement in statements:
                connection.execute(statement, arguments)
            connection.commit()
        contents = json.loads(parts["contents.json"])
        contents["sha256"]["library.sqlite"] = sha256_of(file.read_bytes())
        contents["records"] = {}
        parts |= {"library.sqlite": file.read_bytes(), "contents.json": json.dumps(contents).encode()}
        bad = tmp_path / "bad.zip"
        with zipfile.ZipFile(bad, "w") as target:
            for name, content in parts.items():
                target.writestr(name, content, zipfile.ZIP_DEFLATED)
        return bad

    return make


@pytest.mark.slow
@pytest.mark.parametrize(
    ("statements", "sentence"),
    [
        (["CREATE TRIGGER t AFTER DELETE ON swatches BEGIN DELETE FROM shades; END"], "holds a trigger 't'"),
        (["CREATE VIEW pots AS SELECT * FROM swatches"], "holds a view 'pots'"),
        (["CREATE VIRTUAL TABLE words USING fts5(x)"], "holds a table 'words'"),
        (["UPDATE swatches SET made_on = 'the 3rd of never'"], "cannot be read: The swatch .* is damaged"),
        (["UPDATE batches SET content = '{'"], "The batch .* is damaged"),
        (["UPDATE drying_weights SET mass_g = 'heavy'"], "The mass_g 'heavy' in the drying_weights"),
        (["UPDATE swatches SET name = x'00'"], "The name b'.x00' in the swatches"),
        (["INSERT INTO history VALUES ('swatch', 'pot-1', 1, '', '[1]')"], "Version 1 of the swatch 'pot-1'"),
        (["INSERT INTO history VALUES ('elephant', 'pot-1', 1, '', '{}')"], "The backup holds what cannot be read"),
        (["PRAGMA foreign_keys = OFF", "DELETE FROM cements"], "should|do not fit together"),
        (["ALTER TABLE swatches RENAME COLUMN notes TO remarks"], "no such column: swatches.notes"),
        (["UPDATE alembic_version SET version_num = 'none'"], "newer version"),
        (["DROP TABLE alembic_version"], "no such table"),
        (["DROP TABLE photographs"], "no such table"),
    ],
)  # fmt: skip
def test_what_no_library_holds_is_refused(altered, sqlite_library, tmp_path, statements, sentence):
    before = fingerprint(sqlite_library)
    bad = altered(*statements)
    for attempt in (
        lambda: restore(bad, tmp_path / "restored"),
        lambda: restore_into(sqlite_library, bad, tmp_path / "aside.zip"),
        lambda: records_in(bad),
    ):
        with pytest.raises(LibraryError, match=sentence):
            attempt()
    assert not (tmp_path / "restored").exists()
    assert not (tmp_path / "aside.zip").exists()
    assert fingerprint(sqlite_library) == before


def test_a_view_in_place_of_a_table_ends(altered, tmp_path):
    endless = "WITH RECURSIVE n(uid) AS (SELECT 'a' UNION ALL SELECT uid FROM n) SELECT uid FROM n"
    with pytest.raises(BackupError, match="holds a view 'defects'"):
        records_in(altered("DROP TABLE defects", f"CREATE VIEW defects AS {endless}"))


def test_what_is_over_a_limit_of_today_comes_back_all_the_same(altered, tmp_path):
    """A load of 0.5 was allowed once; it is not for a backup to lose it."""
    with restore(altered("UPDATE tiles_loads SET amount = 0.5 WHERE amount > 0"), tmp_path / "restored") as restored:
        assert "0.5" in "\n".join(restored.check())


@pytest.mark.slow
def test_a_bomb_is_refused_by_what_it_says(good, tmp_path):
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(bad, "w") as target, target.open("library.sqlite", "w") as part:
        for _ in range(300):
            part.write(bytes(2**20))
    with zipfile.ZipFile(bad, "a") as target:
        target.writestr("contents.json", json.dumps({"records": {}, "sha256": {"library.sqlite": ""}}))
    repacked = tmp_path / "repacked.zip"
    with zipfile.ZipFile(bad) as source, zipfile.ZipFile(repacked, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            target.writestr(name, source.read(name))
    bad.unlink()
    with pytest.raises(BackupError, match="would swell"):
        records_in(repacked)


def test_a_way_of_packing_that_no_backup_uses_is_refused(good, tmp_path):
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(tmp_path / "bad.zip", "w", zipfile.ZIP_LZMA) as target:
        for name in source.namelist():
            target.writestr(name, source.read(name))
    with pytest.raises(BackupError, match="packed in a way that no export uses"):
        records_in(tmp_path / "bad.zip")


@pytest.mark.slow
def test_far_less_than_what_it_would_replace_asks_first(sqlite_library, good, tmp_path):
    with open_library(tmp_path / "new") as new:
        new.save(Swatch(name="only one"))
        few = backup(new, tmp_path / "few.zip").path
        before = good.read_bytes()
        with pytest.raises(SmallerBackupError, match=r"holds 1 records; the backup .*good\.zip, which it replaces"):
            backup(new, good)
        assert good.read_bytes() == before
        backup(new, good, even_if_smaller=True)
    held = fingerprint(sqlite_library)
    with pytest.raises(SmallerBackupError, match="the library, which it replaces, holds"):
        restore_into(sqlite_library, few, tmp_path / "aside.zip")
    assert fingerprint(sqlite_library) == held
    restore_into(sqlite_library, few, tmp_path / "aside.zip", even_if_smaller=True)
    assert [each.name for each in sqlite_library.list(Swatch)] == ["only one"]


def test_a_day_of_work_is_not_far_less(sqlite_library, good, tmp_path):
    pot = sqlite_library.get(Swatch, "pot-1")
    sqlite_library.save(replace(pot, notes="since then"))
    sqlite_library.save_all(Swatch(name=f"new {i}") for i in range(20))
    restore_into(sqlite_library, good, tmp_path / "aside.zip")
    assert sqlite_library.get(Swatch, "pot-1").notes == pot.notes


def test_what_a_kill_left_beside_backups_is_swept_away_once_it_is_old(sqlite_library, tmp_path):
    folder = tmp_path / "backups"
    for name, age_days in ((".part-old", 2), (".part-now", 0)):
        (folder / name).mkdir(parents=True)
        (folder / name / "library.sqlite").write_bytes(b"x")
        moment = time.time() - age_days * 86_400
        os.utime(folder / name, (moment, moment))
    (folder / "letter").write_text("dear")
    backup(sqlite_library, folder / "b.zip")
    assert sorted(path.name for path in folder.iterdir()) == [".part-now", "b.zip", "letter"]


def damaged(content, rng):
    """The bytes with a part cut off, scratched, doubled or turned over."""
    place, length = rng.randrange(len(content)), rng.choice([1, 1, 4, 100, 5000])
    match rng.randrange(4):
        case 0:
            return content[:place]
        case 1:
            return content[:place] + bytes(b ^ 85 for b in content[place : place + length]) + content[place + length :]
        case 2:
            return content[:place] + content[place : place + length] * 2 + content[place + length :]
    return content[:place] + rng.randbytes(length) + content[place + length :]


def try_damaged(path, folder, tries, seed):
    """The sentences that damaged backups were refused with; anything but a sentence is raised."""
    rng, content, sentences = random.Random(seed), path.read_bytes(), []
    bad = folder / "bad.zip"
    for _ in range(tries):
        bad.write_bytes(damaged(content, rng))
        try:
            records_in(bad)
        except LibraryError as error:
            sentences.append(str(error))
    return sentences


def test_damaged_backups_are_refused_in_words(good, tmp_path):
    sentences = try_damaged(good, tmp_path, 30, seed=1)
    assert len(sentences) >= 25  # a date or rights in a zip may be scratched without harm
    assert max(map(len, sentences)) < 1000


@pytest.mark.measure
def test_300_damaged_backups_take_little_time_and_memory(good, tmp_path, figure):
    sentences, seconds, gigabytes = in_a_process(try_damaged, good, tmp_path, 300, 7)
    told = f"{len(sentences)} refused in a sentence, the others read; {seconds:.0f} s in all"
    figure("trust.backups", "300 damaged backups: most memory", gigabytes, "GB", target="<= 1", beside=told)
    assert len(sentences) > 250
    assert gigabytes < 1
