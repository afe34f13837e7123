"""Defects, measured spectra, photographs inside a database server, search by words and by colour."""

import unicodedata

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add what is new; fill the searched words of the swatches that are there."""
    for column in ("wavelength_nm", "reflectance"):
        op.add_column("shades", sa.Column(column, sa.Text, nullable=False, server_default=""))
    op.create_index(
        "ix_shades_colour", "shades", ["state", "lab_l", "lab_a", "lab_b", "swatch_uid", "uid", "binned_at"]
    )
    op.add_column("swatches", sa.Column("searched", sa.Text, nullable=False, server_default=""))
    op.create_index("ix_swatches_made_on", "swatches", ["made_on"])
    _fill_searched()
    op.create_table(
        "photograph_files",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    _defects()


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
        connection.execute(
            sa.text("UPDATE swatches SET searched = :searched WHERE uid = :uid"),
            {"searched": searched, "uid": uid},
        )


def _defects() -> None:
    op.create_table(
        "defects",
        sa.Column("uid", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("saved_at", sa.Text, nullable=False),
        sa.Column("binned_at", sa.Text),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("batch_uid", sa.Text, sa.ForeignKey("batches.uid")),
        sa.Column("swatch_uid", sa.Text, sa.ForeignKey("swatches.uid")),
        sa.Column("photograph_uid", sa.Text, sa.ForeignKey("photographs.uid")),
        sa.Column("seen_on", sa.Text),
        sa.Column("notes", sa.Text, nullable=False),
    )
    for column in ("batch_uid", "swatch_uid", "photograph_uid"):
        op.create_index(f"ix_defects_{column}", "defects", [column])
