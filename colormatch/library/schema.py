"""The tables, made from the records: one table per kind, one link table per list of uids, tags or loads.

Migrations (migrations/versions) write the same tables out by hand; a test compares the two.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import sqlalchemy as sa

from .fields import Spec, specs
from .records import KINDS, Record

HEAD = "0003"
LAB_COLUMNS = ("l", "a", "b")

metadata = sa.MetaData()

history = sa.Table(
    "history",
    metadata,
    sa.Column("kind", sa.Text, primary_key=True),
    sa.Column("uid", sa.Text, primary_key=True),
    sa.Column("version", sa.Integer, primary_key=True),
    sa.Column("saved_at", sa.Text, nullable=False),
    sa.Column("content", sa.Text, nullable=False),
)

# The photographs themselves, for a library on a database server; one on SQLite keeps them as files beside it.
photograph_files = sa.Table(
    "photograph_files",
    metadata,
    sa.Column("sha256", sa.Text, primary_key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
)

_TYPES: dict[str, Any] = {
    "text": sa.Text, "number": sa.Double, "whole": sa.BigInteger, "flag": sa.Boolean, "day": sa.Text,
    "moment": sa.Text, "reference": sa.Text, "numbers": sa.Text, "matrix": sa.Text, "mapping": sa.Text,
    "blob": sa.LargeBinary,
}  # fmt: skip
LINKED = ("loads", "names")


def _columns(name: str, spec: Spec) -> list[sa.Column[Any]]:
    if spec.form == "lab":
        return [sa.Column(f"{name}_{axis}", sa.Double, nullable=not spec.required) for axis in LAB_COLUMNS]
    points_at: list[sa.ForeignKey] = []
    if spec.form == "reference" and spec.kind:
        points_at = [sa.ForeignKey(f"{KINDS[spec.kind].TABLE}.uid")]
    optional = spec.form in ("number", "whole", "day", "moment", "reference") and not spec.required
    return [sa.Column(name, _TYPES[spec.form], *points_at, nullable=optional, index=bool(points_at))]


def _table(kind: type[Record]) -> sa.Table:
    columns: list[Any] = [
        sa.Column("uid", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("saved_at", sa.Text, nullable=False),
        sa.Column("binned_at", sa.Text),
    ]
    for name, spec in specs(kind).items():
        if spec.form not in LINKED:
            columns += _columns(name, spec)
    if kind.SEARCHED:
        columns.append(sa.Column("searched", sa.Text, nullable=False))
    return sa.Table(kind.TABLE, metadata, *columns)


def _link_table(kind: type[Record], name: str, spec: Spec) -> sa.Table:
    points_at = [sa.ForeignKey(f"{KINDS[spec.kind].TABLE}.uid")] if spec.kind else []
    columns: list[Any] = [
        sa.Column("owner_uid", sa.Text, sa.ForeignKey(f"{kind.TABLE}.uid"), primary_key=True),
        sa.Column("position", sa.Integer, primary_key=True),
        sa.Column("item", sa.Text, *points_at, nullable=False, index=True),
    ]
    if spec.form == "loads":
        columns.append(sa.Column("amount", sa.Double, nullable=False))
    return sa.Table(f"{kind.TABLE}_{name}", metadata, *columns)


TABLES: dict[str, sa.Table] = {}
LINKS: dict[tuple[str, str], sa.Table] = {}
for _kind in KINDS.values():
    TABLES[_kind.KIND] = _table(_kind)
    for _name, _spec in specs(_kind).items():
        if _spec.form in LINKED:
            LINKS[_kind.KIND, _name] = _link_table(_kind, _name, _spec)

_shades = TABLES["shade"]
# Holds all that the search by colour reads, so that it never touches the table itself.
sa.Index(
    "ix_shades_colour",
    _shades.c.state, _shades.c.lab_l, _shades.c.lab_a, _shades.c.lab_b, _shades.c.swatch_uid,
    _shades.c.uid, _shades.c.binned_at,
)  # fmt: skip
sa.Index("ix_swatches_made_on", TABLES["swatch"].c.made_on)


@cache
def users_of(kind: str) -> tuple[tuple[str, str, bool], ...]:
    """(kind, field, owned) of every field that points at this kind of record."""
    return tuple(
        (other.KIND, name, spec.owned)
        for other in KINDS.values()
        for name, spec in specs(other).items()
        if spec.kind == kind
    )
