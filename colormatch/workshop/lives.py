"""The life of a swatch: its shade in each state, and its casts with what was different between them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..colorimetry import reflectance_to_lab
from ..difference import delta_e_2000
from ..lamps import lamp
from ..library import BatchRecord, DesignRecord, Library, Piece, RecipeRecord, ShadeRecord, Swatch
from ..palette import Palette
from ..saying import compared
from ..shade import Shade
from ..states import in_order
from ..studio import MEASURED
from .pieces import conditions, dry_shade, is_final, pieces_of

LAMPS = {"A": "warm bulb", "LED-B3": "white LED", "F11": "shop tube"}
NOT_CAST = ("planned", "weighing")


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """A shade of a swatch in one state. measured: on how many pieces or photographs; 0: words say where it is from."""

    state: str
    shade: Shade
    measured: int
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class Cast:
    """One casting of a swatch's recipe, its pieces, and of each piece the dry shade that was measured."""

    batch: BatchRecord
    pieces: Sequence[Piece]
    dry: Mapping[str, ShadeRecord]


def recipe_of(library: Library, swatch: Swatch) -> RecipeRecord | None:
    """The recipe of a swatch, where it has one that is not in the bin."""
    return library.find_one(RecipeRecord, swatch.recipe_uid) if swatch.recipe_uid else None


def states_of(library: Library, knowledge: Palette, swatch: Swatch) -> list[Seen]:
    """Its shade in each state, dry first: what was measured, all pieces together, else what is predicted now."""
    shades, recipe = library.list(ShadeRecord, swatch_uid=swatch.uid), recipe_of(library, swatch)
    known = recipe is not None and recipe.cement_uid in knowledge.bases and set(recipe.loads) <= set(knowledge.pigments)
    states = {each.state for each in shades} | ({"dry", *knowledge.states} if known else set())
    seen = []
    for state in sorted(in_order(states), key=lambda each: each != "dry"):
        there = [each for each in shades if each.state == state]
        measured = [each for each in there if each.provenance.get("kind") == MEASURED]
        if measured:
            final = [each for each in measured if is_final(each)]
            seen.append(Seen(state, _mean(final or measured), len(final or measured), _measured_words(final, measured)))
        elif recipe is not None and known:
            seen.append(Seen(state, knowledge.predict(recipe.loads, recipe.cement_uid, state), 0, "predicted"))
        else:
            seen.append(Seen(state, there[-1].shade(), 0, str(there[-1].provenance.get("kind") or "kept")))
    return seen


def _mean(shades: Sequence[ShadeRecord]) -> Shade:
    """The mean of measured shades; its covariance as of independent ones."""
    all_of = [each.shade() for each in shades]
    covariance = np.mean([each.covariance for each in all_of], axis=0) / len(all_of)
    return Shade(np.mean([each.lab for each in all_of], axis=0), covariance=covariance)


def _measured_words(final: Sequence[ShadeRecord], measured: Sequence[ShadeRecord]) -> str:
    if not final:
        day = max(each.final_from for each in measured if each.final_from is not None)
        return f"measured too early, to be judged from {day:%d.%m.%Y} on"
    return "measured" if len(final) == 1 else f"measured on {len(final)} pieces"


def casts_of(library: Library, swatch: Swatch) -> list[Cast]:
    """Every casting of its recipe, alone or as one tone of a design; the latest first."""
    recipe = recipe_of(library, swatch)
    batches = {each.uid: each for each in library.list(BatchRecord, recipe_uid=recipe.uid)} if recipe else {}
    if swatch.batch_uid and (own := library.find_one(BatchRecord, swatch.batch_uid)):
        batches[own.uid] = own
    if recipe is not None:
        designs = [each.uid for each in library.list(DesignRecord) if recipe.uid in each.recipes]
        batches |= {each.uid: each for uid in designs for each in library.list(BatchRecord, design_uid=uid)}
    cast = [each for each in batches.values() if each.stage not in NOT_CAST]
    return [_cast(library, swatch, each) for each in sorted(cast, key=lambda each: str(each.made_on), reverse=True)]


def times_cast(library: Library) -> Counter[str]:
    """Of each swatch how often it was cast: as many as `casts_of` and `cast_alone` tell of."""
    tones = {each.uid: each.recipes for each in library.list(DesignRecord)}
    cast = {each.uid: each for each in library.list(BatchRecord) if each.stage not in NOT_CAST}
    of_recipe: dict[str | None, set[str]] = {None: set()}
    for batch in cast.values():
        for recipe in filter(None, (batch.recipe_uid, *tones.get(batch.design_uid or "", ()))):
            of_recipe.setdefault(recipe, set()).add(batch.uid)
    alone = Counter(each.swatch_uid for each in library.list(Piece, batch_uid=None))
    return Counter(
        {
            each.uid: len(of_recipe.get(each.recipe_uid, set()) | ({each.batch_uid} & cast.keys())) + alone[each.uid]
            for each in library.list(Swatch)
        }
    )


def cast_words(times: int) -> str:
    """`cast 3 times`."""
    return "not cast yet" if not times else "cast once" if times == 1 else f"cast {times} times"


def cast_alone(library: Library, swatch: Swatch) -> list[Piece]:
    """Pieces of it that belong to no batch, as from before there was one to keep; each is a casting of its own."""
    return library.list(Piece, swatch_uid=swatch.uid, batch_uid=None)


def _cast(library: Library, swatch: Swatch, batch: BatchRecord) -> Cast:
    """Of a piece of two tones the shade of this one."""
    pieces = pieces_of(library, batch)
    design = library.find_one(DesignRecord, batch.design_uid) if batch.design_uid else None
    tones = design.recipes if design else ()
    bowl = str(1 + tones.index(swatch.recipe_uid)) if swatch.recipe_uid in tones else ""
    dry = {each.uid: dry_shade(library, each, bowl) for each in pieces}
    own = {uid: each for uid, each in dry.items() if each is not None and each.swatch_uid in (None, swatch.uid)}
    return Cast(batch, pieces, own)


def different(library: Library, first: Cast, cast: Cast) -> str:
    """What was not as at the first cast, condition by condition, in words; empty where nothing was noted."""
    if not first.pieces or not cast.pieces:
        return ""
    before, now = conditions(first.pieces[0]), conditions(cast.pieces[0])
    both = [name for name in now if name in before]
    changed = [f"{name}: {now[name]}, was {before[name]}" for name in both if now[name] != before[name]]
    if not both:
        return ""
    return f"Different: {'; '.join(changed)}" if changed else "Every condition noted is the same"


def in_other_light(knowledge: Palette, recipe: RecipeRecord) -> list[tuple[str, str, float]]:
    """(lamp, what the dry shade turns to from daylight, CIEDE2000): its own change, by CAT16; not a miss of a match."""
    body = knowledge.reflectance(recipe.loads, base=recipe.cement_uid)
    daylight = reflectance_to_lab(body)
    turned = [(words, lamp(name).as_in_daylight(body)) for name, words in LAMPS.items()]
    return [(words, compared(lab, daylight), float(delta_e_2000(lab, daylight))) for words, lab in turned]
