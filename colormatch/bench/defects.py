"""The defect log: fixed words of the trade, likely causes, and counts against what was recorded.

Causes are common practice, no source, save that bloom is lime carbonated at the surface, which whitens dark
colours most (Concrete Society, Efflorescence).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..errors import InputError, UnknownNameError


@dataclass(frozen=True, slots=True)
class Defect:
    """A defect by its word: what it looks like, likely causes, what to try next time."""

    word: str
    looks_like: str
    causes: tuple[str, ...]
    remedies: tuple[str, ...]


DEFECTS: Mapping[str, Defect] = {
    each.word: each
    for each in (
        Defect(
            "cracks",
            "fine lines in the first days, or one line through the wall",
            ("dried too fast", "too much water", "demoulded too early", "wall thinner than about 6 mm"),
            ("cover for a day or two", "less water", "leave it longer in the mould"),
        ),
        Defect(
            "water spots",
            "darker or paler islands with a rim",
            ("condensed water under the cover", "drops on the young face", "uneven contact with a wet cloth"),
            ("hold the cover off the face", "turn the piece daily while it dries"),
        ),
        Defect(
            "bubbles",
            "round holes in the face",
            ("poured too fast or from high up", "mix too stiff", "mixed too fast", "not tapped"),
            ("pour a thin stream along the wall", "tap longer", "brush a first thin coat into the mould"),
        ),
        Defect(
            "rough base",
            "gritty or crumbling foot",
            ("not levelled", "bled water at the free face", "dried too fast on top", "lumps in the mix"),
            ("level and cover at once", "less water", "rub the foot down wet"),
        ),
        Defect(
            "chalky bloom",
            "white veil, most on dark colours",
            ("wet and dry by turns while young", "cold or damp room", "too much water", "stacked wet"),
            (
                "dry slowly and evenly, with air all round",
                "less water",
                "wait longer before sealing",
                "no vinegar or other acid on a piece with ultramarine: it frees hydrogen sulphide, which is poisonous",
            ),
        ),
        Defect(
            "seal blisters",
            "blisters, milky patches or peeling in the sealer",
            ("sealed with water still to go", "coat too thick", "sealed cold or in the sun", "dust on the face"),
            ("seal only when the predicted remainder allows it", "thin coats", "wipe the dust off wet and let dry"),
        ),
        Defect(
            "nail marks",
            "dents and light scratches of fingers and nails",
            ("demoulded too early", "handled before it was hard", "soft face from too much water"),
            ("leave it longer in the mould", "gloves, and hold the thick parts"),
        ),
    )
}


@dataclass(frozen=True, slots=True)
class CastRecord:
    """One batch as recorded: its pieces, how many had which defect, and the circumstances.

    circumstances: what was written down, such as {"recipe": "K7", "water": "70 g", "weather": "hot"}; any
    keys and any words.
    """

    pieces: int
    defects: Mapping[str, int] = field(default_factory=dict)
    circumstances: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Count:
    """Pieces with a defect under one circumstance, with the 90 % interval of the share (Wilson 1927).

    stands_out: the interval lies wholly above the share in all the other batches.
    """

    value: str
    with_defect: int
    pieces: int
    share: float
    low: float
    high: float
    stands_out: bool


def defect(word: str) -> Defect:
    """A defect by its word; raises UnknownNameError that lists the words."""
    if word not in DEFECTS:
        raise UnknownNameError("defect", word, DEFECTS)
    return DEFECTS[word]


def count_defects(records: Sequence[CastRecord], word: str, by: str) -> tuple[Count, ...]:
    """How often a defect was seen for each recorded value of a circumstance; the most frequent first.

    Batches without that circumstance count under "not recorded". A value that stands out is a hint, not a
    proof: circumstances change together. Raises UnknownNameError, or InputError for impossible counts.
    """
    defect(word)
    groups: dict[str, tuple[int, int]] = {}
    for record in records:
        _check(record)
        value = record.circumstances.get(by, "") or "not recorded"
        seen, pieces = groups.get(value, (0, 0))
        groups[value] = (seen + record.defects.get(word, 0), pieces + record.pieces)
    seen_in_all, all_pieces = (sum(each) for each in zip(*groups.values(), strict=True)) if groups else (0, 0)
    counts = [_count(value, seen, pieces, seen_in_all, all_pieces) for value, (seen, pieces) in groups.items()]
    return tuple(sorted(counts, key=lambda count: (-count.share, count.value)))


def _count(value: str, seen: int, pieces: int, seen_in_all: int, all_pieces: int) -> Count:
    from scipy.stats import binomtest

    low, high = binomtest(seen, pieces).proportion_ci(0.9, method="wilson") if pieces else (0.0, 1.0)
    others = all_pieces - pieces
    elsewhere = (seen_in_all - seen) / others if others else 0.0
    share = seen / pieces if pieces else 0.0
    return Count(value, seen, pieces, share, float(low), float(high), bool(others) and low > elsewhere)


def _check(record: CastRecord) -> None:
    if record.pieces < 0:
        raise InputError(f"A batch has {record.pieces} pieces; it must have 0 or more.")
    for word, seen in record.defects.items():
        defect(word)
        if not 0 <= seen <= record.pieces:
            raise InputError(
                f"{seen} pieces with {word} in a batch of {record.pieces}; correct one of the two numbers."
            )
