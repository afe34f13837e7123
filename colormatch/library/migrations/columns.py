"""Columns and tables as the revisions write them: a record has uid, version, saved_at, binned_at and its own."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

Columns = list[sa.Column[Any]]


def table(name: str, *columns: Columns) -> None:
    """The table of a kind of record, an index on what points at others."""
    own = [column for several in columns for column in several]
    record: Columns = [
        sa.Column("uid", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
    ]
    op.create_table(name, *record, *texts("saved_at"), *maybe("binned_at"), *own)
    for column in own:
        if column.foreign_keys:
            op.create_index(f"ix_{name}_{column.name}", name, [column.name])


def links(owner: str, name: str, points_at: str | None = None, *, amount: bool = False) -> None:
    """The table of a list of texts, uids or loads."""
    key = [sa.ForeignKey(f"{points_at}.uid")] if points_at else []
    op.create_table(
        f"{owner}_{name}",
        sa.Column("owner_uid", sa.Text, sa.ForeignKey(f"{owner}.uid"), primary_key=True),
        sa.Column("position", sa.Integer, primary_key=True),
        sa.Column("item", sa.Text, *key, nullable=False),
        *(numbers("amount", required=True) if amount else []),
    )
    op.create_index(f"ix_{owner}_{name}_item", f"{owner}_{name}", ["item"])


def add(to: str, *columns: Columns) -> None:
    """New columns of a table that is there."""
    for column in (column for several in columns for column in several):
        op.add_column(to, column)


def texts(*names: str, new: bool = False) -> Columns:
    """Texts, empty for nothing; new: in a table that has rows."""
    return [sa.Column(name, sa.Text, nullable=False, server_default="" if new else None) for name in names]


def maybe(*names: str) -> Columns:
    """Days and moments."""
    return [sa.Column(name, sa.Text) for name in names]


def numbers(*names: str, required: bool = False) -> Columns:
    """Real numbers."""
    return [sa.Column(name, sa.Double, nullable=not required) for name in names]


def wholes(*names: str) -> Columns:
    """Whole numbers."""
    return [sa.Column(name, sa.BigInteger) for name in names]


def others(kind: type[Any], *names: str) -> Columns:
    """Flags and bytes."""
    return [sa.Column(name, kind, nullable=False) for name in names]


def references(*, required: bool = False, **tables: str) -> Columns:
    """Uids of records in other tables."""
    return [
        sa.Column(name, sa.Text, sa.ForeignKey(f"{each}.uid"), nullable=not required) for name, each in tables.items()
    ]
