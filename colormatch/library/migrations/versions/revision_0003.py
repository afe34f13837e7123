"""Pieces with their lives, work in hand, what a cement's sheet says, jars used up, shades that are not final."""

from alembic import op

from colormatch.library.migrations.columns import add, maybe, numbers, references, table, texts, wholes

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables of pieces and drafts, and add the new columns."""
    table(
        "pieces",
        texts("name", "bowl", "sealer", "mould_finish", "conditions", "notes"),
        references(batch_uid="batches", swatch_uid="swatches", recipe_uid="recipes"),
        maybe("cast_at", "demould_due_at", "demoulded_at", "moist_until", "sealed_at", "sold_on"),
        numbers("water_per_cement", "temperature_c", "humidity_percent"),
    )
    table("drafts", texts("what", "key", "title", "content", "device"), maybe("changed_at"))
    add("cements", texts("kind", new=True), numbers("demould_after_h", "moist_days", "seal_after_days"))
    add("cement_lots", maybe("used_up_on"))
    add("pigment_lots", maybe("used_up_on"))
    add("batches", texts("code", "planned", new=True))
    add("weighings", wholes("step"))
    add("shades", maybe("final_from"))
    for owner in ("drying_weights", "shades"):
        # In SQL, as Alembic adds no column that points at another table on SQLite.
        op.execute(f"ALTER TABLE {owner} ADD COLUMN piece_uid TEXT REFERENCES pieces (uid)")
        op.create_index(f"ix_{owner}_piece_uid", owner, ["piece_uid"])
