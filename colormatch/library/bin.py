"""The bin: deletion that can be undone, and emptied.

What belongs to a record (the shades of a swatch, the weighings of a batch) goes with it, both ways. A record
that others need cannot go: so nothing outside the bin ever points into it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa

from ..errors import LibraryError
from ..saying import capital
from .errors import InUseError
from .plain import said
from .record import Record
from .records import KINDS
from .rows import delete_links, read_records
from .schema import LINKS, TABLES, history, users_of
from .writing import binned_at, existing, pointed_at, present

_MOST_NAMED = 5  # as many as one sentence bears


@dataclass(frozen=True, slots=True)
class Binned:
    """A record in the bin and since when (ISO 8601, UTC)."""

    record: Record
    binned_at: str


def put_in(connection: sa.Connection, kind: type[Record], uid: str, at: str) -> None:
    """Put a record and what belongs to it in the bin."""
    record = present(connection, kind, uid)
    going = [record, *_belongings(connection, record)]
    together = {(each.KIND, each.uid) for each in going}
    for each in going:
        users = [user for user in _users(connection, each) if (user.KIND, user.uid) not in together]
        if users:
            raise InUseError(f"{capital(_called(each))} is used by {_in_words(connection, users)}; delete these first.")
    for each in going:
        stamp(connection, each.KIND, each.uid, at)


def take_out(connection: sa.Connection, kind: type[Record], uid: str) -> None:
    """Take a record and what went in together with it out of the bin."""
    record = existing(connection, kind, uid)
    at = binned_at(connection, kind.KIND, uid)
    if record is None or at is None:
        raise LibraryError(f"There is no {said(kind)} {uid[:60]!r} in the bin.")
    for other, other_uid in pointed_at(record):
        if binned_at(connection, other, other_uid):
            raise LibraryError(f"Restore the {said(other)} {other_uid!r} first: it is in the bin too.")
    stamp(connection, kind.KIND, uid, None)
    for each in _belongings(connection, record, at):
        # One that belongs to two stays for as long as the other is in the bin.
        if not any(binned_at(connection, *other) for other in pointed_at(each)):
            stamp(connection, each.KIND, each.uid, None)


def contents(connection: sa.Connection) -> list[Binned]:
    """Everything in the bin, latest first."""
    found = [
        Binned(record, binned_at(connection, record.KIND, record.uid) or "")
        for kind in KINDS.values()
        for record in read_records(connection, kind, TABLES[kind.KIND].c.binned_at.is_not(None))
    ]
    return sorted(found, key=lambda each: each.binned_at, reverse=True)


def empty(connection: sa.Connection) -> int:
    """Remove everything in the bin with its history; users go before what they use."""
    return sum(
        remove(connection, kind, TABLES[kind.KIND].c.binned_at.is_not(None)) for kind in reversed(KINDS.values())
    )


def remove(connection: sa.Connection, kind: type[Record], condition: sa.ColumnElement[bool]) -> int:
    """Remove records of a kind for good, with their history; how many."""
    table = TABLES[kind.KIND]
    uids = connection.execute(sa.select(table.c.uid).where(condition)).scalars().all()
    for uid in uids:
        delete_links(connection, kind, uid)
        connection.execute(sa.delete(history).where(history.c.kind == kind.KIND, history.c.uid == uid))
        connection.execute(sa.delete(table).where(table.c.uid == uid))
    return len(uids)


def _in_words(connection: sa.Connection, users: Sequence[Record]) -> str:
    """Who uses something, by name; what has no name by what it belongs to, or counted."""
    counted = Counter(_called(_with_a_name(connection, user)) for user in users)
    words = [each if each.startswith("the ") else _many(each, count) for each, count in counted.items()]
    more = f" and {len(words) - _MOST_NAMED} more" if len(words) > _MOST_NAMED else ""
    return ", ".join(words[:_MOST_NAMED]) + more


def _with_a_name(connection: sa.Connection, record: Record) -> Record:
    """The record, or where it has no name, the first one it points at that has one and owns it."""
    if getattr(record, "name", ""):
        return record
    owners = {kind for kind in KINDS for user, _, owned in users_of(kind) if owned and user == record.KIND}
    found = (existing(connection, KINDS[kind], uid) for kind, uid in pointed_at(record) if kind in owners)
    return next((each for each in found if each is not None and str(getattr(each, "name", ""))), record)


def _called(record: Record) -> str:
    words, name = said(type(record)), str(getattr(record, "name", ""))
    return f"the {words} {name!r}" if name else words


def _many(words: str, count: int) -> str:
    return f"a {words}" if count == 1 else f"{count} {words}s"


def _belongings(connection: sa.Connection, record: Record, at: str | None = None) -> list[Record]:
    """What belongs to a record, and to that in turn, owners first: outside the bin, or put there at that moment."""
    found: list[Record] = []
    for kind, name, owned in users_of(record.KIND):
        if owned:
            table = TABLES[kind]
            found += read_records(connection, KINDS[kind], table.c[name] == record.uid, table.c.binned_at == at)
    found += [deeper for each in found for deeper in _belongings(connection, each, at)]
    return list({(each.KIND, each.uid): each for each in found}.values())


def _users(connection: sa.Connection, record: Record) -> list[Record]:
    """Records outside the bin that point at this one."""
    found: list[Record] = []
    for kind, name, _ in users_of(record.KIND):
        table = TABLES[kind]
        points: sa.ColumnElement[bool]
        if (kind, name) in LINKS:
            links = LINKS[kind, name]
            points = table.c.uid.in_(sa.select(links.c.owner_uid).where(links.c.item == record.uid))
        else:
            points = table.c[name] == record.uid
        found += read_records(connection, KINDS[kind], points, table.c.binned_at.is_(None))
    return found


def stamp(connection: sa.Connection, kind: str, uid: str, at: str | None) -> None:
    """Put one record, alone and without further questions, in the bin; None: take it out."""
    table = TABLES[kind]
    connection.execute(sa.update(table).where(table.c.uid == uid).values(binned_at=at))
