"""Which recipe a piece really has: its weighings, never the plan in silence.

From the moment a bowl is weighed its weights are the recipe of what is cast from it. Where nothing was weighed, the
recipe stands in and says so; where the weights are incomplete, nothing is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .errors import ColormatchError
from .library import (
    BatchRecord,
    Cement,
    CementLot,
    DesignRecord,
    Library,
    Piece,
    PigmentRecord,
    RecipeRecord,
    Weighing,
    bags_and_jars,
)
from .loads import Mix

WATER, ADDITIVE = "water", "additive"
Source = Literal["weighed", "as planned", "unknown"]


@dataclass(frozen=True, slots=True)
class BowlMix:
    """What one bowl of a batch holds. source: "weighed", "as planned" where nothing was weighed, or "unknown".

    mix: None where it is not known, then `why` says why. planned: as its recipe has it. water_per_cement: g per g,
    None where the water was not weighed.
    """

    name: str
    mix: Mix | None
    source: Source
    why: str = ""
    planned: Mix | None = None
    water_per_cement: float | None = None
    recipe: RecipeRecord | None = None


def bowls_of(library: Library, batch: BatchRecord) -> tuple[BowlMix, ...]:
    """Every bowl of a batch, in order, from its weighings."""
    recipes = recipes_of(library, batch)
    rows: dict[str, list[Weighing]] = {}
    for each in sorted(library.list(Weighing, batch_uid=batch.uid), key=lambda one: (one.bowl, one.step or 0)):
        rows.setdefault(each.bowl, []).append(each)
    kinds = _kinds(library)
    numbered = list(rows.values())
    if not numbered:
        return tuple(_as_planned(recipe) for recipe in recipes)
    return tuple(
        _weighed(own, kinds, recipes[i] if i < len(recipes) else None, f"bowl {i + 1}")
        for i, own in enumerate(numbered)
    )


def mix_of(library: Library, piece: Piece) -> BowlMix:
    """What a piece was cast from: its batch's bowl, or that of its tone where it has one."""
    batch = library.find_one(BatchRecord, piece.batch_uid) if piece.batch_uid else None
    if batch is None:
        recipe = library.find_one(RecipeRecord, piece.recipe_uid) if piece.recipe_uid else None
        if recipe is None:
            return BowlMix(piece.name, None, "unknown", "its recipe is not known")
        return _as_planned(recipe)
    return bowl_of(library, batch, piece.bowl)


def bowl_of(library: Library, batch: BatchRecord, bowl: str = "") -> BowlMix:
    """One bowl of a batch by its number ("1", "2"); without one, the only bowl there is."""
    bowls = bowls_of(library, batch)
    if bowl.isdigit() and 0 < int(bowl) <= len(bowls):
        return bowls[int(bowl) - 1]
    if len(bowls) == 1:
        return bowls[0]
    why = f"it is of {len(bowls)} tones; say which was measured" if bowls else "its recipe is not known"
    return BowlMix(batch.name, None, "unknown", why)


def recipes_of(library: Library, batch: BatchRecord) -> list[RecipeRecord]:
    """The recipes a batch was planned from, one for each bowl, as far as they are kept."""
    uids: tuple[str, ...] = (batch.recipe_uid,) if batch.recipe_uid else ()
    if batch.design_uid:
        design = library.find_one(DesignRecord, batch.design_uid)
        uids = design.recipes if design else ()
    return [recipe for uid in uids if (recipe := library.find_one(RecipeRecord, uid)) is not None]


@dataclass(frozen=True, slots=True)
class _Kinds:
    """What a weighing is of, by its lot or its material."""

    cements: frozenset[str]
    pigments: frozenset[str]
    lots: dict[str, str]

    def name(self, row: Weighing) -> str:
        return self.lots.get(row.lot_uid, row.material)


def _kinds(library: Library) -> _Kinds:
    lots = {uid: lot.material_uid for uid, lot in bags_and_jars(library).items()}
    cements = frozenset(each.uid for each in library.list(Cement)) | {lot.cement_uid for lot in library.list(CementLot)}
    return _Kinds(cements, frozenset(each.uid for each in library.list(PigmentRecord)), lots)


def _weighed(rows: list[Weighing], kinds: _Kinds, recipe: RecipeRecord | None, name: str) -> BowlMix:
    name = recipe.name if recipe else name
    plan = None if recipe is None else _mix_or_why(recipe.cement_uid, dict(recipe.loads))[0]
    solid = [row for row in rows if kinds.name(row) in kinds.cements | kinds.pigments]
    if not any(row.weighed_g is not None for row in solid):
        if recipe is not None:
            return _as_planned(recipe)
        return BowlMix(name, None, "unknown", "nothing was weighed, and its recipe is not known")
    missing = [row.material for row in solid if row.weighed_g is None]
    if missing:
        return BowlMix(name, None, "unknown", f"the weight of {missing[0]} was never entered", plan, recipe=recipe)
    grams: dict[str, float] = {}
    for row in solid:
        grams[kinds.name(row)] = grams.get(kinds.name(row), 0.0) + (row.weighed_g or 0.0)
    bases = [each for each in grams if each in kinds.cements]
    cement = sum(grams[each] for each in bases)
    if len(bases) != 1 or cement <= 0:
        why = "no cement was weighed" if cement <= 0 else "two cements went in"
        return BowlMix(name, None, "unknown", why, plan, recipe=recipe)
    water = [row.weighed_g for row in rows if kinds.name(row) not in grams and "water" in row.material]
    wet = sum(each for each in water if each is not None) / cement if any(water) else None
    loads = {each: mass / cement for each, mass in grams.items() if each not in bases}
    mix, why = _mix_or_why(bases[0], loads)
    return BowlMix(name, mix, "weighed" if mix else "unknown", why, plan, wet, recipe)


def _as_planned(recipe: RecipeRecord) -> BowlMix:
    mix, why = _mix_or_why(recipe.cement_uid, dict(recipe.loads))
    return BowlMix(recipe.name, mix, "as planned" if mix else "unknown", why, mix, recipe=recipe)


def _mix_or_why(base: str, loads: dict[str, float]) -> tuple[Mix | None, str]:
    """The mix, or a sentence: a library may hold more than the 10 % that anything is known of."""
    try:
        return Mix.of(base, loads), ""
    except ColormatchError as error:
        return None, str(error)
