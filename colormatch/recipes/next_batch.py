"""The next batch: the last recipe, corrected by what its dry shade turned out to be, as little as will do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..arrays import FloatArray, number_between
from ..difference import JUST_SEEN, delta_e_2000
from ..errors import RecipeError
from ..palette import Palette, parameter_slopes_at
from ..saying import capital
from ..shade import Shade
from .limits import Limits
from .problem import Problem
from .recipe import Recipe, recipe_from_loads
from .solver import refine_sets

_PASSES = 8  # Gauss-Newton; the correction of one tile settles within a few
_HALVINGS = 30  # of the way to the whole correction: to a billionth of it


def correct_next_batch(
    palette: Palette,
    loads: Mapping[str, float],
    measured: Shade,
    target: Shade,
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    tolerance: float = 0.5,
) -> Recipe:
    """The corrected recipe for the next batch, from the last one's loads and its measured shade.

    The palette first learns from the piece (one tile, by its own uncertainty and that of the photograph, so a
    difference within the noise moves little), then the loads go from the last ones towards the best
    ones only as far as it takes to come within `tolerance` CIEDE2000 of the target, or as near as
    can be. The same pigments; one more only where they cannot do it and it brings 1 dE00 or more.
    Raises UnknownNameError, LoadError, RecipeError or InputError.
    """
    tolerance = number_between(tolerance, name="The tolerance", low=0.0, high=20.0, unit="dE00")
    limits = limits or Limits()
    last = palette.load_vector(loads)
    learned = palette_after(palette, last, measured, base, state)
    problem = Problem(learned, base, state, _limits_for(limits, palette, last))
    best = _best_loads(problem, last, target)
    corrected = _least_change(problem, last, best, target, tolerance)
    # Rounding may help a change along by a step, but must not make one where none is needed.
    moves = 0 if corrected is last else 1
    recipe = recipe_from_loads(problem, corrected, target, most_moves=moves)
    expected = float(delta_e_2000(target.lab, problem.lab(last[None, :])[0]))
    return _with_words(recipe, dict(loads), expected)


def palette_after(palette: Palette, loads: FloatArray, measured: Shade, base: str, state: str) -> Palette:
    """The palette after one measured piece of loads (n,): the most probable parameters, covariance after.

    An iterated linear update of rank 3 (iterated Kalman update; Bell & Cathey, IEEE Trans. Autom.
    Control 38 (1993) 294, from memory); for a whole set of tiles use `learn`.
    """
    noise = measured.covariance + palette.cast_sd**2 * np.eye(3)
    prior, mean = palette.mean, palette.mean.copy()
    for _ in range(_PASSES):
        lab, slopes = parameter_slopes_at(palette, mean, loads[None, :], base, state)
        across = palette.covariance @ slopes[0].T
        gain = np.linalg.solve(slopes[0] @ across + noise, across.T).T
        mean = prior + gain @ (measured.lab - lab[0] + slopes[0] @ (mean - prior))
    covariance = palette.covariance - gain @ across.T
    return palette.with_posterior(mean, (covariance + covariance.T) / 2)


def _limits_for(limits: Limits, palette: Palette, last: FloatArray) -> Limits:
    """The last recipe's pigments stay allowed, and there is room for all of them."""
    used = [name for name, load in zip(palette.pigments, last, strict=True) if load > 0]
    barred = [name for name in used if name in limits.never_use]
    if barred:
        raise RecipeError(f"The last recipe holds {', '.join(barred)}, which is never-use; find a new recipe.")
    if len(used) > limits.max_pigments:
        raise RecipeError(
            f"The last recipe holds {len(used)} pigments, but a recipe may have {limits.max_pigments}; "
            "raise max_pigments or find a new recipe."
        )
    if limits.pigments is None:
        return limits
    return replace(limits, pigments=tuple(dict.fromkeys((*limits.pigments, *used))))


def _best_loads(problem: Problem, last: FloatArray, target: Shade) -> FloatArray:
    """The nearest loads of the same pigments, or with one more where that is worth it."""
    same = np.flatnonzero((last > 0) & (problem.fixed == 0))
    sets = [same]
    if same.size < problem.most_free:
        sets += [np.append(same, i) for i in problem.free if i not in same]
    loads = refine_sets(problem, sets, np.tile(last, (len(sets), 1)), target.lab)
    delta_e = delta_e_2000(target.lab, problem.lab(loads))
    if delta_e[0] - delta_e.min() >= JUST_SEEN:
        return np.asarray(loads[delta_e.argmin()])
    return np.asarray(loads[0])


def _least_change(problem: Problem, last: FloatArray, best: FloatArray, target: Shade, tolerance: float) -> FloatArray:
    """The first loads on the way from the last to the best that will do, found by halving."""

    def distance(share: float) -> float:
        return float(delta_e_2000(target.lab, problem.lab((last + share * (best - last))[None, :])[0]))

    enough = max(tolerance, distance(1.0) + 0.05)
    feasible_start = last.sum() <= float(problem.cap_of(last > 0)) + 1e-9
    if feasible_start and distance(0.0) <= enough:
        return last
    if not feasible_start:
        return best
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if distance(middle) <= enough else (middle, high)
    return last + high * (best - last)


def _with_words(recipe: Recipe, last: dict[str, float], expected: float) -> Recipe:
    changes = []
    for name in dict.fromkeys((*last, *recipe.loads)):
        before, after = last.get(name, 0.0) * recipe.cement_g, recipe.grams.get(name, 0.0)
        if abs(after - before) >= recipe.limits.scale_step_g / 2:
            word = "more" if after > before else "less"
            changes.append(f"{abs(after - before):.3g} g {word} {recipe.palette.label(name)}")
    if not changes:
        verdict = f"Cast it again as it was: {expected:.1f} off is all that can be said from one piece."
    else:
        verdict = (
            f"{capital(', '.join(changes))}: about {recipe.delta_e:.1f} off. Cast as before it would be about "
            f"{expected:.1f} off: part of what one piece shows is chance."
        )
    return replace(recipe, verdict=verdict, reasons=tuple(changes))
