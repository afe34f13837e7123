"""Shade to recipes: solve, round, judge, choose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import FloatArray, whole_number_between
from ..difference import delta_e_2000
from ..errors import InputError
from ..palette import Palette
from ..shade import Shade
from ..spectra import check_reflectance
from . import judging
from .choice import ALLOWANCE, FURTHEST, Choice, Judged, shortlist
from .limits import PREBLEND_SHARE, Limits
from .problem import LOAD_SLACK, IndexArray, Problem
from .recipe import Recipe
from .rounding import round_to_scale
from .solver import Candidates, solve

_ROUNDED, _SUREST = 20, 8  # candidates per target carried on to the scale: the closest, the surest
_INCONSTANCY = "the recipe's own change from daylight to other lights; the target has no spectrum"
_SPECIAL_INDEX = "special metamerism index against the target's spectrum"


@overload
def find_recipes(
    palette: Palette,
    target: Shade,
    base: str = ...,
    limits: Limits | None = ...,
    *,
    state: str = ...,
    spectrum: ArrayLike | None = ...,
    count: int = ...,
) -> list[Recipe]: ...
@overload
def find_recipes(
    palette: Palette,
    target: Sequence[Shade],
    base: str = ...,
    limits: Limits | None = ...,
    *,
    state: str = ...,
    spectrum: ArrayLike | None = ...,
    count: int = ...,
) -> list[list[Recipe]]: ...
def find_recipes(
    palette: Palette,
    target: Shade | Sequence[Shade],
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    spectrum: ArrayLike | None = None,
    count: int = 5,
) -> list[Recipe] | list[list[Recipe]]:
    """Recipes for a shade, best first; for several shades, one list for each.

    state: the state in which the shade is wanted. spectrum: the target's reflectance factors (31,), if
    it has been measured with a spectrophotometer; it makes `metamerism` a special metamerism index.
    count: at most so many recipes, fewer where no others differ really.
    Raises UnknownNameError, LoadError, InputError or RecipeError.
    """
    if not isinstance(palette, Palette):
        raise InputError(f"Recipes are found in a Palette, such as starter_palette(); got {type(palette).__name__}.")
    if limits is not None and not isinstance(limits, Limits):
        raise InputError(f"limits must be Limits(...) or None; got {limits!r}.")
    count = whole_number_between(count, name="The count of recipes", low=1)
    targets, single = _targets(target)
    if spectrum is not None:
        spectrum = check_reflectance(spectrum, name="The target's spectrum")
    problem = Problem(palette, base, state, limits or Limits())
    lists = _recipes(problem, targets, spectrum, count)
    return lists[0] if single else lists


def with_preblends(recipe: Recipe) -> Recipe:
    """The recipe with its small doses weighed as a pre-blend, to a tenth of the scale's step; the others stay."""
    small = recipe.small_doses
    others = {name: load for name, load in recipe.loads.items() if name not in small}
    decided = others | {name: recipe.loads[name] for name in small if name in recipe.limits.fixed_loads}
    problem = Problem(recipe.palette, recipe.base, recipe.state, replace(recipe.limits, fixed_loads=decided))
    loads = problem.palette.load_vector(recipe.loads)
    finer = recipe_from_loads(problem, loads, recipe.target, preblended=small)
    return replace(
        finer,
        limits=recipe.limits,
        metamerism=recipe.metamerism,
        metamerism_of=recipe.metamerism_of,
        reasons=recipe.reasons,
        verdict=recipe.verdict,
        cautions=recipe.cautions,
        preblended_pigments=tuple(name for name in small if name in finer.grams),
    )


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
    judged = _judge(problem, rounded, target.lab[None, :], target.covariance[None], steps, None)
    return _recipe(problem, target, judged, shortlist(judged, 1)[0], _INCONSTANCY)


def _targets(target: Shade | Sequence[Shade]) -> tuple[list[Shade], bool]:
    if isinstance(target, Shade):
        return [target], True
    try:
        shades = list(target)
    except TypeError:
        shades = []
    if not shades or not all(isinstance(shade, Shade) for shade in shades):
        raise InputError(f"The target is {target!r}; give a Shade, such as Shade((52, 18, 20)), or a list of them.")
    return shades, False


def _recipes(problem: Problem, targets: list[Shade], spectrum: FloatArray | None, count: int) -> list[list[Recipe]]:
    """Everything batched over all targets; only the choice is made one target at a time."""
    labs = np.array([shade.lab for shade in targets])
    doubt = judging.pigment_doubt(problem)
    found = [_cut(candidates, doubt) for candidates in solve(problem, labs, doubt)]
    owner = np.repeat(np.arange(len(targets)), [len(c.delta_e) for c in found])
    loads, delta_e = round_to_scale(problem, np.concatenate([c.loads for c in found]), labs[owner])
    expected = judging.rough_expected_delta_e(doubt, loads, delta_e)
    kept = _worth_judging(loads, delta_e, expected, owner)
    loads, owner = loads[kept], owner[kept]
    covariances = np.array([shade.covariance for shade in targets])[owner]
    steps = np.full(loads.shape, problem.limits.step_load)
    judged = _judge(problem, loads, labs[owner], covariances, steps, spectrum)
    kind = _INCONSTANCY if spectrum is None else _SPECIAL_INDEX
    lists = []
    for t, shade in enumerate(targets):
        own = _rows(judged, owner == t)
        lists.append([_recipe(problem, shade, own, choice, kind) for choice in shortlist(own, count)])
    return lists


def _cut(candidates: Candidates, doubt: FloatArray) -> Candidates:
    """The closest, of every size the closest two, and the surest: the others could only be rounded in vain."""
    sizes = (candidates.loads > 0).sum(axis=1)
    kept = np.arange(len(sizes)) < _ROUNDED
    for size in np.unique(sizes):
        kept[np.flatnonzero(sizes == size)[:2]] = True
    kept &= candidates.delta_e <= candidates.delta_e[0] + FURTHEST + ALLOWANCE  # rounding moves them
    expected = judging.rough_expected_delta_e(doubt, candidates.loads, candidates.delta_e)
    surest = np.argsort(expected, kind="stable")[:_SUREST]
    kept[surest[expected[surest] <= expected.min() + ALLOWANCE]] = True
    return Candidates(candidates.loads[kept], candidates.delta_e[kept])


def _worth_judging(loads: FloatArray, delta_e: FloatArray, expected: FloatArray, owner: IndexArray) -> IndexArray:
    """Rows near or sure enough to be chosen; of sets rounded to the same grams only one."""
    worth = np.zeros(len(loads), dtype=np.bool_)
    for measure in (delta_e, expected):
        least = np.full(owner.max() + 1, np.inf)
        np.minimum.at(least, owner, measure)
        worth |= measure <= least[owner] + FURTHEST
    near = np.flatnonzero(worth)
    keys = np.column_stack([owner[near], np.round(loads[near], 9)])
    return near[np.sort(np.unique(keys, axis=0, return_index=True)[1])]


def _judge(
    problem: Problem,
    loads: FloatArray,
    targets: FloatArray,
    target_covariance: FloatArray,
    steps: FloatArray,
    spectrum: FloatArray | None,
) -> Judged:
    return Judged(
        loads=loads,
        delta_e=delta_e_2000(targets, problem.lab(loads)),
        expected_delta_e=judging.expected_delta_e(problem, loads, targets, target_covariance, steps),
        cost=judging.batch_cost(problem, loads),
        metamerism=judging.change_under_other_lights(problem, loads, spectrum),
        slip_delta_e=judging.slip_delta_e(problem, loads),
    )


def _rows(judged: Judged, chosen: NDArray[np.bool_]) -> Judged:
    return Judged(**{name: getattr(judged, name)[chosen] for name in Judged.__slots__})


def _recipe(problem: Problem, target: Shade, judged: Judged, choice: Choice, kind: str) -> Recipe:
    row, limits = choice.row, problem.limits
    used = np.flatnonzero(judged.loads[row] > 0)
    grams = {problem.names[i]: round(float(judged.loads[row, i]) * limits.cement_g, 9) for i in used}
    cost = float(judged.cost[row])
    recipe = Recipe(
        palette=problem.palette,
        limits=limits,
        base=problem.base,
        state=problem.state,
        target=target,
        loads={name: g / limits.cement_g for name, g in grams.items()},
        grams=grams,
        delta_e=float(judged.delta_e[row]),
        expected_delta_e=float(judged.expected_delta_e[row]),
        cost=None if np.isnan(cost) else cost,
        metamerism=float(judged.metamerism[row]),
        metamerism_of=kind,
        slip_delta_e=float(judged.slip_delta_e[row]),
        reasons=choice.reasons,
    )
    return replace(
        recipe,
        verdict=_verdict(recipe, nearest=float(judged.delta_e.min())),
        cautions=tuple(_cautions(problem, recipe)),
    )


def _verdict(recipe: Recipe, nearest: float) -> str:
    """The first reason, and how far to trust it. nearest: CIEDE2000 of the closest of all recipes."""
    doubt = recipe.expected_delta_e
    if nearest > max(1.0, doubt / 2):
        trust = f"No tile will bring it nearer: about {doubt:.1f} dE00 off is to be expected."
    elif doubt > 4:
        trust = f"Cast one test tile first: the palette is still unsure by about {doubt:.0f} dE00."
    elif doubt > 2:
        trust = f"Worth a test tile: about {doubt:.1f} dE00 off is to be expected."
    else:
        trust = f"Good to cast: about {doubt:.1f} dE00 off is to be expected."
    return f"{recipe.reasons[0]} {trust}"


def _cautions(problem: Problem, recipe: Recipe) -> list[str]:
    cautions = []
    cap = float(problem.cap_of(np.array([name in recipe.loads for name in problem.names])))
    if not problem.allowed and not recipe.loads:
        cautions.append("No pigment is allowed, so this is the bare cement.")
    elif 0 < problem.most_of_one < recipe.limits.step_load - LOAD_SLACK:
        cautions.append(
            f"No pigment can be weighed: {recipe.cement_g:g} g of cement may take "
            f"{problem.most_of_one * recipe.cement_g:.3g} g, under one step of the scale, "
            f"{recipe.limits.scale_step_g:g} g. Make a larger batch, or use a finer scale."
        )
    if recipe.total_load > cap - 2 * recipe.limits.step_load and recipe.loads:
        cautions.append(f"At the cap of {cap:.1%} pigment: no room to go darker or stronger.")
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
