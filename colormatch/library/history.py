"""Earlier versions of records: every edit keeps what it replaced."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TypeVar

import sqlalchemy as sa

from ..errors import LibraryError
from .errors import NotInLibrary
from .plain import said, trusted_record
from .record import Record
from .rows import read_records
from .schema import TABLES
from .schema import history as kept

R = TypeVar("R", bound=Record)


@dataclass(frozen=True, slots=True)
class Version:
    """A version of a record and when it was saved (ISO 8601, UTC)."""

    number: int
    saved_at: str
    record: Record


def versions(connection: sa.Connection, kind: type[Record], uid: str) -> list[Version]:
    """Every version, oldest first, the present one last; NotInLibrary when there is no such record."""
    table = TABLES[kind.KIND]
    present = read_records(connection, kind, table.c.uid == uid)
    if not present:
        raise NotInLibrary(f"There is no {said(kind)} {uid[:60]!r} in the library.")
    saved_at = connection.execute(sa.select(table.c.saved_at).where(table.c.uid == uid)).scalar()
    query = (
        sa.select(kept.c.version, kept.c.saved_at, kept.c.content)
        .where(kept.c.kind == kind.KIND, kept.c.uid == uid)
        .order_by(kept.c.version)
    )
    earlier = [
        Version(number, at, _restored(kind, uid, number, content)) for number, at, content in connection.execute(query)
    ]
    return [*earlier, Version(present[0].version, str(saved_at), present[0])]


def _restored(kind: type[Record], uid: str, number: int, content: str) -> Record:
    try:
        return trusted_record(kind, json.loads(content), uid=uid, version=number)
    except (ValueError, TypeError, AttributeError, RecursionError) as error:
        raise LibraryError(
            f"Version {number} of the {said(kind)} {uid!r} is damaged ({error}). Restore the latest backup."
        ) from None


def version(connection: sa.Connection, kind: type[R], uid: str, number: int) -> R:
    """One version of a record; NotInLibrary when there is none of that number."""
    numbered = {each.number: each.record for each in versions(connection, kind, uid)}
    record = numbered.get(number)
    if not isinstance(record, kind):
        raise NotInLibrary(f"There is no version {number} of {uid[:60]!r}; there are {sorted(numbered)}.")
    return record
