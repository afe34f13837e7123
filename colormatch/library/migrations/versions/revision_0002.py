"""Defects, measured spectra, photographs inside a database server, search by words and by colour."""

import unicodedata

import sqlalchemy as sa
from alembic import op

from colormatch.library.migrations.columns import add, maybe, others, references, table, texts

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add what is new; fill the searched words of the swatches that are there."""
    add("shades", texts("wavelength_nm", "reflectance", new=True))
    colour = ["state", "lab_l", "lab_a", "lab_b", "swatch_uid", "uid", "binned_at"]
    op.create_index("ix_shades_colour", "shades", colour)
    add("swatches", texts("searched", new=True))
    op.create_index("ix_swatches_made_on", "swatches", ["made_on"])
    _fill_searched()
    op.create_table(
        "photograph_files", sa.Column("sha256", sa.Text, primary_key=True), *others(sa.LargeBinary, "content")
    )
    pointing = references(batch_uid="batches", swatch_uid="swatches", photograph_uid="photographs")
    table("defects", texts("name", "notes"), pointing, maybe("seen_on"))


def _fill_searched() -> None:
    connection = op.get_bind()
    tags: dict[str, list[str]] = {}
    for owner, item in connection.execute(
        sa.text("SELECT owner_uid, item FROM swatches_tags ORDER BY owner_uid, position")
    ):
        tags.setdefault(owner, []).append(item)
    for uid, name, notes in connection.execute(sa.text("SELECT uid, name, notes FROM swatches")).all():
        words = " ".join([name, " ".join(tags.get(uid, [])), notes])
        searched = unicodedata.normalize("NFKC", words).casefold()
        change = sa.text("UPDATE swatches SET searched = :searched WHERE uid = :uid")
        connection.execute(change, {"searched": searched, "uid": uid})
