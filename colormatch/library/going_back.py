"""Going back to a backup in a library that is in use: what is there now is first kept aside, then replaced.

Both happen in one writing transaction, so nothing that anyone keeps in between is lost, and an error at any
point leaves the library as it was.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import sqlalchemy as sa

from .backup import BackupReport, backup, contents, copy_rows, put_photographs, verify
from .errors import BackupError
from .records import KINDS
from .schema import TABLES, metadata
from .schema import photograph_files as in_table
from .store import Library


def look_into(path: str | Path) -> Mapping[str, int]:
    """How many records of each kind a backup holds, without its bin; BackupError for a damaged one."""
    path = Path(path)
    verify(path)
    with contents(path) as (_, rows):
        return {kind: _present(rows, TABLES[kind]) for kind in KINDS}


def go_back(library: Library, path: str | Path, aside: str | Path) -> BackupReport:
    """Make the library what it was when the backup was written; the report of what was kept aside.

    aside: the name of a new file; a backup of what is in the library now is written there and read back before
    anything is changed. Going back to that file undoes this. Raises BackupError, DiskFullError, LibraryError.
    """
    path, aside = Path(path), Path(aside)
    if aside.is_file():  # it may be the very backup to go back to
        raise BackupError(f"{aside} is there already. What is kept aside needs the name of a new file.")
    verify(path)
    with contents(path) as (packed, rows), library.database.writing() as out:
        report = backup(library, aside)
        put_photographs(library, packed, out)
        for table in reversed(metadata.sorted_tables):
            if table is not in_table:
                out.execute(sa.delete(table))
        copy_rows(rows, out)
    return report


def _present(connection: sa.Connection, table: sa.Table) -> int:
    found = connection.execute(sa.select(sa.func.count()).select_from(table).where(table.c.binned_at.is_(None)))
    return int(found.scalar_one())
