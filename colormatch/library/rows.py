"""Records to rows of the tables and back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

import sqlalchemy as sa

from ..errors import LibraryError
from .compounds import Names
from .fields import specs
from .plain import plain, said
from .record import Record
from .schema import LINKS, TABLES
from .values import as_json, folded

R = TypeVar("R", bound=Record)

_ENOUGH = 500  # uids asked for in one statement: well under what either database takes


def row_of(record: Record) -> dict[str, Any]:
    """Column name -> value of a checked record, without saved_at and binned_at."""
    row: dict[str, Any] = {"uid": record.uid, "version": record.version}
    for name, spec in specs(type(record)).items():
        row |= spec.to_row(name, getattr(record, name))
    if record.SEARCHED:
        row["searched"] = folded(" ".join(_words(getattr(record, name)) for name in record.SEARCHED))
    return row


def insert_links(connection: sa.Connection, kind: type[R], records: Sequence[R]) -> None:
    """Put the tags, uids and loads of records of one kind in their link tables."""
    for name, spec in _linked(kind).items():
        rows = [{"owner_uid": each.uid, **row} for each in records for row in spec.link_rows(getattr(each, name))]
        if rows:
            connection.execute(sa.insert(LINKS[kind.KIND, name]), rows)


def delete_links(connection: sa.Connection, kind: type[Record], uid: str) -> None:
    """Take the tags, uids and loads of a record out of their link tables."""
    for name in _linked(kind):
        table = LINKS[kind.KIND, name]
        connection.execute(sa.delete(table).where(table.c.owner_uid == uid))


def read_records(connection: sa.Connection, kind: type[R], *where: sa.ColumnElement[bool]) -> list[R]:
    """The records of a kind that satisfy the conditions, ordered by uid."""
    found = connection.execute(sa.select(TABLES[kind.KIND]).where(*where)).mappings().all()
    # Sorted here: each database has its own idea of the order of letters.
    return records_of(connection, kind, sorted(found, key=lambda row: str(row["uid"])))


def records_of(connection: sa.Connection, kind: type[R], rows: Sequence[Mapping[Any, Any]]) -> list[R]:
    """The records of rows of their table, in the order of the rows."""
    owners = [row["uid"] for row in rows]
    lists = {name: _read_links(connection, LINKS[kind.KIND, name], owners) for name in _linked(kind)}
    return [_record(kind, row, {name: owned[row["uid"]] for name, owned in lists.items()}) for row in rows]


def _record(kind: type[R], row: Mapping[Any, Any], links: Mapping[str, list[Any]]) -> R:
    try:
        values = {
            name: spec.from_links(links[name]) if isinstance(spec, Names) else spec.from_row(name, row)
            for name, spec in specs(kind).items()
        }
    except (ValueError, TypeError, RecursionError) as error:
        raise LibraryError(
            f"The {said(kind)} {row['uid']!r} is damaged ({error}). Restore the latest backup into a new folder."
        ) from None
    there = {name: value for name, value in values.items() if value is not None}
    return kind(uid=row["uid"], version=row["version"], **there)


def content_of(record: Record) -> str:
    """The record as the history keeps it."""
    return as_json(plain(record))


def _linked(kind: type[Record]) -> dict[str, Names]:
    return {name: spec for name, spec in specs(kind).items() if isinstance(spec, Names)}


def _read_links(connection: sa.Connection, table: sa.Table, owners: Sequence[str]) -> Mapping[str, list[Any]]:
    """Owner -> its rows in a link table, in order."""
    found: dict[str, list[Any]] = defaultdict(list)
    for start in range(0, len(owners), _ENOUGH):
        some = table.c.owner_uid.in_(owners[start : start + _ENOUGH])
        for row in connection.execute(sa.select(table).where(some).order_by(table.c.position)).mappings():
            found[row["owner_uid"]].append(row)
    return found


def _words(value: str | Iterable[str]) -> str:
    return value if isinstance(value, str) else " ".join(value)
