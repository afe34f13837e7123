"""Backup and restore: everything, with history, bin and photographs, in one file, read back and verified.

A backup is a zip of a SQLite library and its photographs, whichever database it came from, so a backup of a
library on a server can be restored into a folder and the other way round.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from ..errors import LibraryError
from .archive import zip_holds
from .database import FILE_NAME, Database, sqlite_url
from .errors import BackupError
from .files import flush_folder, sha256_of
from .schema import metadata
from .schema import photograph_files as in_table
from .store import Library, open_library

_CONTENTS = "contents.json"
_CHUNK = 500


@dataclass(frozen=True, slots=True)
class BackupReport:
    """Where the backup is, and what was found in it when it was read back."""

    path: Path
    records: int
    photographs: int
    size_bytes: int


def backup(library: Library, path: str | Path) -> BackupReport:
    """Write a backup file (a zip) and verify it; only a verified one replaces an older backup of that name.

    Raises BackupError if what was written cannot be read back as it should be, DiskFullError, LibraryError.
    """
    path = Path(path)
    if path.is_dir():
        raise BackupError(f"{path} is a folder; give the name of a file, such as {path / 'backup.zip'}.")
    if path.exists() and not zip_holds(path, _CONTENTS):
        raise BackupError(f"{path} is there already and is not an earlier backup. Choose another name.")
    with library.database.translated(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".part-") as folder:
            copy, packed = Path(folder) / FILE_NAME, Path(folder) / "backup.zip"
            _copy_out(library, copy)
            _pack(library, copy, packed)
            records, photographs = verify(packed)
            packed.replace(path)
        flush_folder(path.parent)
    return BackupReport(path, records, photographs, path.stat().st_size)


def restore(path: str | Path, location: str | Path) -> Library:
    """Make a library from a backup, at a place where there is none yet, and open it.

    location: a folder or a PostgreSQL URL, as for open_library. A backup of an older version is brought up to
    date. Raises BackupError for a damaged backup or a place that is taken, NewerLibraryError.
    """
    path = Path(path)
    verify(path)
    if isinstance(location, str) and "://" in location:
        return _restore_to_server(path, location)
    folder = Path(location)
    if (folder / FILE_NAME).exists():
        raise BackupError(f"There is a library in {folder} already. Restore into a new folder, or move that one away.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with zipfile.ZipFile(path) as packed, _unpacked(path, folder) as copy:
            for name in _photographs_in(packed):
                target = folder / "photographs" / name[:2] / name
                target.parent.mkdir(parents=True, exist_ok=True)
                with packed.open(f"photographs/{name}") as source, target.open("wb") as file:
                    shutil.copyfileobj(source, file)
            copy.replace(folder / FILE_NAME)  # last: without it there is no library here
    except OSError as error:
        raise BackupError(
            f"{folder} could not be written ({error.strerror}). Free some space, or choose another."
        ) from error
    return open_library(folder)


def _copy_out(library: Library, file: Path) -> None:
    if library.database.is_sqlite:
        library.database.copy_to(file)
        return
    with _opened(file) as target, library.database.reading() as source, target.writing() as out:
        copy_rows(source, out)


def _restore_to_server(path: Path, url: str) -> Library:
    library = open_library(url)
    try:
        with contents(path) as (packed, rows), library.database.writing() as out:
            if any(out.execute(sa.select(table).limit(1)).first() for table in metadata.sorted_tables):
                raise BackupError(f"{library.database.where} is not empty. Restore into an empty database.")
            copy_rows(rows, out)
            put_photographs(library, packed, out)
    except BaseException:
        library.close()
        raise
    return library


@contextmanager
def contents(path: Path) -> Iterator[tuple[zipfile.ZipFile, sa.Connection]]:
    """The files and the rows of a backup that `verify` has read; NewerLibraryError for one of a newer version."""
    with (
        tempfile.TemporaryDirectory() as folder,
        zipfile.ZipFile(path) as packed,
        _unpacked(path, Path(folder)) as copy,
        _opened(copy) as source,
        source.reading() as rows,
    ):
        yield packed, rows


def put_photographs(library: Library, packed: zipfile.ZipFile, out: sa.Connection) -> None:
    """Keep every photograph of a backup in a library."""
    for name in _photographs_in(packed):
        library.photographs.put(out, name, packed.read(f"photographs/{name}"))


def copy_rows(source: sa.Connection, out: sa.Connection) -> None:
    """Every row of every table but the photographs' own, those pointed at first."""
    for table in metadata.sorted_tables:
        if table is in_table:
            continue
        result = source.execution_options(yield_per=_CHUNK).execute(sa.select(table)).mappings()
        for rows in result.partitions(_CHUNK):
            out.execute(sa.insert(table), [dict(row) for row in rows])


def _pack(library: Library, copy: Path, packed: Path) -> None:
    """The zip: the database, the photographs it names, and what is in it."""
    counts, photographs = _inspect(copy)
    sums = {FILE_NAME: sha256_of(copy.read_bytes())}
    with packed.open("wb") as file:
        with zipfile.ZipFile(file, "w") as archive, library.database.reading() as connection:
            archive.write(copy, FILE_NAME, compress_type=zipfile.ZIP_DEFLATED)
            for sha256 in photographs:
                archive.writestr(f"photographs/{sha256}", library.photographs.get(connection, sha256))
                sums[f"photographs/{sha256}"] = sha256
            archive.writestr(_CONTENTS, json.dumps({"records": counts, "sha256": sums}, indent=1))
        file.flush()
        os.fsync(file.fileno())


def verify(path: Path) -> tuple[int, int]:
    """Read a backup from end to end; (records, photographs) in it, or BackupError."""
    if not path.is_file():
        raise BackupError(f"There is no file {path}. Check the name of the backup and where it is.")
    try:
        with zipfile.ZipFile(path) as packed:
            contents = json.loads(packed.read(_CONTENTS))
            sums, counts = dict(contents["sha256"]), dict(contents["records"])
            if set(packed.namelist()) != {*sums, _CONTENTS}:
                raise BackupError(f"{path} does not hold the files it should. Use another backup.")
            for name, expected in sums.items():
                own = name == FILE_NAME or name == f"photographs/{expected}"
                if not own or sha256_of(packed.read(name)) != expected:
                    raise BackupError(f"{name[:80]} in {path} is damaged. Use another backup.")
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError, RuntimeError, EOFError) as error:
        if isinstance(error, LibraryError):
            raise
        raise BackupError(f"{path} is not a backup, or is damaged ({error}). Use another backup.") from error
    with tempfile.TemporaryDirectory() as folder, _unpacked(path, Path(folder)) as copy:
        found, photographs = _inspect(copy)
    if found != counts or {f"photographs/{each}" for each in photographs} != set(sums) - {FILE_NAME}:
        raise BackupError(f"The library in {path} does not hold what the backup says it does. Use another backup.")
    return sum(found.values()), len(photographs)


def _inspect(file: Path) -> tuple[dict[str, int], list[str]]:
    """(rows per table, sha256 of the photographs) of a SQLite library of any version that is whole."""
    try:
        with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as connection:
            connection.execute("PRAGMA trusted_schema=OFF")
            pages = connection.execute("PRAGMA integrity_check").fetchall()
            if pages != [("ok",)] or connection.execute("PRAGMA foreign_key_check").fetchall():
                raise BackupError("The database in the backup is damaged. Use another backup.")
            names = [
                n for (n,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
            ]
            own = [name for name in names if name in metadata.tables]
            counts = {name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in own}
            photographs = [uid for (uid,) in connection.execute("SELECT uid FROM photographs ORDER BY uid")]
    except sqlite3.Error as error:
        raise BackupError(f"The database in the backup cannot be read ({error}). Use another backup.") from error
    return counts, photographs


@contextmanager
def _unpacked(path: Path, folder: Path) -> Iterator[Path]:
    """The database of a backup as a file in a folder of its own, until it is moved or the block ends."""
    with tempfile.TemporaryDirectory(dir=folder, prefix=".part-") as temporary:
        copy = Path(temporary) / FILE_NAME
        with zipfile.ZipFile(path) as packed, packed.open(FILE_NAME) as source, copy.open("wb") as file:
            shutil.copyfileobj(source, file)
            file.flush()
            os.fsync(file.fileno())
        yield copy


@contextmanager
def _opened(file: Path) -> Iterator[Database]:
    database = Database(sqlite_url(file))
    try:
        database.prepare()
        yield database
    finally:
        database.close()
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it


def _photographs_in(packed: zipfile.ZipFile) -> list[str]:
    """The sha256 of the photographs; verify has seen that each file is what its name says."""
    return [name.removeprefix("photographs/") for name in packed.namelist() if name.startswith("photographs/")]
