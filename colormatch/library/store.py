"""The swatch library: save, read, edit, bin and restore records, each call one transaction."""

from __future__ import annotations

import builtins
import shutil
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from types import NoneType, TracebackType
from typing import Any, Self, TypeVar

import sqlalchemy as sa

from ..errors import LibraryError
from . import bin as bins
from . import files, writing
from . import history as past
from .compounds import Lab, Names
from .database import FILE_NAME, Database, empty_file, postgres_url, sqlite_url
from .errors import DiskFullError
from .fields import Blob, Free, specs
from .places import without_place
from .plain import checked
from .record import Record
from .records import KINDS, Photograph
from .rows import read_records
from .schema import TABLES
from .values import checked_uid, now, to_plain

R = TypeVar("R", bound=Record)
T = TypeVar("T")


def data_folder() -> Path:
    """The folder of the user's own library, where the platform keeps such data."""
    from platformdirs import user_data_path

    return user_data_path("colormatch", appauthor=False) / "library"


def open_library(location: str | Path | None = None) -> Library:
    """Open a library, making it if it is not there and bringing an older one up to date.

    location: a folder; or a PostgreSQL URL; None: the user's own library (data_folder()). An older SQLite
    library is copied beside itself first. Raises LibraryError; NewerLibraryError for a library written by a
    newer version of this tool.
    """
    if location is not None and not (isinstance(location, (str, Path)) and str(location).isprintable()):
        raise LibraryError(f"A library is a folder or a database URL, not {location!r}.")
    if isinstance(location, str) and "://" in location:
        database, folder = Database(postgres_url(location)), None
    else:
        folder = Path(location) if location is not None else data_folder()
        database = Database(sqlite_url(_file_in(folder)))
    try:
        database.prepare()
    except BaseException:
        database.close()
        raise
    return Library(database, folder)


def _file_in(folder: Path) -> Path:
    """The database in a folder, made if there is nothing yet; LibraryError where one was lost."""
    file = folder / FILE_NAME
    if file.exists() and file.stat().st_size > 0:
        return file
    lost = "is empty" if file.exists() else "is gone, and its photographs are there" if _photographs_in(folder) else ""
    if lost:
        raise LibraryError(
            f"The library {file} {lost}: this is damage, not a new library. Restore the latest backup into a new "
            "folder; to begin anew, choose another folder."
        )
    with Database(sqlite_url(file)).translated(folder):
        folder.mkdir(parents=True, exist_ok=True)
        # Made aside and then named, so that an empty file is never a library that someone is just making.
        with TemporaryDirectory(dir=folder, prefix=".part-") as aside:
            files.write_whole(Path(aside) / FILE_NAME, empty_file())
            _name(Path(aside) / FILE_NAME, file)
    return file


def _name(fresh: Path, file: Path) -> None:
    """Give a new library its name, unless someone else was quicker."""
    try:
        file.hardlink_to(fresh)
    except FileExistsError:
        return
    except OSError:  # a disk without links
        if not file.exists():
            fresh.rename(file)


def _photographs_in(folder: Path) -> bool:
    return next((folder / "photographs").glob("??/*"), None) is not None


def _conditions(kind: type[Record], equal: Mapping[str, Any]) -> list[sa.ColumnElement[bool]]:
    columns, known = TABLES[kind.KIND].c, specs(kind)
    conditions: list[sa.ColumnElement[bool]] = []
    for name, value in equal.items():
        if name != "uid" and isinstance(known.get(name), (NoneType, Names, Lab, Blob, Free)):
            raise LibraryError(f"A {kind.KIND} cannot be listed by {name!r}.")
        several = isinstance(value, (list, tuple, set))
        conditions.append(columns[name].in_(list(value)) if several else columns[name] == to_plain(value))
    return conditions


class Library:
    """A studio's swatch library. Use it in a `with` statement, or close() it. Made by open_library.

    folder: where its files are; None for one on a database server.
    """

    def __init__(self, database: Database, folder: Path | None) -> None:
        self.database = database
        self.folder = folder
        self.photographs: files.PhotographStore = (
            files.TableStore() if folder is None else files.FolderStore(folder / "photographs")
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    # --- records ----------------------------------------------------------------------------------

    def save(self, record: R) -> R:
        """Keep a record, new or edited; the record as kept, with its uid and new version.

        An edit keeps the earlier version in the history. Raises ConflictError if the record was changed by
        someone else since it was read, LibraryError for a value that is not allowed or a uid that points
        nowhere.
        """
        return self.save_all([record])[0]

    def save_all(self, records: Iterable[R]) -> builtins.list[R]:
        """Keep several records, all or none. One that points at another comes after it; see new_uid()."""
        settled = [checked(record) for record in records]
        with self.database.writing() as connection:
            stamp = now()
            return [writing.keep(connection, record, stamp) for record in settled]

    def get(self, kind: type[R], uid: str) -> R:
        """The record; NotInLibrary when there is none, or when it is in the bin."""
        with self.database.reading() as connection:
            return writing.present(connection, kind, uid)

    def find_one(self, kind: type[R], uid: str) -> R | None:
        """The record, or None when there is none, or when it is in the bin."""
        table, look = TABLES[kind.KIND], self.database.look.read or {}
        if all_of_them := look.get((kind, "[]")):
            return next((each for each in all_of_them if each.uid == uid), None)
        found = self._looked_up(kind, f"uid {uid}", lambda: [table.c.uid == uid, table.c.binned_at.is_(None)])
        return found[0] if found else None

    def list(self, kind: type[R], **equal: Any) -> builtins.list[R]:
        """Records not in the bin, by uid. `equal`: field = value, or field = list of values: any of them."""
        here = TABLES[kind.KIND].c.binned_at.is_(None)
        return self._looked_up(kind, repr(sorted(equal.items())), lambda: [here, *_conditions(kind, equal)])

    def one_look(self) -> AbstractContextManager[None]:
        """Within it, this thread reads the same thing from the database once, until it writes: to draw a page."""
        return self.database.look.begin()

    def once(self, name: str, work_out: Callable[[], T]) -> T:
        """What is worked out from the library alone: within one look once, until something is written."""
        return self.database.look.at(name, work_out)

    def _looked_up(
        self, kind: type[R], which: str, conditions: Callable[[], builtins.list[sa.ColumnElement[bool]]]
    ) -> builtins.list[R]:
        def reading() -> builtins.list[R]:
            with self.database.reading() as connection:
                return read_records(connection, kind, *conditions())

        return builtins.list(self.database.look.at((kind, which), reading))

    def count(self, kind: type[Record]) -> int:
        """How many records of a kind there are, without those in the bin."""
        return self.state_of(kind)[0]

    def state_of(self, kind: type[Record]) -> tuple[int, str]:
        """How many records of a kind there are outside the bin, and when the last of them was saved.

        Another pair as soon as anything of that kind has changed.
        """
        table = TABLES[kind.KIND]

        def reading() -> tuple[int, str]:
            query = sa.select(sa.func.count(), sa.func.max(table.c.saved_at)).where(table.c.binned_at.is_(None))
            with self.database.reading() as connection:
                count, latest = connection.execute(query).one()
            return count, latest or ""

        return self.database.look.at((kind, "state", ""), reading)

    def values(self, kind: type[Record], name: str) -> set[Any]:
        """What a field holds over all records of a kind outside the bin; a field with one column of its own."""
        column, here = TABLES[kind.KIND].c[name], TABLES[kind.KIND].c.binned_at.is_(None)
        with self.database.reading() as connection:
            return set(connection.execute(sa.select(column).where(here).distinct()).scalars())

    def update(self, kind: type[R], uid: str, change: Callable[[R], R]) -> R:
        """Read a record, change it and keep it in one transaction, so that nobody's change is lost.

        change: given the record as it is now, gives the record as it shall be. It must not use the library.
        """
        with self.database.writing() as connection:
            current = writing.present(connection, kind, uid)
            changed = replace(change(current), uid=current.uid, version=current.version)
            return writing.keep(connection, checked(changed), now())

    # --- history and bin --------------------------------------------------------------------------

    def history(self, record: Record) -> builtins.list[past.Version]:
        """Every version of a record, oldest first, the present one last."""
        with self.database.reading() as connection:
            return past.versions(connection, type(record), record.uid)

    def revert(self, record: R, version: int) -> R:
        """Make an earlier version the present one; what is replaced stays in the history."""
        with self.database.writing() as connection:
            current = writing.present(connection, type(record), record.uid)
            earlier = past.version(connection, type(record), record.uid, version)
            return writing.keep(connection, checked(replace(earlier, version=current.version)), now())

    def delete(self, record: Record) -> None:
        """Put a record in the bin, with what belongs to it (shades of a swatch, weighings of a batch).

        Raises InUseError, naming the users, if other records need it.
        """
        with self.database.writing() as connection:
            bins.put_in(connection, type(record), record.uid, now())

    def restore(self, record: R) -> R:
        """Take a record out of the bin, with what went in together with it."""
        with self.database.writing() as connection:
            bins.take_out(connection, type(record), record.uid)
            return writing.present(connection, type(record), record.uid)

    def fresh_uid(self, kind: type[Record], name: str, never: Container[str] = ()) -> str:
        """A readable uid made from a name that no record of the kind has, nor stands in `never`."""
        with self.database.reading() as connection:
            return writing.fresh_uid(connection, kind, name, never)

    def bin(self) -> builtins.list[bins.Binned]:
        """What is in the bin, latest first."""
        with self.database.reading() as connection:
            return bins.contents(connection)

    def empty_bin(self) -> int:
        """Remove for good what is in the bin, with its history and photographs; how many records went."""
        try:
            removed = self._remove_binned()
        except DiskFullError:  # removing rows takes a little room too
            with self._room_made():
                removed = self._remove_binned()
        # Only once the rows are gone for good: a file cannot be rolled back.
        with self.database.writing() as connection:
            self._sweep(connection)
        return removed

    def _remove_binned(self) -> int:
        with self.database.writing() as connection:
            return bins.empty(connection)

    @contextmanager
    def _room_made(self) -> Iterator[None]:
        """Room on a full disk: thumbnails, which are made again, and the largest photograph that is to go anyway.

        It is put back into the room that it left when it need not go after all.
        """
        if self.folder is None:
            yield
            return
        shutil.rmtree(self.folder / "thumbnails", ignore_errors=True)
        largest, content = None, b""
        try:
            with self.database.reading() as connection, suppress(LibraryError):
                binned = read_records(connection, Photograph, TABLES[Photograph.KIND].c.binned_at.is_not(None))
                largest = max(binned, key=lambda each: each.size_bytes or 0, default=None)
                if largest:
                    content = self.photographs.get(connection, largest.uid)
                    self.photographs.drop(connection, largest.uid)
            yield
        except BaseException:
            if largest and content:
                with self.database.reading() as connection:
                    self.photographs.put(connection, largest.uid, content)
            raise

    # --- photographs ------------------------------------------------------------------------------

    def store_photograph(self, content: bytes, **fields: Any) -> Photograph:
        """Keep a photograph (JPEG, PNG, TIFF, WebP; HEIC with its package); fields: file_name, taken_on, notes.

        It is kept without the place it was taken at (see places.py). The same bytes again give the record that is
        there. Raises LibraryError for anything that is no photograph.
        """
        content = without_place(content)
        media_type, width, height = files.describe(content)
        record = checked(
            Photograph(
                uid=files.sha256_of(content), media_type=media_type, width_px=width, height_px=height,
                size_bytes=len(content), **fields,
            )
        )  # fmt: skip
        with self.database.writing() as connection:
            kept = writing.existing(connection, Photograph, record.uid)
            self.photographs.put(connection, record.uid, content)
            if kept is None:
                return writing.keep(connection, record, now())
            with suppress(LibraryError):  # it is not in the bin
                bins.take_out(connection, Photograph, record.uid)
            return kept

    def photograph_bytes(self, uid: str) -> bytes:
        """The file of a photograph as it was stored, checked against its sha256."""
        with self.database.reading() as connection:
            return self.photographs.get(connection, uid)

    def thumbnail_bytes(self, uid: str) -> bytes:
        """A small upright JPEG of a photograph, made once where there is a folder to keep it in."""
        if self.folder is None:
            return files.thumbnail(self.photograph_bytes(uid))
        kept = self.folder / "thumbnails" / f"{checked_uid(uid)}.jpg"
        if kept.exists():
            return kept.read_bytes()
        small = files.thumbnail(self.photograph_bytes(uid))
        with suppress(OSError):  # a thumbnail that cannot be kept is made again next time
            kept.parent.mkdir(exist_ok=True)
            files.write_whole(kept, small)
        return small

    def check(self) -> builtins.list[str]:
        """What is wrong with the library, in sentences; an empty list when all is well."""
        with self.database.reading() as connection:
            wrong = self.database.problems(connection)
            try:
                for kind in KINDS.values():  # a value that cannot even be read ends the search: nothing behind it can
                    read_records(connection, kind)
            except LibraryError as error:
                return [*wrong, str(error)]
            for photograph in read_records(connection, Photograph):
                try:
                    self.photographs.get(connection, photograph.uid)
                except LibraryError as error:
                    wrong.append(str(error))
        return wrong + [f"{why} Correct it, or put it in the bin." for _, why in self.unsound()]

    def unsound(self) -> builtins.list[tuple[Record, str]]:
        """Records outside the bin that hold what is not allowed (any more), each with a sentence that says what.

        An older version may have taken it. The model leaves such a record out; it can be corrected or put in the bin.
        """
        found: builtins.list[tuple[Record, str]] = []
        for kind in KINDS.values():
            for record in self.list(kind):
                try:
                    checked(record)
                except LibraryError as error:
                    found.append((record, str(error)))
        return found

    def _sweep(self, connection: sa.Connection) -> None:
        """Drop photographs no row names; safe, as they are put in a writing transaction, and this is one."""
        named = set(connection.execute(sa.select(TABLES["photograph"].c.uid)).scalars())
        for sha256 in self.photographs.held(connection) - named:
            self.photographs.drop(connection, sha256)
            if self.folder is not None:
                (self.folder / "thumbnails" / f"{sha256}.jpg").unlink(missing_ok=True)
        if isinstance(self.photographs, files.FolderStore):
            self.photographs.sweep()
