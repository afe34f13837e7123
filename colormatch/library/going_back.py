"""Going back to a backup in a library that is in use: what is there now is first kept aside, then replaced.

Both happen in one writing transaction, so nothing that anyone keeps in between is lost, and an error at any
point leaves the library as it was.
"""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Mapping
from pathlib import Path

import sqlalchemy as sa

from .backup import BackupReport, backup, copy_rows, opened, photographs_in, unpacked, verify
from .records import KINDS
from .schema import TABLES, metadata
from .schema import photograph_files as in_table
from .store import Library


def look_into(path: str | Path) -> Mapping[str, int]:
    """How many records of each kind a backup holds, without its bin; BackupError for a damaged one."""
    path = Path(path)
    verify(path)
    with (
        tempfile.TemporaryDirectory() as folder,
        unpacked(path, Path(folder)) as copy,
        opened(copy) as database,
        database.reading() as rows,
    ):
        return {kind: _present(rows, TABLES[kind]) for kind in KINDS}


def go_back(library: Library, path: str | Path, aside: str | Path) -> BackupReport:
    """Make the library what it was when the backup was written; the report of what was kept aside.

    aside: the name of a new file; a backup of what is in the library now is written there and read back before
    anything is changed. Going back to that file undoes this. Raises BackupError, DiskFullError, LibraryError.
    """
    path = Path(path)
    verify(path)
    with (
        tempfile.TemporaryDirectory() as folder,
        zipfile.ZipFile(path) as packed,
        unpacked(path, Path(folder)) as copy,
        opened(copy) as source,
        source.reading() as rows,
        library.database.writing() as out,
    ):
        report = backup(library, aside)
        for name in photographs_in(packed):
            library.photographs.put(out, name, packed.read(f"photographs/{name}"))
        for table in reversed(metadata.sorted_tables):
            if table is not in_table:
                out.execute(sa.delete(table))
        copy_rows(rows, out)
    return report


def _present(connection: sa.Connection, table: sa.Table) -> int:
    found = connection.execute(sa.select(sa.func.count()).select_from(table).where(table.c.binned_at.is_(None)))
    return int(found.scalar_one())
