"""The first tables."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make every table, those that are pointed at first."""
    _materials()
    _pictures()
    _tiles_and_palettes()
    _recipes_and_designs()
    _batches()
    _swatches()
    op.create_table(
        "history",
        sa.Column("kind", sa.Text, primary_key=True),
        sa.Column("uid", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, primary_key=True),
        sa.Column("saved_at", sa.Text, nullable=False),
        sa.Column("content", sa.Text, nullable=False),
    )


def _materials() -> None:
    _table("studio", _text("name"), _flag("invented"), _text("currency"), _text("settings"), _text("notes"))
    _table("cements", _text("name"), _text("tone"), _number("warn_below_g"), _text("notes"))
    _table(
        "cement_lots",
        _reference("cement_uid", "cements", required=True), _text("lot"), _optional("bought_on"),
        _optional("opened_on"), _number("price_per_kg"), _number("stock_g"), _text("notes"),
    )  # fmt: skip
    _table(
        "pigments",
        _text("name"), _text("chemistry"), _text("like"), _number("maximum_load"), _number("warn_below_g"),
        _text("notes"),
    )  # fmt: skip
    _table(
        "pigment_lots",
        _reference("pigment_uid", "pigments", required=True), _text("lot"), _optional("bought_on"),
        _number("price_per_kg"), _number("stock_g"), _text("notes"),
    )  # fmt: skip
    _table(
        "moulds",
        _text("name"), _number("fill_weight_g"), _number("volume_ml"), _number("cement_g"), _text("notes"),
    )  # fmt: skip


def _pictures() -> None:
    _table(
        "photographs",
        _text("media_type"), _whole("width_px"), _whole("height_px"), _whole("size_bytes"),
        _text("file_name"), _optional("taken_on"), _text("notes"),
    )  # fmt: skip
    _table(
        "camera_profiles",
        _text("name"), _optional("made_on"), _reference("photograph_uid", "photographs"), _text("content"),
        _text("notes"),
    )  # fmt: skip


def _tiles_and_palettes() -> None:
    _table(
        "tiles",
        _reference("cement_uid", "cements", required=True), _reference("cement_lot_uid", "cement_lots"),
        _number("water_per_cement"), _number("sand_per_cement"), _optional("cast_on"), _text("notes"),
    )  # fmt: skip
    _links("tiles", "loads", "pigments", amount=True)
    _links("tiles", "tags")
    _table(
        "learned_palettes",
        _text("name"), _whole("number"), _optional("learned_on"), _text("media_type"),
        sa.Column("payload", sa.LargeBinary, nullable=False), _text("notes"),
    )  # fmt: skip
    _links("learned_palettes", "tiles", "tiles")


def _recipes_and_designs() -> None:
    _table(
        "recipes",
        _text("name"), _reference("cement_uid", "cements", required=True), _number("wanted_lab_l"),
        _number("wanted_lab_a"), _number("wanted_lab_b"), _text("wanted_covariance"),
        _reference("palette_uid", "learned_palettes"), _text("outcome"), _optional("made_on"), _text("notes"),
    )  # fmt: skip
    _links("recipes", "loads", "pigments", amount=True)
    _links("recipes", "tags")
    _table(
        "designs",
        _text("name"), _reference("mould_uid", "moulds"), _text("content"), _optional("made_on"),
        _text("notes"),
    )  # fmt: skip
    _links("designs", "recipes", "recipes")
    _links("designs", "tags")


def _batches() -> None:
    _table(
        "batches",
        _text("name"), _reference("recipe_uid", "recipes"), _reference("design_uid", "designs"),
        _reference("mould_uid", "moulds"), _optional("made_on"), _whole("pieces"), _number("cement_g"),
        _text("stage"), _flag("drawn_down"), _text("content"), _text("notes"),
    )  # fmt: skip
    _table(
        "weighings",
        _reference("batch_uid", "batches", required=True), _text("material"), _text("bowl"),
        _reference("pigment_lot_uid", "pigment_lots"), _reference("cement_lot_uid", "cement_lots"),
        _number("planned_g"), _number("weighed_g"), _optional("weighed_at"), _text("notes"),
    )  # fmt: skip
    _table(
        "drying_weights",
        _reference("batch_uid", "batches", required=True), _text("piece"), _optional("weighed_at"),
        _number("hours"), _number("mass_g", required=True), _text("notes"),
    )  # fmt: skip


def _swatches() -> None:
    _table(
        "swatches",
        _text("name"), _reference("cement_uid", "cements"), _reference("recipe_uid", "recipes"),
        _reference("tile_uid", "tiles"), _reference("batch_uid", "batches"),
        _reference("mould_uid", "moulds"), _optional("made_on"), _text("notes"),
    )  # fmt: skip
    _links("swatches", "tags")
    _links("swatches", "photographs", "photographs")
    _table(
        "shades",
        _reference("swatch_uid", "swatches"), _reference("tile_uid", "tiles"), _text("state"),
        _number("lab_l", required=True), _number("lab_a", required=True), _number("lab_b", required=True),
        _text("covariance"), _optional("measured_on"), _reference("photograph_uid", "photographs"),
        _text("provenance"), _text("notes"),
    )  # fmt: skip


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


def _links(owner: str, name: str, points_at: str | None = None, *, amount: bool = False) -> None:
    table = f"{owner}_{name}"
    key = [sa.ForeignKey(f"{points_at}.uid")] if points_at else []
    op.create_table(
        table,
        sa.Column("owner_uid", sa.Text, sa.ForeignKey(f"{owner}.uid"), primary_key=True),
        sa.Column("position", sa.Integer, primary_key=True),
        sa.Column("item", sa.Text, *key, nullable=False),
        *([sa.Column("amount", sa.Double, nullable=False)] if amount else []),
    )
    op.create_index(f"ix_{table}_item", table, ["item"])


def _text(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Text, nullable=False)


def _optional(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Text)


def _number(name: str, *, required: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.Double, nullable=not required)


def _whole(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.BigInteger)


def _flag(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Boolean, nullable=False)


def _reference(name: str, table: str, *, required: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.Text, sa.ForeignKey(f"{table}.uid"), nullable=not required)
