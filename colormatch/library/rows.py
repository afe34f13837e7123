"""Records to rows of the tables and back."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, TypeVar

import sqlalchemy as sa

from .fields import Spec, specs
from .plain import folded, plain
from .records import Record
from .schema import LAB_COLUMNS, LINKED, LINKS, TABLES

R = TypeVar("R", bound=Record)

_ENOUGH = 500  # uids asked for in one statement: well under what either database takes


def row_of(record: Record) -> dict[str, Any]:
    """Column name -> value of a checked record, without saved_at and binned_at."""
    row: dict[str, Any] = {"uid": record.uid, "version": record.version}
    for name, spec in specs(type(record)).items():
        value = getattr(record, name)
        if spec.form == "lab":
            row |= {f"{name}_{x}": None if value is None else value[i] for i, x in enumerate(LAB_COLUMNS)}
        elif spec.form not in LINKED:
            row[name] = _stored(spec, value)
    if record.SEARCHED:
        row["searched"] = folded(" ".join(_words(getattr(record, name)) for name in record.SEARCHED))
    return row


def insert_links(connection: sa.Connection, kind: type[R], records: Sequence[R]) -> None:
    """Put the tags, uids and loads of records of one kind in their link tables."""
    for name, spec in specs(kind).items():
        if spec.form in LINKED:
            rows = [row for record in records for row in _link_rows(spec, record.uid, getattr(record, name))]
            if rows:
                connection.execute(sa.insert(LINKS[kind.KIND, name]), rows)


def delete_links(connection: sa.Connection, kind: type[Record], uid: str) -> None:
    """Take the tags, uids and loads of a record out of their link tables."""
    for name, spec in specs(kind).items():
        if spec.form in LINKED:
            table = LINKS[kind.KIND, name]
            connection.execute(sa.delete(table).where(table.c.owner_uid == uid))


def read_records(connection: sa.Connection, kind: type[R], *where: sa.ColumnElement[bool]) -> list[R]:
    """The records of a kind that satisfy the conditions, ordered by uid."""
    table = TABLES[kind.KIND]
    found = connection.execute(sa.select(table).where(*where)).mappings().all()
    # Sorted here: each database has its own idea of the order of letters.
    return records_of(connection, kind, sorted(found, key=lambda row: str(row["uid"])))


def records_of(connection: sa.Connection, kind: type[R], rows: Sequence[Mapping[Any, Any]]) -> list[R]:
    """The records of rows of their table, in the order of the rows."""
    lists = {
        name: _linked(connection, LINKS[kind.KIND, name], spec, [row["uid"] for row in rows])
        for name, spec in specs(kind).items()
        if spec.form in LINKED
    }
    return [_record(kind, row, {name: owned.get(row["uid"]) for name, owned in lists.items()}) for row in rows]


def content_of(record: Record) -> str:
    """The record as the history keeps it: JSON, keys sorted."""
    return json.dumps(plain(record), ensure_ascii=False, sort_keys=True)


def _link_rows(spec: Spec, uid: str, value: Any) -> list[dict[str, Any]]:
    rows = [{"owner_uid": uid, "position": i, "item": item} for i, item in enumerate(value)]
    return [{**row, "amount": value[row["item"]]} for row in rows] if spec.form == "loads" else rows


def _linked(
    connection: sa.Connection, table: sa.Table, spec: Spec, owners: Sequence[str]
) -> dict[str, dict[str, float] | tuple[str, ...]]:
    gathered: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    wanted = [table.c.owner_uid, table.c.item, *([table.c.amount] if spec.form == "loads" else [])]
    for start in range(0, len(owners), _ENOUGH):
        some = owners[start : start + _ENOUGH]
        query = sa.select(*wanted).where(table.c.owner_uid.in_(some)).order_by(table.c.owner_uid, table.c.position)
        for owner, *rest in connection.execute(query):
            gathered[owner].append(tuple(rest))
    if spec.form == "loads":
        return {owner: dict(pairs) for owner, pairs in gathered.items()}
    return {owner: tuple(item for (item,) in items) for owner, items in gathered.items()}


def _record(kind: type[R], row: Mapping[Any, Any], lists: Mapping[str, Any]) -> R:
    values: dict[str, Any] = {name: value for name, value in lists.items() if value is not None}
    for name, spec in specs(kind).items():
        if spec.form == "lab":
            if row[f"{name}_l"] is not None:
                values[name] = tuple(row[f"{name}_{axis}"] for axis in LAB_COLUMNS)
        elif spec.form not in LINKED and row[name] is not None:
            values[name] = _restored(spec.form, row[name])
    return kind(uid=row["uid"], version=row["version"], **values)


def _stored(spec: Spec, value: Any) -> Any:
    if value is None:
        return None
    if spec.form in ("day", "moment"):
        return value.isoformat()
    if spec.form in ("numbers", "matrix", "mapping"):
        return json.dumps(value, ensure_ascii=False) if value else ""
    return value


def _restored(form: str, value: Any) -> Any:
    match form:
        case "day":
            return date.fromisoformat(value)
        case "moment":
            return datetime.fromisoformat(value)
        case "flag":
            return bool(value)
        case "mapping":
            return json.loads(value) if value else {}
        case "numbers":
            return tuple(json.loads(value)) if value else ()
        case "matrix":
            return tuple(tuple(row) for row in json.loads(value)) if value else ()
    return value


def _words(value: str | Iterable[str]) -> str:
    return value if isinstance(value, str) else " ".join(value)
