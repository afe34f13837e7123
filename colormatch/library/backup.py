"""Backup: everything, with history, bin and photographs, in one file, read back before it counts as written.

A backup is a zip of a SQLite library and its photographs, whichever database it came from, so a backup of a library
on a server can be restored into a folder and the other way round. It is never adopted as it stands, as it may come from
anyone: `reading` copies it row by row, checked, into tables of our own making.
"""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
import time
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from ..errors import LibraryError
from .archive import FolderSource, Source, opened, zip_holds
from .database import FILE_NAME, Database, migrate, sqlite_url
from .errors import BackupError, ExchangeError, SmallerBackupError
from .files import MOST_BYTES, flush_folder, sha256_of, sweep_parts
from .history import versions
from .progress import Progress, part, quiet
from .records import KINDS
from .rows import read_records
from .schema import HEAD, TABLES, metadata
from .schema import history as past
from .schema import photograph_files as in_table
from .store import Library
from .values import short

CONTENTS = "contents.json"
CHUNK = 500  # rows at a time
# Reading a damaged or malicious database ends after this long, and a second more for each 10 MB; a sound one of 100 000
# swatches takes a tenth of it.
_SECONDS = 10.0


@dataclass(frozen=True, slots=True)
class BackupReport:
    """Where the backup is, and what was found in it when it was read back."""

    path: Path
    records: int
    photographs: int
    size_bytes: int


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was read from end to end and found whole: its photographs, and its rows in the present tables."""

    source: Source
    database: Database
    photographs: list[str]

    def counts(self) -> dict[str, int]:
        """Kind -> how many records, without the bin."""
        with self.database.reading() as rows:
            return {kind: _count(rows, table, table.c.binned_at.is_(None)) for kind, table in TABLES.items()}

    def photograph(self, sha256: str) -> bytes:
        """The file of a photograph."""
        return self.source.read(f"photographs/{sha256}", MOST_BYTES)


def backup(
    library: Library, path: str | Path, *, even_if_smaller: bool = False, progress: Progress = quiet
) -> BackupReport:
    """Write a backup file (a zip) and read it back; only then does it replace an older backup of that name.

    Raises SmallerBackupError where it would replace one that holds far more, unless even_if_smaller; BackupError if
    what was written cannot be read back as it should be; DiskFullError, LibraryError.
    """
    path = Path(path)
    if path.is_dir():
        raise BackupError(f"{path} is a folder; give the name of a file, such as {path / 'backup.zip'}.")
    if path.exists() and not zip_holds(path, CONTENTS):
        raise BackupError(f"{path} is there already and is not an earlier backup. Choose another name.")
    with library.database.translated(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        sweep_parts(path.parent)
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".part-") as folder:
            copy, packed = Path(folder) / FILE_NAME, Path(folder) / "backup.zip"
            counts = _copy_out(library, copy)
            if path.exists() and not even_if_smaller:
                require_not_far_fewer(sum(counts.values()), _records_in(path), f"the backup {path}, which it replaces,")
            _pack(library, copy, counts, packed, part(progress, 0.1, 0.5))
            with reading(packed, part(progress, 0.5, 1.0)) as written:
                report = BackupReport(path, sum(counts.values()), len(written.photographs), packed.stat().st_size)
            packed.replace(path)
        flush_folder(path.parent)
    return report


def require_not_far_fewer(comes: int, there: int, what: str) -> None:
    """Raise SmallerBackupError when less than half of the records that are there would be left."""
    if 2 * comes < there:  # a judgement: what a day's work may take away is far less than half
        raise SmallerBackupError(
            f"It holds {comes} records; {what} holds {there}. If that is what you want, say that it may be smaller; "
            "if not, look for the library or the backup that you mean."
        )


@contextmanager
def reading(path: Path, progress: Progress = quiet) -> Iterator[Backup]:
    """A backup, read from end to end; BackupError when it is damaged, NewerLibraryError for one of a newer version."""
    if not path.is_file():
        raise BackupError(f"There is no file {path}. Check the name of the backup and where it is.")
    with tempfile.TemporaryDirectory() as folder:
        try:
            with opened(path, CONTENTS) as source:
                kept = Path(folder) / "kept.sqlite"
                photographs, counts = _checked_files(path, source, kept, progress)
                with closing(Database(sqlite_url(Path(folder) / FILE_NAME))) as fresh:
                    _copy_in(kept, fresh)
                    _require_sound(fresh, photographs, counts)
                    progress(1.0)
                    yield Backup(source, fresh, sorted(photographs))
        except ExchangeError as error:
            raise BackupError(
                f"{path} is not a backup, or is damaged: {error} Use another backup; an exported library is imported, "
                "not restored."
            ) from error


def _checked_files(path: Path, source: Source, kept: Path, progress: Progress) -> tuple[set[str], dict[str, int]]:
    """The sha256 of the photographs and the rows per table, when the files are those a backup says it holds.

    kept: where the database is then put.
    """
    try:
        contents = json.loads(source.read(CONTENTS))
        sums, counts = dict(contents["sha256"]), dict(contents["records"])
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise BackupError(f"{path} is not a backup, or is damaged ({error}). Use another backup.") from error
    if isinstance(source, FolderSource) or set(source.names) != {*sums, CONTENTS} or FILE_NAME not in sums:
        raise BackupError(f"{path} does not hold the files it should. Use another backup.")
    source.unpack(FILE_NAME, kept)
    photographs = {str(expected) for name, expected in sums.items() if name != FILE_NAME}
    for number, (name, expected) in enumerate(sums.items()):
        progress(0.7 * number / len(sums))
        if name == FILE_NAME:
            found = sha256_of(kept.read_bytes())
        else:
            found = sha256_of(source.read(name, MOST_BYTES)) if name == f"photographs/{expected}" else ""
        if found != expected:
            raise BackupError(f"{name[:80]} in {path} is damaged. Use another backup.")
    return photographs, counts


def _copy_in(kept: Path, fresh: Database) -> None:
    """The rows of a database of any version, made by anyone, into fresh tables, brought up to date."""
    deadline = time.monotonic() + _SECONDS + kept.stat().st_size / 10e6
    with _readable(), closing(sqlite3.connect(f"{kept.as_uri()}?mode=ro&immutable=1", uri=True)) as source:
        source.execute("PRAGMA trusted_schema=OFF")
        source.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 2 * MOST_BYTES)
        source.set_progress_handler(lambda: time.monotonic() > deadline, 10_000)
        strange = source.execute(
            "SELECT type, name FROM sqlite_master WHERE type NOT IN ('table', 'index') OR sql LIKE 'CREATE VIRTUAL%'"
        ).fetchone()
        if strange:
            raise BackupError(f"The backup holds a {strange[0]} {short(strange[1])}, which no library does.")
        if source.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
            raise BackupError("The database in the backup is damaged. Use another backup.")
        (version,) = source.execute("SELECT version_num FROM alembic_version").fetchone() or ("none",)
        with fresh.writing() as out, _readable():
            migrate(out, fresh.require_known(str(version)))
            tables = metadata if version == HEAD else sa.MetaData()
            if version != HEAD:
                tables.reflect(out)
            for table in tables.sorted_tables:
                if table.name not in ("alembic_version", in_table.name):
                    _copy_table(source, table, out)
            if version != HEAD:
                migrate(out)


@contextmanager
def _readable() -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise BackupError(f"The database in the backup cannot be read ({error}). Use another backup.") from error


def _copy_table(source: sqlite3.Connection, table: sa.Table, out: sa.Connection) -> None:
    columns = {column.name: _allowed(column) for column in table.columns}
    # With their table, as SQLite takes a quoted name that no column has for a text.
    names = ", ".join(f'"{table.name}"."{name}"' for name in columns)
    rows = source.execute(f'SELECT {names} FROM "{table.name}"')
    while some := rows.fetchmany(CHUNK):
        found = [dict(zip(columns, row, strict=True)) for row in some]
        for name, types in columns.items():
            for row in found:
                if not isinstance(row[name], types):
                    raise BackupError(
                        f"The {name} {short(row[name])} in the {table.name} of the backup is of the wrong kind. "
                        "Use another backup."
                    )
        out.execute(sa.insert(table), found)


def _allowed(column: sa.Column[Any]) -> tuple[type, ...]:
    """What SQLite, which takes anything anywhere, may hold in a column."""
    own = {str: (str,), float: (float, int), int: (int,), bool: (int,), bytes: (bytes,)}[column.type.python_type]
    return (*own, type(None)) if column.nullable else own


def _require_sound(fresh: Database, photographs: set[str], counts: Mapping[str, int]) -> None:
    """Everything is there, can be read as what it shall be, points at something, and has its photographs."""
    try:
        with fresh.reading() as rows:
            if rows.exec_driver_sql("PRAGMA foreign_key_check").first():
                raise BackupError("The parts of the backup do not fit together. Use another backup.")
            for name, count in counts.items():
                if name in metadata.tables and _count(rows, metadata.tables[name]) != count:
                    raise BackupError(f"The backup does not hold the {name} it should. Use another backup.")
            there = [record for kind in KINDS.values() for record in read_records(rows, kind)]
            for kind, uid in rows.execute(sa.select(past.c.kind, past.c.uid).distinct()):
                versions(rows, KINDS[kind], uid)
    except BackupError:
        raise
    except (LibraryError, KeyError) as error:
        raise BackupError(f"The backup holds what cannot be read: {error} Use another backup.") from error
    if {each.uid for each in there if each.KIND == "photograph"} != photographs:
        raise BackupError("The backup does not hold the photographs it should. Use another backup.")


def copy_rows(source: sa.Connection, out: sa.Connection) -> None:
    """Every row of every table but the photographs' own, those pointed at first."""
    for table in metadata.sorted_tables:
        if table is in_table:
            continue
        result = source.execution_options(yield_per=CHUNK).execute(sa.select(table)).mappings()
        for rows in result.partitions(CHUNK):
            out.execute(sa.insert(table), [dict(row) for row in rows])


def _copy_out(library: Library, file: Path) -> dict[str, int]:
    """Everything as it is at one moment, as a SQLite library; rows per table."""
    if library.database.is_sqlite:
        library.database.copy_to(file)
    else:
        with closing(Database(sqlite_url(file))) as target, library.database.reading() as source:
            with target.writing() as out:
                migrate(out)
                copy_rows(source, out)
            target.copy_to(file.with_suffix(".whole"))  # without a log beside it
        file.with_suffix(".whole").replace(file)
    with closing(sqlite3.connect(file)) as copy:
        tables = [table.name for table in metadata.sorted_tables]
        return {name: copy.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in tables}


def _pack(library: Library, copy: Path, counts: Mapping[str, int], packed: Path, progress: Progress) -> None:
    """The zip: the database, the photographs it names, and what is in it."""
    sums = {FILE_NAME: sha256_of(copy.read_bytes())}
    with closing(sqlite3.connect(copy)) as rows:
        photographs = [uid for (uid,) in rows.execute("SELECT uid FROM photographs ORDER BY uid")]
    with packed.open("wb") as file:
        with zipfile.ZipFile(file, "w") as archive, library.database.reading() as connection:
            archive.write(copy, FILE_NAME, compress_type=zipfile.ZIP_DEFLATED)
            for number, sha256 in enumerate(photographs):
                progress(number / len(photographs))
                archive.writestr(f"photographs/{sha256}", library.photographs.get(connection, sha256))
                sums[f"photographs/{sha256}"] = sha256
            archive.writestr(CONTENTS, json.dumps({"records": counts, "sha256": sums}, indent=1))
        file.flush()
        os.fsync(file.fileno())


def _records_in(path: Path) -> int:
    """How many records an earlier backup says it holds; 0 when it cannot be read."""
    try:
        with opened(path, CONTENTS) as source:
            return sum(map(int, json.loads(source.read(CONTENTS))["records"].values()))
    except (LibraryError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return 0


def _count(rows: sa.Connection, table: sa.Table, *where: sa.ColumnElement[bool]) -> int:
    return int(rows.execute(sa.select(sa.func.count()).select_from(table).where(*where)).scalar_one())
