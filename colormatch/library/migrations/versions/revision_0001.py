"""The first tables."""

import sqlalchemy as sa
from alembic import op

from colormatch.library.migrations.columns import links, maybe, numbers, others, references, table, texts, wholes

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make every table, those that are pointed at first."""
    _materials()
    _tiles_and_palettes()
    _recipes_and_batches()
    _swatches()
    op.create_table(
        "history",
        sa.Column("kind", sa.Text, primary_key=True),
        sa.Column("uid", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, primary_key=True),
        *texts("saved_at", "content"),
    )


def _materials() -> None:
    table("studio", texts("name", "currency", "settings", "notes"), others(sa.Boolean, "invented"))
    table("cements", texts("name", "tone", "notes"), numbers("warn_below_g"))
    table(
        "cement_lots",
        references(cement_uid="cements", required=True), texts("lot", "notes"), maybe("bought_on", "opened_on"),
        numbers("price_per_kg", "stock_g"),
    )  # fmt: skip
    table("pigments", texts("name", "chemistry", "like", "notes"), numbers("maximum_load", "warn_below_g"))
    table(
        "pigment_lots",
        references(pigment_uid="pigments", required=True), texts("lot", "notes"), maybe("bought_on"),
        numbers("price_per_kg", "stock_g"),
    )  # fmt: skip
    table("moulds", texts("name", "notes"), numbers("fill_weight_g", "volume_ml", "cement_g"))
    table(
        "photographs",
        texts("media_type", "file_name", "notes"), wholes("width_px", "height_px", "size_bytes"), maybe("taken_on"),
    )  # fmt: skip
    table(
        "camera_profiles",
        texts("name", "content", "notes"), maybe("made_on"), references(photograph_uid="photographs"),
    )  # fmt: skip


def _tiles_and_palettes() -> None:
    table(
        "tiles",
        references(cement_uid="cements", required=True), references(cement_lot_uid="cement_lots"),
        numbers("water_per_cement", "sand_per_cement"), maybe("cast_on"), texts("notes"),
    )  # fmt: skip
    links("tiles", "loads", "pigments", amount=True)
    links("tiles", "tags")
    table(
        "learned_palettes",
        texts("name", "media_type", "notes"), wholes("number"), maybe("learned_on"), others(sa.LargeBinary, "payload"),
    )  # fmt: skip
    links("learned_palettes", "tiles", "tiles")


def _recipes_and_batches() -> None:
    table(
        "recipes",
        references(cement_uid="cements", required=True), references(palette_uid="learned_palettes"),
        numbers("wanted_lab_l", "wanted_lab_a", "wanted_lab_b"), maybe("made_on"),
        texts("name", "wanted_covariance", "outcome", "notes"),
    )  # fmt: skip
    links("recipes", "loads", "pigments", amount=True)
    links("recipes", "tags")
    table("designs", texts("name", "content", "notes"), references(mould_uid="moulds"), maybe("made_on"))
    links("designs", "recipes", "recipes")
    links("designs", "tags")
    table(
        "batches",
        references(recipe_uid="recipes", design_uid="designs", mould_uid="moulds"), maybe("made_on"),
        wholes("pieces"), numbers("cement_g"), others(sa.Boolean, "drawn_down"),
        texts("name", "stage", "content", "notes"),
    )  # fmt: skip
    table(
        "weighings",
        references(batch_uid="batches", required=True), texts("material", "bowl", "notes"),
        references(pigment_lot_uid="pigment_lots", cement_lot_uid="cement_lots"), numbers("planned_g", "weighed_g"),
        maybe("weighed_at"),
    )  # fmt: skip
    table(
        "drying_weights",
        references(batch_uid="batches", required=True), texts("piece", "notes"), maybe("weighed_at"),
        numbers("hours"), numbers("mass_g", required=True),
    )  # fmt: skip


def _swatches() -> None:
    table(
        "swatches",
        texts("name", "notes"), maybe("made_on"),
        references(
            cement_uid="cements", recipe_uid="recipes", tile_uid="tiles", batch_uid="batches", mould_uid="moulds"
        ),
    )  # fmt: skip
    links("swatches", "tags")
    links("swatches", "photographs", "photographs")
    table(
        "shades",
        references(swatch_uid="swatches", tile_uid="tiles", photograph_uid="photographs"), maybe("measured_on"),
        numbers("lab_l", "lab_a", "lab_b", required=True), texts("state", "covariance", "provenance", "notes"),
    )  # fmt: skip
