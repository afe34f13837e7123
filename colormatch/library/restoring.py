"""From a backup into a new library, or into one that is in use, which is kept aside first."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

import sqlalchemy as sa

from .backup import Backup, BackupReport, backup, copy_rows, reading, require_not_far_fewer
from .database import FILE_NAME
from .errors import BackupError
from .files import FolderStore
from .progress import Progress, part, quiet
from .records import KINDS
from .schema import metadata
from .schema import photograph_files as in_table
from .store import Library, open_library


def records_in(path: str | Path) -> Mapping[str, int]:
    """How many records of each kind a backup holds, without its bin; BackupError for a damaged one."""
    with reading(Path(path)) as found:
        return found.counts()


def restore(path: str | Path, location: str | Path) -> Library:
    """Make a library from a backup, at a place where there is none yet, and open it.

    location: a folder or a PostgreSQL URL, as for open_library. A backup of an older version is brought up to
    date. Raises BackupError for a damaged backup or a place that is taken, NewerLibraryError.
    """
    with reading(Path(path)) as found:
        if isinstance(location, str) and "://" in location:
            return _to_server(found, location)
        folder = Path(location)
        if (folder / FILE_NAME).exists():
            raise BackupError(
                f"There is a library in {folder} already. Restore into a new folder, or move that one away."
            )
        with found.database.translated(folder):
            folder.mkdir(parents=True, exist_ok=True)
            store = FolderStore(folder / "photographs")
            with found.database.reading() as rows:
                for sha256 in found.photographs:
                    store.put(rows, sha256, found.photograph(sha256))
            with tempfile.TemporaryDirectory(dir=folder, prefix=".part-") as aside:
                found.database.copy_to(Path(aside) / FILE_NAME)
                (Path(aside) / FILE_NAME).replace(folder / FILE_NAME)  # last: without it there is no library here
    return open_library(folder)


def restore_into(
    library: Library,
    path: str | Path,
    aside: str | Path,
    *,
    even_if_smaller: bool = False,
    progress: Progress = quiet,
) -> BackupReport:
    """Make a library in use what it was when the backup was written; the report of what was kept aside.

    aside: the name of a new file; a backup of what is in the library now is written there and read back before
    anything is changed. Restoring that file undoes this. It happens in one writing transaction, so that nothing that
    anyone keeps in between is lost, and an error at any point leaves the library as it was. Raises SmallerBackupError
    for a backup that holds far less than the library, unless even_if_smaller; BackupError, DiskFullError, LibraryError.
    """
    path, aside = Path(path), Path(aside)
    if aside.is_file():  # it may be the very backup to be restored
        raise BackupError(f"{aside} is there already. What is kept aside needs the name of a new file.")
    with reading(path, part(progress, 0.0, 0.4)) as found, library.database.writing() as out:
        if not even_if_smaller:
            there = sum(library.count(kind) for kind in KINDS.values())
            require_not_far_fewer(sum(found.counts().values()), there, "the library, which it replaces,")
        report = backup(library, aside, progress=part(progress, 0.4, 0.9))
        for table in reversed(metadata.sorted_tables):
            if table is not in_table:
                out.execute(sa.delete(table))
        _take_in(library, found, out, part(progress, 0.9, 1.0))
    return report


def _to_server(found: Backup, url: str) -> Library:
    library = open_library(url)
    try:
        with library.database.writing() as out:
            if any(out.execute(sa.select(table).limit(1)).first() for table in metadata.sorted_tables):
                raise BackupError(f"{library.database.where} is not empty. Restore into an empty database.")
            _take_in(library, found, out, quiet)
    except BaseException:
        library.close()
        raise
    return library


def _take_in(library: Library, found: Backup, out: sa.Connection, progress: Progress) -> None:
    for number, sha256 in enumerate(found.photographs):
        progress(number / len(found.photographs))
        library.photographs.put(out, sha256, found.photograph(sha256))
    with found.database.reading() as rows:
        copy_rows(rows, out)
    progress(1.0)
