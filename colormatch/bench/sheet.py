"""The batch sheet: everything the bench needs on one page, ready for HTML or PDF.

Names come from people: they are cut to a length, stripped of control characters and never trusted.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import cycle
from string import ascii_uppercase

from ..colorimetry import lab_to_hex
from ..errors import InputError
from ..naming import one_line
from ..palette import Palette
from ..states import state_words
from .batch import Batch, WeighedBowl
from .bowl import weighing_order
from .cautions import DEFERENCE, PRACTICE, STEPS, Step, caution_for

MOST_BOWLS, MOST_PIGMENTS = 4, 8  # what one A4 page holds in letters that can be read
_CODE_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"  # no 0, O, 1 or I
_STATES = ("demould", "dry", "sealed")  # what is looked at on the way
ADDITIVE_NOTE = "Additive (plasticiser): only in a pinch and as its data sheet says; too much marks the surface."


@dataclass(frozen=True, slots=True)
class Line:
    """One line to weigh: what, grams in the bowl and in one piece (as printed), and from which bag or jar.

    up_to: of the water, the most there may be in all; else empty. lot: empty where it is to be written in.
    """

    name: str
    grams: str
    per_piece: str
    kind: str  # "cement", "pigment" or "water"
    up_to: str = ""
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Chip:
    """A predicted shade: a letter to find it by in black and white, its state, its numbers, its colour."""

    letter: str
    state: str
    numbers: str
    likely: str
    hex: str


@dataclass(frozen=True, slots=True)
class Block:
    """One bowl on the sheet."""

    title: str
    lines: tuple[Line, ...]
    cap: str
    chips: tuple[Chip, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The whole page as text, in the order it is printed."""

    title: str
    code: str
    facts: tuple[str, ...]
    blocks: tuple[Block, ...]
    steps: tuple[Step, ...]
    notes: tuple[str, ...]


def compose_sheet(
    batch: Batch,
    *,
    title: str,
    palette: Palette,
    made_on: date | None = None,
    prices_per_kg: Mapping[str, float | None] | None = None,
    currency: str = "",
    lots: Mapping[str, str] | None = None,
    code: str = "",
    uses: Sequence[str] = (),
    notes: Sequence[str] = (),
    preblend: Collection[str] = (),
    steps: tuple[Step, ...] = STEPS,
) -> Sheet:
    """Put a batch on a sheet.

    Chips are what the palette predicts of the loads after rounding. Lines stand in the order of weighing. lots:
    material -> the bag or jar in use, where it is known. code: the batch's own, where it has one. uses: see
    `cautions.USES`. preblend: pigments weighed as a pre-blend. steps: the order of work for its cement. A sheet holds
    at most four bowls of eight pigments. Raises InputError beyond that.
    """
    if len(batch.bowls) > MOST_BOWLS or any(len(b.pigments_g) > MOST_PIGMENTS for b in batch.bowls):
        raise InputError(
            f"A sheet holds at most {MOST_BOWLS} bowls of {MOST_PIGMENTS} pigments; this batch has "
            f"{len(batch.bowls)} bowls. Make one sheet for each part."
        )
    blocks, letters = [], cycle(ascii_uppercase)
    for bowl in batch.bowls:
        chips = tuple(_chip(palette, bowl, state, next(letters)) for state in _STATES)
        lines = _lines(batch, bowl, palette, lots or {}, preblend)
        blocks.append(Block(one_line(bowl.name), lines, _cap(bowl), chips))
    facts = _facts(batch, made_on, prices_per_kg, currency, palette)
    extra = (*(one_line(note, 300) for note in notes), *(caution_for(use, deference=False) for use in uses))
    return Sheet(
        title=one_line(title, 70) or "Batch",
        code=code or batch_code(batch, title=title, made_on=made_on),
        facts=facts,
        blocks=tuple(blocks),
        steps=steps,
        notes=(ADDITIVE_NOTE, *extra, f"{PRACTICE} {DEFERENCE}"),
    )


def below(line: Line, blank: str) -> str:
    """The small words below a line's name: grams a piece, and the bag or jar, to be written in where not known."""
    lot = {"cement": "bag", "pigment": "jar"}.get(line.kind)
    each = f"{line.per_piece} g a piece" if line.per_piece else ""
    return ", ".join(part for part in (each, f"{lot} {line.lot or blank}" if lot else "") if part)


def batch_code(batch: Batch, *, title: str = "", made_on: date | None = None) -> str:
    """Six letters and digits that stand for this batch, its title and its day; the same every time."""
    content = {
        "title": title,
        "made_on": made_on.isoformat() if made_on else "",
        "pieces": batch.pieces,
        "bowls": [[b.name, b.base, b.cement_g, sorted(b.pigments_g.items()), b.water_most_g] for b in batch.bowls],
    }
    digest = hashlib.sha256(json.dumps(content, sort_keys=True).encode()).digest()
    number = int.from_bytes(digest[:4], "big")
    return "".join(_CODE_LETTERS[(number >> (5 * place)) & 31] for place in range(6))


def _chip(palette: Palette, bowl: WeighedBowl, state: str, letter: str) -> Chip:
    shade = palette.predict(bowl.loads, bowl.base, state)
    lightness, a, b = (round(float(x)) + 0 for x in shade.lab)
    likely = f"each ± {max(shade.sd, 1):.0f}"
    return Chip(letter, state_words(state), f"L* {lightness} a* {a} b* {b}", likely, str(lab_to_hex(shade.lab)))


def _lines(
    batch: Batch, bowl: WeighedBowl, palette: Palette, lots: Mapping[str, str], preblend: Collection[str]
) -> tuple[Line, ...]:
    """In the order of weighing, as at the bowl."""
    share = 1 / (batch.pieces * (1 + batch.waste))
    lines = []
    for step in weighing_order(bowl, preblend):
        kind = "pigment" if step.kind == "preblend" else step.kind
        scale = batch.scale_step_g if kind == "pigment" else batch.bulk_step_g
        label = "Water" if kind == "water" else palette.label(step.material)
        if step.kind == "preblend":
            label = f"{label}, pre-blend 1:9"
        most = step.grams if step.up_to is None else step.up_to
        each = grams_as_shown(most * share, min(scale, 0.1)) if batch.pieces > 1 else ""
        up_to = "" if step.up_to is None else grams_as_shown(step.up_to, scale)
        lot = "" if kind == "water" else one_line(lots.get(step.material, ""), 24)
        lines.append(Line(one_line(label), grams_as_shown(step.grams, scale), each, kind, up_to, lot))
    return tuple(lines)


def grams_as_shown(grams: float, step: float) -> str:
    """Grams with as many places as a scale of that step shows, at most four."""
    places = next((p for p in range(4) if abs(step * 10**p - round(step * 10**p)) < 1e-9), 4)
    return f"{grams:.{places}f}"


def _cap(bowl: WeighedBowl) -> str:
    cap = bowl.cap_g / bowl.cement_g
    share = bowl.pigment_g / bowl.cement_g
    most = f"at most {bowl.cap_g:.4g} g ({100 * cap:.3g}\u00a0%)"
    return f"Pigment {bowl.pigment_g:.4g} g ({100 * share:.2g}\u00a0%), {most}"


def _facts(
    batch: Batch,
    made_on: date | None,
    prices: Mapping[str, float | None] | None,
    currency: str,
    palette: Palette,
) -> tuple[str, ...]:
    facts = [f"{made_on.day} {made_on:%B %Y}" if made_on else "Date: ____________", "begun at: ________"]
    waste = f", {100 * batch.waste:.0f} % for waste" if batch.waste else ""
    facts.append(f"{batch.pieces} piece{'s' if batch.pieces > 1 else ''}{waste}")
    facts.append(f"{batch.total_g:.0f} g wet mix in all" + (f", {batch.fill_g:.0f} g a mould" if batch.fill_g else ""))
    cost, missing = batch.cost(prices or {})
    if cost or not missing:  # where no price is known there is no cost to tell
        unit = f" {one_line(currency, 8)}" if currency else ""
        without = f" (without {', '.join(one_line(palette.label(m), 24) for m in missing[:2])})" if missing else ""
        each = f", {cost / batch.pieces:.2f}{unit} a piece" if batch.pieces > 1 else ""
        facts.append(f"Cost {cost:.2f}{unit}{each}{without}")
    return tuple(facts)
