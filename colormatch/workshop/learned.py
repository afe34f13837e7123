"""Learning from every measured tile and piece, what became surer, and its undo; the tiles are in tile_list.py."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..advice import expected_off
from ..errors import InputError
from ..library import LearnedPalette, Library
from ..loads import TINT_LOAD
from ..palette import Palette
from ..studio import learn_studio, newest_learned, payload_of, prior_palette, shades_in_demand, studio_palette
from .lots import keep_questions
from .shelf import defaults, offer

if TYPE_CHECKING:
    from ..learning import Report


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """What learning gave: the palette, its report, and in a sentence what became surer."""

    palette: Palette
    report: Report
    words: str


def learn(library: Library, *, progress: Callable[[float], object] = lambda share: None) -> Learned:
    """Learn from every measured tile and piece, kept as a new version; raises LearningError without any."""
    before = prior_palette(library) if newest_learned(library) is None else studio_palette(library)
    palette, report = learn_studio(library, progress=progress)
    keep_questions(library, report, palette.label)
    return Learned(palette, report, _surer(library, before, palette))


def undo_learning(library: Library) -> str:
    """Go back to the version before the last learning; what was taken back, in a sentence.

    Before the first one stands what was known without tiles, kept as a version without a number: with none at all
    the tiles would count again at once.
    """
    newest = newest_learned(library)
    if newest is None or newest.number is None:
        raise InputError("Nothing was learned yet that could be taken back.")
    before = max((each for each in library.list(LearnedPalette) if each.uid != newest.uid), key=_number, default=None)
    if before is None:  # first, so that a failure between the two leaves what was learned
        library.save(LearnedPalette(payload=payload_of(prior_palette(library))))
    library.delete(newest)
    there = f"what was learned on {before.learned_on:%d.%m.%Y}" if before and before.learned_on else "the start"
    return f"Taken back: the learning from {len(newest.tiles)} tiles; back to {there}."


def _number(version: LearnedPalette) -> int:
    return version.number or 0


def _surer(library: Library, before: Palette, after: Palette) -> str:
    """How far off recipes for the shades she wants are; without any, the mean sd of a middle dose of each pigment."""
    wanted, cap = shades_in_demand(library), defaults(library).load_cap
    offers = [offer(library, each) for each in (before, after)]
    if wanted and offers[0].pigments:
        was, now = (expected_off(each, wanted, load_cap=cap) for each in offers)
        return f"Recipes for the shades you want were about {was:.1f} off, now about {now:.1f}."
    names = [name for name in offer(library, after).pigments if name in before.pigments]
    base = next(iter(offer(library, after).bases))
    if not names or base not in before.bases:
        return "Learned."
    was, now = (
        sum(each.predict({n: min(TINT_LOAD, each.pigments[n].maximum_load)}, base).sd for n in names) / len(names)
        for each in (before, after)
    )
    dose = f"The shade of {100 * TINT_LOAD:g} % of one of your pigments"
    return f"{dose} was known to about {was:.1f} in each of its numbers, now to about {now:.1f}."
