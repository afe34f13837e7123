"""Tiles and what is learned: the tiles worth casting with their weights, their shades kept, learning and its undo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from ..bench.batch import Bowl, WeighedBowl, plan_batch
from ..bench.bowl import small_doses
from ..errors import InputError
from ..library import LearnedPalette, Library, ShadeRecord, TileRecord
from ..loads import Mix
from ..palette import Palette
from ..shade import Shade
from ..studio import MEASURED, learn_studio, newest_learned, shades_in_demand, studio_palette
from .shelf import defaults, offer

if TYPE_CHECKING:
    from ..advice import Advice
    from ..learning import Report

TILE_CEMENT_G = 100.0  # four or five tiles of a hand's breadth: less, and a pocket scale cannot weigh the doses


@dataclass(frozen=True, slots=True)
class TilePlan:
    """A tile worth casting: why, and what to weigh. small: doses that are better taken from a pre-blend."""

    advice: Advice
    bowl: WeighedBowl
    small: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """What learning gave: the palette, its report, and in a sentence what became surer."""

    palette: Palette
    report: Report
    words: str


def tile_plans(
    library: Library,
    knowledge: Palette,
    *,
    count: int = 5,
    shades: Sequence[Shade] = (),
    cement_g: float = TILE_CEMENT_G,
    base: str | None = None,
) -> list[TilePlan]:
    """The tiles that most lower what is not known of the shades in demand, from what is on the shelf, with weights.

    shades: those wanted; none: the ones her recipes were made for. base: None takes her default cement.
    """
    from ..advice import next_tiles

    offered, usual = offer(library, knowledge), defaults(library)
    wanted = list(shades) or shades_in_demand(library)
    if not offered.pigments:
        raise InputError("There is no pigment on your shelf yet. Add a jar; the name on its lid is enough.")
    advised = next_tiles(offered, wanted, count, base=base, load_cap=usual.load_cap)
    return [tile_weights(library, each, cement_g) for each in advised]


def tile_weights(library: Library, advice: Advice, cement_g: float = TILE_CEMENT_G) -> TilePlan:
    """What to weigh for one advised tile."""
    usual = defaults(library)
    batch = plan_batch(
        [Bowl(advice.title, Mix.of(advice.base, advice.loads), cement_g)],
        cap=max(usual.load_cap, sum(advice.loads.values())),
        water_per_cement=usual.water_per_cement,
        scale_step_g=usual.scale_step_g,
        bulk_step_g=usual.bulk_step_g,
    )
    return TilePlan(advice, batch.bowls[0], small_doses(batch.bowls[0], usual.scale_step_g))


def keep_tile(
    library: Library, mix: Mix, *, cast_on: date | None = None, water_per_cement: float | None = None, notes: str = ""
) -> TileRecord:
    """A tile was cast: what really went in, as weighed."""
    return library.save(
        TileRecord(
            cement_uid=mix.base,
            loads={name: load for name, load in mix.loads.items() if load > 0},
            cast_on=cast_on or date.today(),
            water_per_cement=water_per_cement,
            notes=notes,
        )
    )


def keep_tile_shade(
    library: Library,
    tile: TileRecord,
    shade: Shade,
    *,
    state: str = "dry",
    on: date | None = None,
    photograph_uid: str | None = None,
    provenance: Mapping[str, Any] | None = None,
) -> ShadeRecord:
    """The measured shade of a tile."""
    return library.save(
        ShadeRecord.of(
            shade, tile_uid=tile.uid, state=state, measured_on=on or date.today(), photograph_uid=photograph_uid,
            provenance={"kind": MEASURED, **(provenance or {})},
        )
    )  # fmt: skip


def learn(library: Library) -> Learned:
    """Learn from every measured tile and piece, kept as a new version; raises LearningError without any."""
    before = studio_palette(library)
    palette, report = learn_studio(library)
    return Learned(palette, report, _surer(library, before, palette))


def undo_learning(library: Library) -> str:
    """Go back to the version before the last learning; what was taken back, in a sentence."""
    newest = newest_learned(library)
    if newest is None:
        raise InputError("Nothing was learned yet that could be taken back.")
    library.delete(newest)
    before = newest_learned(library)
    there = f"what was learned on {before.learned_on:%d.%m.%Y}" if before and before.learned_on else "the start"
    return f"Taken back: the learning from {len(newest.tiles)} tiles; back to {there}."


def learnings(library: Library) -> list[LearnedPalette]:
    """Every version kept, the newest first."""
    return sorted(library.list(LearnedPalette), key=lambda each: each.number or 0, reverse=True)


def _surer(library: Library, before: Palette, after: Palette) -> str:
    """How the likely range of what she has to offer changed: the mean sd of a middle dose of each pigment."""
    names = [name for name in offer(library, after).pigments if name in before.pigments]
    base = next(iter(offer(library, after).bases))
    if not names or base not in before.bases:
        return "Learned."
    was, now = (
        sum(each.predict({n: min(0.02, each.pigments[n].maximum_load)}, base).sd for n in names) / len(names)
        for each in (before, after)
    )
    return f"A dose of 2 % of one of your pigments was known to about {was:.1f} in each number, now to {now:.1f}."
