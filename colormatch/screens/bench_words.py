"""Batches and pieces as cards and lines: what they are called, where they are, and how they look."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, date, datetime

import streamlit as st

from colormatch.colorimetry import lab_to_hex
from colormatch.errors import InputError
from colormatch.library import BatchRecord, CementLot, DryingWeight, Piece, PigmentLot, ShadeRecord
from colormatch.loads import Mix
from colormatch.palette import Palette
from colormatch.saying import shade_name
from colormatch.screens.state import kept
from colormatch.screens.studios import library
from colormatch.screens.tapping import Card
from colormatch.shade import Shade
from colormatch.weighed import bowls_of, mix_of
from colormatch.workshop.pieces import Stage, dry_shade, stage
from colormatch.workshop.plans import plan_of
from colormatch.workshop.weighing import bowls_begun

# In the order of her day; "ready to seal" is measured dry, "to be measured" is dry and not measured yet.
STAGES: dict[Stage, str] = {
    "demould due": "Look at it now",
    "in the mould": "In the mould",
    "kept moist": "Kept moist",
    "to be measured": "Dry: measure it, then seal it",
    "ready to seal": "Ready to seal",
    "drying": "Drying",
    "sealed": "Sealed",
    "sold": "Done",
}


def day_words(day: date | datetime | None) -> str:
    """`27 November`, with the year where it is not this one; empty for none."""
    if day is None:
        return ""
    local = day.astimezone() if isinstance(day, datetime) else day
    year = f" {local.year}" if local.year != date.today().year else ""
    return f"{local.day} {local:%B}{year}"


def moment_words(moment: datetime | None) -> str:
    """`27 November, 14:20`; empty for none."""
    return "" if moment is None else f"{day_words(moment)}, {moment.astimezone():%H:%M}"


def lot_words(lot: CementLot | PigmentLot, number: int) -> str:
    """`Bag 2, L 17, bought 03.11.2026, 4200 g left`."""
    told = [f"{'Bag' if isinstance(lot, CementLot) else 'Jar'} {number}", lot.lot]
    told.append(f"bought {lot.bought_on:%d.%m.%Y}" if lot.bought_on else "")
    told.append(f"{lot.stock_g:g} g left" if lot.stock_g is not None else "")
    return ", ".join(filter(None, told))


def stage_now(piece: Piece) -> Stage:
    """Where a piece is; worked out once for what is known of it, because a drying curve takes a moment."""
    weights = library().list(DryingWeight, piece_uid=piece.uid)
    shades = library().list(ShadeRecord, piece_uid=piece.uid)
    stamp = (piece.version, len(weights), len(shades), int(datetime.now(UTC).timestamp() // 300))
    slot = kept(f"bench.stage.{piece.uid}")
    if st.session_state.get(slot, (None, None))[0] != stamp:
        found: Stage = "drying"
        with suppress(InputError):  # weights that contradict each other: the piece's own page says which
            found = stage(library(), piece)
        st.session_state[slot] = (stamp, found)
    known: Stage = st.session_state[slot][1]
    return known


def batch_card(batch: BatchRecord, known: Palette) -> Card:
    """A batch that is planned or being weighed: the dry shades of its bowls, how far it is, and its code."""
    if batch.planned:
        mixes = [Mix(bowl.base, bowl.loads) for bowl in plan_of(batch).batch.bowls]
    else:
        mixes = [each.mix for each in bowls_of(library(), batch) if each.mix is not None]
    pieces = f"{batch.pieces} pieces" if (batch.pieces or 1) > 1 else "one piece"
    where = f", {day_words(batch.made_on)}" if batch.made_on else ""
    if batch.stage == "weighing":
        where = f", {weighing_words(batch)}"
    return _card(batch.uid, batch.name, f"{pieces}{where}", _predicted(mixes, known), batch.code)


def weighing_words(batch: BatchRecord) -> str:
    """`step 3 of 6`, `bowl 2, step 1 of 5`, or that everything is in."""
    bowls = bowls_begun(library(), batch)
    left = next((each for each in bowls if not each.state.done), None)
    if left is None:
        return "everything is in"
    step, of = left.place
    return f"{f'bowl {left.number}, ' if left.of > 1 else ''}step {step} of {of}"


def piece_card(piece: Piece, known: Palette, line: str) -> Card:
    """A piece: its measured shade, else what it is predicted to dry to; of two tones both."""
    batch = library().find_one(BatchRecord, piece.batch_uid) if piece.batch_uid else None
    found = piece_shade(piece, known)
    shades = [found] if found else []
    if not shades and batch is not None:
        shades = _predicted([each.mix for each in bowls_of(library(), batch) if each.mix is not None], known)
    return _card(piece.uid, piece.name, line, shades, batch.code if batch else "")


def _predicted(mixes: Sequence[Mix], known: Palette) -> list[tuple[str, Shade]]:
    return [("predicted dry", known.predict(mix.loads, mix.base)) for mix in mixes if mix.base in known.bases]


def _card(uid: str, title: str, line: str, shades: Sequence[tuple[str, Shade]], note: str) -> Card:
    alt = " and ".join(f"{shade_name(shade.lab)}, {word}" for word, shade in shades)
    colours = tuple(str(lab_to_hex(shade.lab)) for _, shade in shades)
    return Card(uid, title, (line,), colours, alt=alt, note=note)


def piece_shade(piece: Piece, known: Palette) -> tuple[str, Shade] | None:
    """(`measured dry` or `predicted dry`, that shade); None where nothing is known."""
    dry = dry_shade(library(), piece)
    if dry is not None:
        return "measured dry", dry.shade()
    mix = mix_of(library(), piece).mix
    if mix is None or mix.base not in known.bases:
        return None
    return "predicted dry", known.predict(mix.loads, mix.base)
