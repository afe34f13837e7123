"""Pieces with their lives, work in hand, what a cement's sheet says, jars used up, shades that are not final."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables of pieces and drafts, and add the new columns."""
    _table(
        "pieces",
        *_texts("name", "bowl", "sealer", "mould_finish", "conditions", "notes"),
        *_references(batch_uid="batches", swatch_uid="swatches", recipe_uid="recipes"),
        *_maybe(sa.Text, "cast_at", "demould_due_at", "demoulded_at", "moist_until", "sealed_at", "sold_on"),
        *_maybe(sa.Double, "water_per_cement", "temperature_c", "humidity_percent"),
    )
    _table("drafts", *_texts("what", "key", "title", "content", "device"), *_maybe(sa.Text, "changed_at"))
    _add("cements", _new_text("kind"), *_maybe(sa.Double, "demould_after_h", "moist_days", "seal_after_days"))
    _add("cement_lots", *_maybe(sa.Text, "used_up_on"))
    _add("pigment_lots", *_maybe(sa.Text, "used_up_on"))
    _add("batches", _new_text("code"), _new_text("planned"))
    _add("weighings", *_maybe(sa.BigInteger, "step"))
    _add("shades", *_maybe(sa.Text, "final_from"))
    for table in ("drying_weights", "shades"):
        # In SQL, as Alembic adds no column that points at another table on SQLite.
        op.execute(f"ALTER TABLE {table} ADD COLUMN piece_uid TEXT REFERENCES pieces (uid)")
        op.create_index(f"ix_{table}_piece_uid", table, ["piece_uid"])


def _table(name: str, *columns: sa.Column[Any]) -> None:
    op.create_table(
        name,
        sa.Column("uid", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("saved_at", sa.Text, nullable=False),
        sa.Column("binned_at", sa.Text),
        *columns,
    )
    for column in columns:
        if column.foreign_keys:
            op.create_index(f"ix_{name}_{column.name}", name, [column.name])


def _add(table: str, *columns: sa.Column[Any]) -> None:
    for column in columns:
        op.add_column(table, column)


def _texts(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _new_text(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _maybe(kind: type[Any], *names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, kind) for name in names]


def _references(**tables: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text, sa.ForeignKey(f"{table}.uid")) for name, table in tables.items()]
