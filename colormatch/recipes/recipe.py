"""A recipe: what to weigh, what it will look like, and why one would take it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from ..arrays import FloatArray
from ..colorimetry import lab_to_lch
from ..difference import JUST_SEEN, delta_e_2000, expected_and_likely
from ..frozen import FrozenMapping
from ..loads import per_cent
from ..notebook import chip_table
from ..palette import Palette
from ..saying import compared, shade_name
from ..shade import Shade
from .choice import Choice, shortlist
from .far import FAR
from .judging import Judged, judge
from .limits import PREBLEND_PARTS, PREBLEND_SHARE, SMALL_DOSE_STEPS, Limits
from .problem import LOAD_SLACK, Problem
from .rounding import round_to_scale

# Expected CIEDE2000 above which a tile is advised first; common practice, no source.
_TEST_TILE = ((4.0, "; cast a test tile first"), (2.0, "; worth a test tile"))
_MOST_TIMES_LARGER = 8  # a batch larger than this is no help to a small studio; common practice, no source


@dataclass(frozen=True, slots=True)
class PreBlend:
    """A dose too small to weigh, let down in dry cement of the same base.

    Weigh blend_g of a blend of 1 part pigment and `parts_cement` parts cement: it brings pigment_g of
    pigment and cement_g of cement, by which the batch's own cement is reduced.
    """

    pigment: str
    parts_cement: int
    blend_g: float
    pigment_g: float
    cement_g: float

    @classmethod
    def of(cls, pigment: str, grams: float) -> PreBlend:
        """The one that brings so many grams of a pigment."""
        return cls(
            pigment, PREBLEND_PARTS, round(grams / PREBLEND_SHARE, 6), grams, round(grams * PREBLEND_PARTS, 6)
        )  # fmt: skip

    @property
    def line(self) -> str:
        """One line for the weigh sheet."""
        return (
            f"{self.blend_g:g} g of a pre-blend of {self.pigment} 1:{self.parts_cement} in dry cement "
            f"({self.pigment_g:g} g pigment, {self.cement_g:g} g cement)"
        )


@dataclass(frozen=True, eq=False)
class Recipe:
    """Loads and grams at the scale's step, and what the model says of them; immutable.

    loads: name -> g per g of dry cement. grams: name -> g for limits.cement_g. delta_e: CIEDE2000 of the
    model's mean to the target. expected_delta_e, likely_delta_e: its mean over all that is uncertain (model,
    casting, scale, target), and what nine casts in ten stay under. cost: pigments for the batch, None where a
    price is unknown. metamerism: special metamerism index against the target's spectrum, None without one;
    inconstancy: its own change of colour from daylight; both the worst of illuminants A, D50, F11, LED-B3.
    slip_delta_e: how far the shade moves when the touchiest dose is 5 % over. verdict: why one would take it, in
    one sentence; reasons: the roles it won; cautions: what to know first. nearest: loads of the mix that comes
    nearest to the target under these limits, before rounding to the scale.
    """

    palette: Palette = field(repr=False)
    limits: Limits = field(repr=False)
    base: str
    state: str
    target: Shade
    loads: FrozenMapping[str, float]
    grams: FrozenMapping[str, float]
    delta_e: float
    expected_delta_e: float
    likely_delta_e: float
    cost: float | None
    inconstancy: float
    metamerism: float | None
    slip_delta_e: float
    verdict: str = ""
    reasons: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    preblended_pigments: tuple[str, ...] = ()
    nearest: FrozenMapping[str, float] = field(default_factory=FrozenMapping, repr=False)

    def __repr__(self) -> str:
        grams = ", ".join(f"{name} {g:g} g" for name, g in self.grams.items()) or "no pigment"
        return f"Recipe({grams} in {self.cement_g:g} g {self.base}; {self.off})"

    def _repr_html_(self) -> str:
        rows = [(self.target.lab, "wanted"), *((self.predict(s).lab, s) for s in ("dry", *self.palette.states))]
        return chip_table(repr(self), rows)

    @property
    def total_load(self) -> float:
        """All pigment, g per g of dry cement."""
        return float(sum(self.loads.values()))

    @property
    def cement_g(self) -> float:
        """Dry cement of the batch."""
        return self.limits.cement_g

    @property
    def in_reach(self) -> bool:
        """Whether the model's mean comes within one CIEDE2000 of the target (common practice, no source)."""
        return self.delta_e <= JUST_SEEN

    @property
    def off(self) -> str:
        """How far off it will come out, everything uncertain counted in, in words without a full stop."""
        return f"about {self.expected_delta_e:.1f} off on average, likely under {self.likely_delta_e:.1f}"

    @property
    def drowned(self) -> bool:
        """Whether the distance by the model says nothing yet: less than half of what is to be expected."""
        return self.delta_e < self.expected_delta_e / 2

    def predict(self, state: str = "dry") -> Shade:
        """The shade in a state, with the uncertainty of the model and of the casting."""
        if state not in self._shades:
            self._shades[state] = self.palette.predict(self.loads, self.base, state)
        return self._shades[state]

    @cached_property
    def _shades(self) -> dict[str, Shade]:
        """Those predicted so far, by state."""
        return {}

    @property
    def small_doses(self) -> tuple[str, ...]:
        """Pigments of fewer than 20 steps of the scale: weigh them as a pre-blend, or make a larger batch."""
        least = SMALL_DOSE_STEPS * self.limits.scale_step_g
        return tuple(name for name, grams in self.grams.items() if grams < least)

    @property
    def larger_batch_g(self) -> float | None:
        """Dry cement of the smallest batch whose doses all reach 20 steps, where that is within 8 times."""
        small = [self.grams[name] for name in self.small_doses]
        if not small:
            return None
        times = SMALL_DOSE_STEPS * self.limits.scale_step_g / min(small)
        return float(np.ceil(times * self.cement_g / 10) * 10) if times <= _MOST_TIMES_LARGER else None

    @cached_property
    def preblended(self) -> Recipe:
        """The same with the small doses weighed finer, as a 1:9 pre-blend; the other grams stay. Itself if none."""
        small = self.small_doses
        if self.preblended_pigments or not small:
            return self
        decided = {n: load for n, load in self.loads.items() if n not in small or n in self.limits.fixed_loads}
        problem = Problem(self.palette, self.base, self.state, replace(self.limits, fixed_loads=decided))
        finer = recipe_from_loads(problem, self.palette.load_vector(self.loads), self.target, preblended=small)
        kept = ("limits", "metamerism", "reasons", "verdict", "cautions")
        return replace(
            finer,
            **{name: getattr(self, name) for name in kept},
            preblended_pigments=tuple(name for name in small if name in finer.grams),
        )

    @property
    def preblend(self) -> tuple[PreBlend, ...]:
        """The pre-blends of `preblended`, each with its weighing line; empty where no dose is small."""
        recipe = self.preblended
        return tuple(PreBlend.of(name, recipe.grams[name]) for name in recipe.preblended_pigments)

    def weighing(self, label: Callable[[str], str] = str) -> tuple[tuple[str, float], ...]:
        """(what, grams) in the order of weighing; a pre-blended recipe counts in the cement it brings.

        label: `Palette.label` for the words on the jars.
        """
        blends = {blend.pigment: blend for blend in self.preblend} if self.preblended_pigments else {}
        brought = sum(blend.cement_g for blend in blends.values())
        lines = [(label(self.base), round(self.cement_g - brought, 6))]
        for name, grams in sorted(self.grams.items(), key=lambda item: -item[1]):
            if name in blends:
                what = f"{label(name)}, pre-blend 1:{PREBLEND_PARTS} in {label(self.base)}"
                lines.append((what, blends[name].blend_g))
            else:
                lines.append((label(name), grams))
        return tuple(lines)


def recipes_of(
    problem: Problem, target: Shade, judged: Judged, chosen: Sequence[Choice], nearest: FloatArray
) -> list[Recipe]:
    """The chosen rows as recipes. nearest: loads (n,) of the best that could be mixed, before rounding.

    `judged` may be held against a nearer colour than a target that is out of reach (`far`).
    """
    rows = [choice.row for choice in chosen]
    delta_e = delta_e_2000(target.lab, judged.lab[rows])
    expected, likely = expected_and_likely(target.lab, judged.lab[rows], judged.covariance[rows])
    # Of those found the nearest tells what the scale takes away, not one that is further off for another virtue.
    best, unrounded = judged.lab[judged.delta_e.argmin()], problem.lab(nearest[None, :])[0]
    lost = float(
        min(delta_e_2000(best, unrounded), delta_e_2000(target.lab, best) - delta_e_2000(target.lab, unrounded))
    )
    recipes = []
    for i, choice in enumerate(chosen):
        row, lab, limits = choice.row, judged.lab[choice.row], problem.limits
        used = np.flatnonzero(judged.loads[row] > 0)
        grams = {problem.names[i]: round(float(judged.loads[row, i]) * limits.cement_g, 9) for i in used}
        recipe = Recipe(
            palette=problem.palette,
            limits=limits,
            base=problem.base,
            state=problem.state,
            target=target,
            loads=FrozenMapping({name: g / limits.cement_g for name, g in grams.items()}),
            grams=FrozenMapping(grams),
            delta_e=float(delta_e[i]),
            expected_delta_e=float(expected[i]),
            likely_delta_e=float(likely[i]),
            cost=_known(judged.cost[row]),
            inconstancy=float(judged.inconstancy[row]),
            metamerism=_known(judged.metamerism[row]),
            slip_delta_e=float(judged.slip_delta_e[row]),
            nearest=FrozenMapping(problem.named(nearest)),
        )
        recipes.append(
            replace(
                recipe,
                verdict=_verdict(problem, recipe, choice.roles[0], lab, lost),
                reasons=(*(f"{role}." for role in choice.roles), *_given_up(recipe, lab)),
                cautions=tuple(_cautions(problem, recipe)),
            )
        )
    return recipes


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def recipe_from_loads(
    problem: Problem,
    loads: FloatArray,
    target: Shade,
    *,
    preblended: Sequence[str] = (),
    most_moves: int = 60,
) -> Recipe:
    """One recipe from loads (n,), rounded to the scale's step, a tenth of it for the pre-blended pigments.

    most_moves: how far the rounding may walk in search of the best grams; 1 keeps to the loads.
    """
    steps = np.full((1, len(loads)), problem.limits.step_load)
    steps[:, [problem.names.index(name) for name in preblended]] *= PREBLEND_SHARE
    rounded, _ = round_to_scale(problem, loads[None, :], target.lab[None, :], steps, most_moves)
    judged = judge(problem, rounded, target.lab[None, :], target.covariance[None], steps)
    return recipes_of(problem, target, judged, shortlist(judged, 1), loads)[0]


def _verdict(problem: Problem, recipe: Recipe, role: str, lab: FloatArray, lost: float) -> str:
    """One sentence: why one would take it, and how far off it will be. lost: CIEDE2000 that the scale's step costs."""
    off = recipe.off
    scale = f"A scale of {recipe.limits.scale_step_g:g} g"
    if _nothing_weighable(problem):
        return f"{scale} cannot weigh any dose for {recipe.cement_g:g} g of cement."
    if lost > JUST_SEEN:
        return f"{scale} is too coarse for {recipe.cement_g:g} g of cement: {off}, {lost:.1f} of it by the scale."
    if recipe.delta_e > 1 and not recipe.drowned:
        return f"{role}, {compared(lab, recipe.target.lab)} than wanted: {off}, and no tile will bring it nearer."
    tile = next((words for least, words in _TEST_TILE if recipe.expected_delta_e > least), "")
    return f"{role}: {off}{tile}."


def _given_up(recipe: Recipe, lab: FloatArray) -> tuple[str, ...]:
    """What a shade far out of reach loses, in a sentence."""
    if recipe.delta_e < FAR:
        return ()
    wanted, got = lab_to_lch(recipe.target.lab), lab_to_lch(lab)
    weaker = f", chroma {got[1]:.0f} instead of {wanted[1]:.0f}" if wanted[1] - got[1] > FAR else ""
    lightness = f", L* {got[0]:.0f} instead of {wanted[0]:.0f}" if abs(wanted[0] - got[0]) > FAR else ""
    return (
        f"{compared(lab, recipe.target.lab).capitalize()}: the nearest to {shade_name(recipe.target.lab)} that these "
        f"pigments come is {shade_name(lab)}{weaker}{lightness}.",
    )


def _nothing_weighable(problem: Problem) -> bool:
    return 0 < problem.most_of_one < problem.limits.step_load - LOAD_SLACK


def _cautions(problem: Problem, recipe: Recipe) -> list[str]:
    cautions = []
    cap = float(problem.cap_of(np.array([name in recipe.loads for name in problem.names])))
    if not problem.allowed and not recipe.loads:
        cautions.append("No pigment is allowed, so this is the bare cement.")
    elif _nothing_weighable(problem):
        cautions.append(
            f"No pigment can be weighed: {recipe.cement_g:g} g of cement may take "
            f"{problem.most_of_one * recipe.cement_g:.3g} g, under one step of the scale, "
            f"{recipe.limits.scale_step_g:g} g. Make a larger batch, or use a finer scale."
        )
    if recipe.total_load > cap - 2 * recipe.limits.step_load and recipe.loads:
        cautions.append(f"At the cap of {per_cent(cap)} pigment: no room to go darker or stronger.")
    if recipe.small_doses:
        names = ", ".join(map(recipe.palette.label, recipe.small_doses))
        cautions.append(f"Small for this scale: {names}. Weigh it as a 1:9 pre-blend in dry cement.")
    guessed = [problem.palette.label(name) for name in recipe.loads if problem.palette.pigments[name].from_memory]
    if guessed and not problem.palette.tiles_learned:
        cautions.append(f"From memory, so cast a tile of each before a batch: {', '.join(guessed)}.")
    if any("PB29" in problem.palette.pigments[name].colour_index.replace(" ", "") for name in recipe.loads):
        # Common practice, no source.
        cautions.append("Ultramarine fades in cement unless the maker states that the grade resists alkali.")
    return cautions
