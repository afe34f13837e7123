"""The database under a library: connecting, transactions that lose nothing, bringing an older one up to date.

SQLite: write-ahead log, every commit flushed to the disk, foreign keys on, and BEGIN IMMEDIATE for every
writing transaction: a transaction that reads before it writes must hold the write lock from the start, or two
of them read the same old value and one update is lost. PostgreSQL: one lock for all writers of a library,
which gives the same promise; a studio does not write fast enough to notice.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError

from ..errors import LibraryError
from .errors import DiskFullError, NewerLibraryError
from .looking import Look
from .schema import HEAD, metadata

FILE_NAME = "library.sqlite"
_WAIT_SECONDS = 60.0  # for another program to finish writing; a judgement
_POSTGRES = "postgresql+psycopg"
_WRITERS = 0x636F6C6F  # the advisory lock of all writers of one PostgreSQL library
_MIGRATIONS = Path(__file__).with_name("migrations")
_POSTGRES_FULL = ("53100",)  # SQLSTATE disk_full
_DAMAGED = "{} is not a library, or is damaged ({}). Restore the latest backup into a new folder."
_SQLITE_FULL = ("SQLITE_FULL", "SQLITE_IOERR_WRITE", "SQLITE_IOERR_SHMSIZE", "SQLITE_IOERR_FSYNC")


class Database:
    """One database: `reading()` and `writing()` give a connection inside a transaction."""

    def __init__(self, url: sa.URL) -> None:
        self.look = Look()
        self.url = url
        self.is_sqlite = url.get_backend_name() == "sqlite"
        self.where = url.database if self.is_sqlite else url.render_as_string(hide_password=True)
        self.read_only = self.is_sqlite and _is_read_only(Path(str(url.database)))
        self._engine = _sqlite_engine(url, self.read_only) if self.is_sqlite else _postgres_engine(url)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A transaction that sees one moment of the database and does not wait for writers."""
        with self.translated(), self._engine.connect() as connection:
            connection = connection.execution_options(reading=True)
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A transaction that is alone in writing: all of it is kept, or none of it."""
        try:
            with self.translated(), self._engine.connect() as connection, connection.begin():
                yield connection
        finally:
            self.look.forget()

    def prepare(self) -> str | None:
        """Make the tables, or bring an older library up to date; the version it had, if it was older.

        Raises LibraryError for a database that is damaged or something else's, NewerLibraryError.
        """
        with self.reading() as connection:
            if self.is_sqlite and connection.exec_driver_sql("PRAGMA quick_check(1)").scalar() != "ok":
                raise LibraryError(_DAMAGED.format(self.where, "its pages do not fit together"))
            before = _schema_version(connection)
        if before == HEAD:
            return None
        if before is not None:
            self.require_known(before)
            self._keep_copy(before)
        with self.writing() as connection:
            if _schema_version(connection) != HEAD:  # another process may have been quicker
                migrate(connection)
        return before

    def problems(self, connection: sa.Connection) -> list[str]:
        """What the database itself finds wrong, in sentences."""
        if not self.is_sqlite:
            return []
        pages = [str(row[0]) for row in connection.exec_driver_sql("PRAGMA integrity_check")]
        keys = [str(tuple(row)) for row in connection.exec_driver_sql("PRAGMA foreign_key_check")]
        found = [f"The database is damaged: {each}." for each in pages if each != "ok"]
        return found + [f"A row points at nothing: {each}." for each in keys]

    def copy_to(self, file: Path) -> None:
        """Copy a SQLite database, as it is at one moment, to a new file (SQLite's backup API)."""
        with (
            self.translated(),
            closing(sqlite3.connect(_uri(self.url, self.read_only), uri=True)) as source,
            closing(sqlite3.connect(file)) as target,
        ):
            source.backup(target)
            target.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it

    def _keep_copy(self, version: str) -> None:
        """Before an older library is changed, a copy of it beside it."""
        if self.is_sqlite:
            file = Path(str(self.url.database))
            with TemporaryDirectory(dir=file.parent, prefix=".copy-") as folder:
                self.copy_to(Path(folder) / file.name)
                (Path(folder) / file.name).replace(file.with_name(f"{file.stem}-before-{version}-to-{HEAD}.sqlite"))

    def require_known(self, version: str) -> str:
        """The version of the tables, or NewerLibraryError when this tool does not know it."""
        known = {path.stem.removeprefix("revision_") for path in (_MIGRATIONS / "versions").glob("revision_*.py")}
        if version not in known:
            raise NewerLibraryError(
                f"The library {self.where} has table version {version[:40]!r}; this version of the tool "
                f"knows up to {HEAD}. It was last written by a newer version: update the tool, or open an older backup."
            )
        return version

    def close(self) -> None:
        """Let go of every connection."""
        self._engine.dispose()

    @contextmanager
    def translated(self, writing_to: Path | None = None) -> Iterator[None]:
        """Errors of the database in words a maker can act on.

        writing_to: the file or folder being written, where that is not the library itself.
        """
        try:
            yield
        except (SQLAlchemyError, sqlite3.Error) as error:
            raise self._in_words(error, writing_to) from error
        except OSError as error:
            if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
                raise self._full(writing_to) from error
            raise LibraryError(
                f"{writing_to or f'The library {self.where}'} could not be written: {error.strerror or error}. "
                "Check the place and whether you may write there, or choose another."
            ) from error

    def _in_words(self, error: SQLAlchemyError | sqlite3.Error, writing_to: Path | None) -> LibraryError:
        cause = error.orig if isinstance(error, DBAPIError) else error
        code = str(getattr(cause, "sqlite_errorname", None) or getattr(cause, "sqlstate", None) or "")
        if code in _SQLITE_FULL or code in _POSTGRES_FULL:
            return self._full(writing_to)
        if isinstance(error, IntegrityError):
            return LibraryError(f"The library refused to store this, because its parts do not fit together: {cause}.")
        if code in ("SQLITE_BUSY", "SQLITE_LOCKED"):
            return LibraryError(
                f"The library {self.where} was busy for more than {_WAIT_SECONDS:.0f} seconds; nothing was "
                "changed. Close other programs that use it and try again."
            )
        if code in ("SQLITE_NOTADB", "SQLITE_CORRUPT"):
            return LibraryError(_DAMAGED.format(self.where, cause))
        if code in ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_READONLY_DIRECTORY"):
            return LibraryError(
                f"The library {self.where} cannot be opened for writing. Check that the folder exists, that "
                "you may write in it, and that it is not on a read-only disk."
            )
        return LibraryError(f"The library {self.where} gave an error; nothing was changed: {cause}.")

    def _full(self, writing_to: Path | None) -> DiskFullError:
        return DiskFullError(
            f"There is no room left on the disk of {writing_to or f'the library {self.where}'}; nothing was changed. "
            "Free some space, or empty the bin, and try again."
        )


def sqlite_url(file: Path) -> sa.URL:
    """The URL of a SQLite file."""
    return sa.URL.create("sqlite", database=str(file))


def postgres_url(text: str) -> sa.URL:
    """A checked PostgreSQL URL, or LibraryError."""
    try:
        url = sa.make_url(text)
    except (sa.exc.ArgumentError, ValueError):
        url = None
    if url is None or url.get_backend_name() != "postgresql" or not url.database:
        raise LibraryError(
            "A library is a folder, or a PostgreSQL URL such as postgresql+psycopg://user@host:5432/studio."
        )
    if find_spec("psycopg") is None:
        raise LibraryError(
            "A library on PostgreSQL needs psycopg: install colormatch with its extra, colormatch[postgres]."
        )
    return url.set(drivername=_POSTGRES)


def _is_read_only(file: Path) -> bool:
    """Whether a library that is there can be read, but nothing can be written beside it."""
    return file.exists() and not (os.access(file, os.W_OK) and os.access(file.parent, os.W_OK))


def _uri(url: sa.URL, read_only: bool) -> str:
    """A SQLite file to be read; read_only: nothing shall be written beside it, as nobody else can write either."""
    return f"{Path(str(url.database)).resolve().as_uri()}?mode=ro{'&immutable=1' if read_only else ''}"


def _sqlite_engine(url: sa.URL, read_only: bool) -> sa.Engine:
    def connect() -> sqlite3.Connection:
        where = _uri(url, read_only) if read_only else str(url.database)
        return sqlite3.connect(where, timeout=_WAIT_SECONDS, check_same_thread=False, uri=read_only)

    engine = sa.create_engine(url, creator=connect)

    @sa.event.listens_for(engine, "connect")
    def _set_up(connection: sqlite3.Connection, record: object) -> None:
        connection.isolation_level = None  # transactions are begun below, never by the driver
        for pragma in (
            *(() if read_only else ("journal_mode=WAL", "synchronous=FULL")),
            "foreign_keys=ON",
            "trusted_schema=OFF",
            f"busy_timeout={_WAIT_SECONDS * 1000:.0f}",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        reading = connection.get_execution_options().get("reading", False)
        connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")

    return engine


def _postgres_engine(url: sa.URL) -> sa.Engine:
    engine = sa.create_engine(url, pool_pre_ping=True, connect_args={"connect_timeout": 10})

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        if connection.get_execution_options().get("reading", False):
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        else:  # READ COMMITTED: what is read after the lock was got is the latest
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITERS})")

    return engine


@cache
def empty_file() -> bytes:
    """What the file of a library with nothing in it holds."""
    with closing(sqlite3.connect(":memory:")) as memory:
        with sa.create_engine("sqlite://", creator=lambda: memory).begin() as connection:
            migrate(connection)
        return memory.serialize()


def _schema_version(connection: sa.Connection) -> str | None:
    tables = sa.inspect(connection).get_table_names()
    if tables and "alembic_version" not in tables:
        raise LibraryError("This is a database of something else, not a library. Choose another place.")
    if not tables:
        return None
    version: Any = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
    return None if version is None else str(version)


def migrate(connection: sa.Connection, to: str = HEAD) -> None:
    """Make the tables, or bring those that are there up to a version."""
    if to == HEAD and not sa.inspect(connection).get_table_names():
        # What the migrations make (a test compares the two), without going through them one by one.
        metadata.create_all(connection, checkfirst=False)
        connection.execute(sa.text("CREATE TABLE alembic_version (version_num VARCHAR(32) PRIMARY KEY NOT NULL)"))
        connection.execute(sa.text("INSERT INTO alembic_version VALUES (:head)"), {"head": HEAD})
        return
    from alembic import command  # slow to import, and needed once in the life of a library
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)
