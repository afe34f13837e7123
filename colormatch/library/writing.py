"""Keeping one record inside a writing transaction: its uid, its version, what it points at, its history."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import replace
from itertools import chain, count, groupby
from typing import TypeVar

import sqlalchemy as sa

from ..errors import LibraryError
from .errors import ConflictError, NotInLibrary
from .fields import specs
from .materials import Studio
from .plain import said
from .record import Record, new_uid
from .records import KINDS
from .rows import content_of, delete_links, insert_links, read_records, row_of
from .schema import TABLES, history
from .values import slug

R = TypeVar("R", bound=Record)

_NAMED = ("cement", "pigment", "mould", "camera_profile")  # whose uid is made from the name


def keep(connection: sa.Connection, record: R, stamp: str) -> R:
    """Insert or update a checked record; the record with its uid and version; an unchanged one stays."""
    if not record.uid:
        record = replace(record, uid=_made_uid(connection, record))
    kind = type(record)
    there = existing(connection, kind, record.uid)
    if there is None:
        _require_new(record)
        _require_pointed_at(connection, record)
        record = replace(record, version=1)
        connection.execute(sa.insert(TABLES[kind.KIND]), {**row_of(record), "saved_at": stamp})
        insert_links(connection, kind, [record])
        return record
    _require_same_version(connection, there, record)
    if there == record:
        return there
    _require_pointed_at(connection, record)
    _to_history(connection, there)
    record = replace(record, version=there.version + 1)
    table = TABLES[kind.KIND]
    connection.execute(sa.update(table).where(table.c.uid == record.uid).values(**row_of(record), saved_at=stamp))
    delete_links(connection, kind, record.uid)
    insert_links(connection, kind, [record])
    return record


def insert_all(connection: sa.Connection, records: Sequence[Record], stamp: str) -> None:
    """Insert many checked, new records whose references are known to be there, those pointed at first."""
    for kind, alike in groupby(records, key=lambda each: KINDS[each.KIND]):
        group = [replace(record, version=1) for record in alike]
        connection.execute(sa.insert(TABLES[kind.KIND]), [{**row_of(each), "saved_at": stamp} for each in group])
        insert_links(connection, kind, group)


def existing(connection: sa.Connection, kind: type[R], uid: str) -> R | None:
    """The record, in the bin or not, or None."""
    found = read_records(connection, kind, TABLES[kind.KIND].c.uid == uid)
    return found[0] if found else None


def present(connection: sa.Connection, kind: type[R], uid: str) -> R:
    """The record; NotInLibrary when there is none, or when it is in the bin."""
    record = existing(connection, kind, uid)
    if record is None:
        raise NotInLibrary(f"There is no {said(kind)} {uid[:60]!r} in the library.")
    if binned_at(connection, kind.KIND, uid):
        raise NotInLibrary(f"The {said(kind)} {uid!r} is in the bin; restore it first.")
    return record


def binned_at(connection: sa.Connection, kind: str, uid: str) -> str | None:
    """Since when a record is in the bin (ISO 8601, UTC); None where it is not."""
    table = TABLES[kind]
    return connection.execute(sa.select(table.c.binned_at).where(table.c.uid == uid)).scalar()


def pointed_at(record: Record) -> list[tuple[str, str]]:
    """(kind, uid) of every record this one points at."""
    return [
        (spec.kind or "", uid) for name, spec in specs(type(record)).items() for uid in spec.uids(getattr(record, name))
    ]


def _require_new(record: Record) -> None:
    if record.version:
        raise ConflictError(
            f"The {said(type(record))} {record.uid!r} was removed by someone else since it was read. "
            "Save it as a new one if it shall be kept."
        )
    if isinstance(record, Studio) and record.uid != "studio":
        raise LibraryError(f"There is one studio in a library, with the uid 'studio', not {record.uid!r}.")


def _require_same_version(connection: sa.Connection, there: Record, record: Record) -> None:
    whose = f"The {said(type(record))} {record.uid!r}"
    if binned_at(connection, there.KIND, there.uid):
        raise ConflictError(f"{whose} is in the bin; restore it first.")
    if record.version == 0 and there != record:
        raise ConflictError(f"{whose} is already in the library. Read it first to edit it, or choose another uid.")
    if record.version not in (0, there.version):
        raise ConflictError(
            f"{whose} was changed by someone else since it was read (version {record.version} was read, "
            f"{there.version} is there). Read it again and repeat the edit."
        )


def _require_pointed_at(connection: sa.Connection, record: Record) -> None:
    for kind, uid in pointed_at(record):
        table = TABLES[kind]
        row = connection.execute(sa.select(table.c.binned_at).where(table.c.uid == uid)).first()
        if row is None or row[0] is not None:
            what = "is in the bin; restore it first" if row else "is not in the library; save it first"
            raise LibraryError(f"The {said(type(record))} needs the {said(KINDS[kind])} {uid[:60]!r}, which {what}.")


def _to_history(connection: sa.Connection, there: Record) -> None:
    table = TABLES[there.KIND]
    saved_at = connection.execute(sa.select(table.c.saved_at).where(table.c.uid == there.uid)).scalar()
    connection.execute(
        sa.insert(history),
        {
            "kind": there.KIND, "uid": there.uid, "version": there.version, "saved_at": saved_at,
            "content": content_of(there),
        },
    )  # fmt: skip


def _made_uid(connection: sa.Connection, record: Record) -> str:
    if isinstance(record, Studio):
        return "studio"
    if record.KIND not in _NAMED:
        return new_uid()
    return fresh_uid(connection, type(record), str(getattr(record, "name", "")))


def fresh_uid(connection: sa.Connection, kind: type[Record], name: str, never: Container[str] = ()) -> str:
    """A readable uid made from a name: one that no record of the kind has, binned ones too, nor stands in `never`."""
    stem, uids = slug(name) or kind.KIND, TABLES[kind.KIND].c.uid
    taken = set(connection.execute(sa.select(uids).where(uids.startswith(stem, autoescape=True))).scalars())
    ways = chain([stem], (f"{stem}-{number}" for number in count(2)))
    return next(each for each in ways if each not in taken and each not in never)
