"""Shade to recipes: solve, round, judge, choose; and a whole shade card at once, as one table."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import FloatArray, whole_number_between
from ..errors import InputError
from ..lamps import Lamp, lamp
from ..palette import Palette
from ..shade import Shade
from ..spectra import check_reflectance
from .choice import ALLOWANCE, FURTHEST, shortlist
from .far import as_near_by_eye, solve_by_eye
from .judging import expected_miss, judge, rough_expected_delta_e
from .limits import Limits
from .problem import IndexArray, Problem, least_of
from .recipe import Recipe, recipes_of
from .rounding import round_to_scale
from .solver import Candidates

# Candidates per target carried on to the scale: the closest, the safest. More were never chosen in tests.
_ROUNDED, _SAFEST = 20, 8
_AT_ONCE = 50  # shades between two reports of progress, a few tenths of a second


@overload
def find_recipes(
    palette: Palette,
    target: Shade,
    base: str = ...,
    limits: Limits | None = ...,
    *,
    state: str = ...,
    spectrum: ArrayLike | None = ...,
    lights: Sequence[str | Lamp] = ...,
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
    lights: Sequence[str | Lamp] = ...,
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
    lights: Sequence[str | Lamp] = (),
    count: int = 5,
) -> list[Recipe] | list[list[Recipe]]:
    """Recipes for a shade, best first; for several shades, one list for each.

    state: the state in which the shade is wanted. spectrum: the target's reflectance factors (31,), if
    it has been measured with a spectrophotometer, or a SpectralDistribution; it gives each recipe a `metamerism`.
    lights: what the recipe's inconstancy and metamerism are held against besides daylight, see `lamp`.
    count: at most so many recipes, fewer where no others differ really.
    Raises UnknownNameError, LoadError, InputError or RecipeError.

    >>> from colormatch.starter import starter_palette
    >>> best, *others = find_recipes(starter_palette(), Shade((52, 18, 20)), base="white-cement")
    >>> best.in_reach
    True
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
    lists = _recipes(problem, targets, spectrum, [lamp(light) for light in lights], count)
    return lists[0] if single else lists


@dataclass(frozen=True, slots=True)
class Row:
    """One wanted shade: its name, the shade, and the best recipe."""

    name: str
    wanted: Shade
    recipe: Recipe

    @property
    def out_of_reach(self) -> str:
        """How far off the nearest recipe stays, in a sentence; empty within reach."""
        return "" if self.recipe.in_reach else f"Out of reach by {self.recipe.delta_e:.1f} dE00."


def recipe_table(
    palette: Palette,
    shades: Mapping[str, Shade],
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    progress: Callable[[int, int], None] | None = None,
) -> list[Row]:
    """The best recipe for each of the shades, in their order; errors as `find_recipes`.

    progress: called with how many are done, and of how many.
    """
    names, wanted, rows = list(shades), list(shades.values()), list[Row]()
    for start in range(0, len(names), _AT_ONCE):
        block = slice(start, start + _AT_ONCE)
        found = find_recipes(palette, wanted[block], base, limits, state=state, count=1)
        pairs = zip(names[block], wanted[block], found, strict=True)
        rows += [Row(name, shade, recipes[0]) for name, shade, recipes in pairs]
        if progress:
            progress(len(rows), len(names))
    return rows


def table_as_csv(rows: list[Row]) -> str:
    """One line a shade: wanted L*, a*, b*, how far off to expect, then grams of each pigment that any of them needs.

    The distance by the model is left out where it says nothing, see `Recipe.drowned`.
    """
    pigments = list(dict.fromkeys(name for row in rows for name in row.recipe.grams))
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    heading = ["shade", "L*", "a*", "b*", "dE00 by the model", "dE00 expected", "dE00 likely under", "cement g"]
    table.writerow([*heading, *(f"{name} g" for name in pigments), "verdict"])
    for row in rows:
        r, lab = row.recipe, [f"{x:.2f}" for x in row.wanted.lab]
        off = ["" if r.drowned else f"{r.delta_e:.2f}", f"{r.expected_delta_e:.2f}", f"{r.likely_delta_e:.2f}"]
        grams = [f"{r.grams[name]:g}" if name in r.grams else "" for name in pigments]
        table.writerow([row.name, *lab, *off, f"{r.cement_g:g}", *grams, r.verdict])
    return out.getvalue()


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


def _recipes(
    problem: Problem, targets: list[Shade], spectrum: FloatArray | None, lamps: list[Lamp], count: int
) -> list[list[Recipe]]:
    """Everything batched over all targets; only the choice is made one target at a time."""
    labs = np.array([shade.lab for shade in targets])
    miss = expected_miss(problem.palette, problem.base, problem.state)
    solved, aims = solve_by_eye(problem, labs, miss)
    found = [_worth_rounding(candidates, miss) for candidates in solved]
    owner = np.repeat(np.arange(len(targets)), [len(c.delta_e) for c in found])
    loads, delta_e = round_to_scale(problem, np.concatenate([c.loads for c in found]), aims[owner])
    kept = _worth_judging(loads, delta_e, rough_expected_delta_e(miss, loads, delta_e), owner)
    loads, owner = loads[kept], owner[kept]
    covariances = np.array([shade.covariance for shade in targets])[owner]
    steps = np.full(loads.shape, problem.limits.step_load)
    judged = judge(problem, loads, aims[owner], covariances, steps, spectrum, lamps)
    moved = (aims != labs).any(axis=1)
    as_seen = ~moved[owner] | as_near_by_eye(judged.lab, labs[owner], owner)
    lists = []
    for t, shade in enumerate(targets):
        own = judged.rows((owner == t) & as_seen)
        lists.append(recipes_of(problem, shade, own, shortlist(own, count), found[t].loads[0]))
    return lists


def _worth_rounding(candidates: Candidates, miss: FloatArray) -> Candidates:
    """The closest, of every size the closest two, and the safest: the others could only be rounded in vain."""
    sizes = (candidates.loads > 0).sum(axis=1)
    kept = np.arange(len(sizes)) < _ROUNDED
    for size in np.unique(sizes):
        kept[np.flatnonzero(sizes == size)[:2]] = True
    kept &= candidates.delta_e <= candidates.delta_e[0] + FURTHEST + ALLOWANCE  # rounding moves them
    expected = rough_expected_delta_e(miss, candidates.loads, candidates.delta_e)
    safest = np.argsort(expected, kind="stable")[:_SAFEST]
    kept[safest[expected[safest] <= expected.min() + ALLOWANCE]] = True
    return Candidates(candidates.loads[kept], candidates.delta_e[kept])


def _worth_judging(loads: FloatArray, delta_e: FloatArray, expected: FloatArray, owner: IndexArray) -> IndexArray:
    """Rows near or safe enough to be chosen; of sets rounded to the same grams only one."""
    worth = np.zeros(len(loads), dtype=np.bool_)
    for measure in (delta_e, expected):
        worth |= measure <= least_of(measure, owner)[owner] + FURTHEST
    near = np.flatnonzero(worth)
    keys = np.column_stack([owner[near], np.round(loads[near], 9)])
    return near[np.sort(np.unique(keys, axis=0, return_index=True)[1])]
