"""The tables, made from the records: one table per kind, one link table per list of uids, tags or loads.

Migrations (migrations/versions) write the same tables out by hand; a test compares the two.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import sqlalchemy as sa

from .compounds import Loads, Names
from .fields import Field, specs
from .record import Record
from .records import KINDS

HEAD = "0003"

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


def _table(kind: type[Record]) -> sa.Table:
    columns: list[Any] = [
        sa.Column("uid", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("saved_at", sa.Text, nullable=False),
        sa.Column("binned_at", sa.Text),
    ]
    for name, spec in specs(kind).items():
        columns += spec.columns(name, *_key(spec))
    if kind.SEARCHED:
        columns.append(sa.Column("searched", sa.Text, nullable=False))
    return sa.Table(kind.TABLE, metadata, *columns)


def _link_table(kind: type[Record], name: str, spec: Names) -> sa.Table:
    columns: list[Any] = [
        sa.Column("owner_uid", sa.Text, sa.ForeignKey(f"{kind.TABLE}.uid"), primary_key=True),
        sa.Column("position", sa.Integer, primary_key=True),
        sa.Column("item", sa.Text, *_key(spec), nullable=False, index=True),
    ]
    if isinstance(spec, Loads):
        columns.append(sa.Column("amount", sa.Double, nullable=False))
    return sa.Table(f"{kind.TABLE}_{name}", metadata, *columns)


def _key(spec: Field) -> list[sa.ForeignKey]:
    return [sa.ForeignKey(f"{KINDS[spec.kind].TABLE}.uid")] if spec.kind else []


TABLES = {kind.KIND: _table(kind) for kind in KINDS.values()}
LINKS = {
    (kind.KIND, name): _link_table(kind, name, spec)
    for kind in KINDS.values()
    for name, spec in specs(kind).items()
    if isinstance(spec, Names)
}

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
