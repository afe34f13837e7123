"""Every allowed set of pigments against every target, in two passes.

Screening: all sets from one start, in single precision, by the metric that CIEDE2000 has at the
target. Refining: the best few dozen, in double precision, by CIEDE2000 itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000
from .descent import Effort, Mixes, descend, project
from .difference_slopes import parts_and_slopes, square_and_curvature
from .fan import fan
from .kernel import LoadKernel
from .problem import IndexArray, Problem

_PAIRS_AT_ONCE = 30_000
_KEPT = 40  # sets refined per target; besides, the best few of each size
_KEPT_OF_EACH_SIZE = 6
_START_GRID = np.geomspace(2e-4, 0.1, 14)
_NEAR, _FAR = 0.1, 4.0  # CIEDE2000: near enough to be refined; too far to trust the metric at the target
_SCREENING = Effort(most_steps=10, enough=_NEAR**2, least_gain=1e-2, drop_contained=True)
_REFINING = Effort(most_steps=20, enough=1e-5, least_gain=1e-4)
_POLISHING = Effort(most_steps=15, enough=1e-5, least_gain=1e-6)
_POLISHED = 6  # sets polished for a target out of reach
_LEAST_CURVATURE = 0.02
_FAN_TOTALS, _FAN_PARTS = np.array([0.05, 0.15, 0.4, 1.0]), 4
_TRACE = 1e-4  # g per g of dry cement
_SEEDS = 16  # sets of the fan refined for a target that may be out of reach
_MET, _HOPELESS = 0.3, 3.0  # CIEDE2000: as good as met before refining; too far behind the best


@dataclass(frozen=True, eq=False, slots=True)
class Candidates:
    """Refined recipes for one target, best first: loads (c, n) with the fixed ones, delta_e (c,)."""

    loads: FloatArray
    delta_e: FloatArray


def solve(problem: Problem, targets: FloatArray) -> list[Candidates]:
    """The best recipes before rounding, for each of the targets (t, 3) in CIELAB, best first."""
    sets = np.flatnonzero(problem.caps >= np.append(problem.low, 0.0)[problem.subsets].sum(axis=-1) - 1e-12)
    starts = _single_pigment_starts(problem, targets)
    spread = _Spread(problem)
    screen, fine = LoadKernel(problem.coefficients, np.float32), LoadKernel(problem.coefficients, np.float64)
    found: list[Candidates] = []
    at_once = max(1, _PAIRS_AT_ONCE // max(len(sets), 1))
    for first in range(0, len(targets), at_once):
        block = targets[first : first + at_once]
        near, seeds = spread.nearest(block)
        mixes = _mixes(problem, np.tile(sets, len(block)), np.repeat(np.arange(len(block)), len(sets)))
        amounts, delta_e = _screen(problem, screen, mixes, block, starts[first : first + at_once], near)
        lean = amounts.sum(axis=0) / max(problem.limits.load_cap, problem.limits.step_load)
        chosen = _most_promising(mixes, delta_e, lean, block, len(sets))
        mixes, amounts = mixes.take(chosen), amounts[:, chosen]
        if seeds.target.size:
            more = _mixes(problem, seeds.sets, seeds.target)
            mixes, amounts = mixes.joined(more), np.concatenate([amounts, seeds.amounts(more)], axis=1)
        amounts, squares = _refine(problem, fine, mixes, amounts, block)
        far = _best_of_the_far(mixes.target, squares)
        amounts[:, far] = _polish(problem, fine, mixes.take(far), amounts[:, far], block)
        found += _sorted_candidates(problem, mixes, amounts, block)
    return found


@dataclass(frozen=True, eq=False, slots=True)
class _Seeds:
    """Further starts for targets that may be out of reach: sets (s,), loads (s, n), target rows (s,)."""

    sets: IndexArray
    loads: FloatArray
    target: IndexArray

    def amounts(self, mixes: Mixes) -> FloatArray:
        padded = np.append(self.loads, np.zeros((len(self.loads), 1)), axis=1)
        return np.take_along_axis(padded, mixes.places.T, axis=1).T


class _Spread:
    """The fan of recipes with its colours: CIEDE2000 has several valleys where a target is far off."""

    def __init__(self, problem: Problem) -> None:
        self.loads, self.sets = fan(problem, _FAN_TOTALS, _FAN_PARTS)
        self.lab = problem.lab(self.loads)
        self.first = np.flatnonzero(np.diff(self.sets, prepend=-1))  # rows of one set lie together

    def nearest(self, targets: FloatArray) -> tuple[FloatArray, _Seeds]:
        """(t, 3) the colour to take the metric at, and seeds for the targets that lie far off."""
        near, seeds = targets.copy(), []
        for t, target in enumerate(targets):
            if not self.loads.size:
                break
            delta_e = delta_e_2000(target, self.lab)
            best = delta_e.argmin()
            if delta_e[best] < _FAR:
                continue
            near[t] = self.lab[best]
            least = np.minimum.reduceat(delta_e, self.first)
            for group in np.argsort(least)[:_SEEDS]:
                end = self.first[group + 1] if group + 1 < len(self.first) else len(delta_e)
                seeds.append((t, self.first[group] + delta_e[self.first[group] : end].argmin()))
        owner, rows = np.array(seeds, dtype=np.intp).reshape(-1, 2).T
        return near, _Seeds(self.sets[rows], self.loads[rows], owner)


def _mixes(problem: Problem, sets: IndexArray, target: IndexArray) -> Mixes:
    places = np.ascontiguousarray(problem.subsets[sets].T)
    low, high = np.append(problem.low, 0.0)[places], np.append(problem.high, 0.0)[places]
    return Mixes(places, low, high, np.maximum(problem.caps[sets], 0.0), target)


def _single_pigment_starts(problem: Problem, targets: FloatArray) -> FloatArray:
    """(t, n + 1) the load at which each pigment alone comes nearest, from a coarse grid."""
    n = len(problem.names)
    loads = np.zeros((n * len(_START_GRID), n)) + problem.fixed
    loads[np.arange(len(loads)), np.repeat(np.arange(n), len(_START_GRID))] = np.tile(_START_GRID, n)
    lab = problem.lab(loads).reshape(n, len(_START_GRID), 3)
    apart = ((lab - targets[:, None, None, :]) ** 2).sum(axis=-1)
    return np.append(_START_GRID[apart.argmin(axis=-1)], np.zeros((len(targets), 1)), axis=1)


def _screen(
    problem: Problem,
    kernel: LoadKernel,
    mixes: Mixes,
    targets: FloatArray,
    starts: FloatArray,
    linear_at: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Amounts (k, m) and CIEDE2000 (m,) of all sets, infinite for a set that leaves a pigment out.

    CIEDE2000's parts are taken as linear around one colour per target (t, 3): the target itself, or
    the nearest of the fan where that is far off.
    """
    parts, slopes_there = parts_and_slopes(targets, linear_at)
    by_lab = np.ascontiguousarray(np.moveaxis(slopes_there, 0, -1))  # (3, 3, t)
    offset = (parts.T - (by_lab * linear_at.T).sum(axis=1)).astype(kernel.precision)
    by_lab = by_lab.astype(kernel.precision)

    def model(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        here = by_lab[:, :, mixes.target]
        value = (here * lab).sum(axis=1) + offset[:, mixes.target]
        return (value * value).sum(axis=0), value, (here[:, :, None, :] * slopes).sum(axis=1)

    mixes = mixes.as_precise_as(kernel.precision)
    size = np.maximum((mixes.places < len(problem.names)).sum(axis=0), 1)
    start = (starts[mixes.target, mixes.places] / size).astype(kernel.precision)
    start = project(start, mixes.low, mixes.high, mixes.cap)
    amounts, squares = descend(model, mixes, start, _SCREENING)
    alive = np.flatnonzero(np.isfinite(squares))
    delta_e = np.full(squares.shape, np.inf)
    lab, _ = kernel.lab_and_slopes(mixes.places[:, alive], amounts[:, alive], problem.fixed)
    delta_e[alive] = delta_e_2000(targets[mixes.target[alive]], lab.T)
    return amounts, delta_e


def _most_promising(
    mixes: Mixes, delta_e: FloatArray, lean: FloatArray, targets: FloatArray, n_sets: int
) -> IndexArray:
    """Positions of the sets worth refining, for each target: the best, and the best of each size."""
    table = delta_e.reshape(len(targets), n_sets)
    # Among sets that all meet the target the leaner ones first, by their share of the cap.
    rank = np.maximum(table, _MET) + _MET * lean.reshape(len(targets), n_sets)
    sizes = (mixes.high[:, :n_sets] > 0).sum(axis=0)
    kept = np.zeros(table.shape, dtype=bool)
    groups = [(np.arange(n_sets), _KEPT)]
    groups += [(np.flatnonzero(sizes == size), _KEPT_OF_EACH_SIZE) for size in np.unique(sizes)]
    for group, count in groups:
        count = min(count, len(group))
        best = np.argpartition(rank[:, group], count - 1, axis=1)[:, :count]
        np.put_along_axis(kept, group[best], True, axis=1)
    kept &= table <= table.min(axis=1, keepdims=True) + _HOPELESS
    return np.flatnonzero(kept.ravel())


def refine_sets(problem: Problem, sets: Sequence[IndexArray], start: FloatArray, target: FloatArray) -> FloatArray:
    """Loads (m, n) nearest to one target (3,) of the given sets of free pigments, from loads (m, n)."""
    n, width = len(problem.names), max(len(one) for one in sets)
    places = np.full((max(width, 1), len(sets)), n, dtype=np.intp)
    for row, one in enumerate(sets):
        places[: len(one), row] = one
    low, high = np.append(problem.low, 0.0)[places], np.append(problem.high, 0.0)[places]
    ceiling = np.append(problem.own_maximum, np.inf)[places].min(axis=0)
    cap = np.minimum(ceiling, float(problem.cap_of(problem.fixed > 0))) - problem.fixed.sum()
    mixes = Mixes(places, low, high, np.maximum(cap, 0.0), np.zeros(len(sets), dtype=np.intp))
    amounts = np.take_along_axis(np.append(start, np.zeros((len(sets), 1)), axis=1), places.T, axis=1).T
    # A pigment that was not in it starts with a trace, so that its slope is not that of an empty place.
    amounts = np.maximum(amounts, np.where(places < n, _TRACE, 0.0))
    kernel, targets = LoadKernel(problem.coefficients, np.float64), target[None, :]
    amounts, _ = _refine(problem, kernel, mixes, amounts, targets)
    amounts = _polish(problem, kernel, mixes, amounts, targets)
    return _loads(problem, mixes, amounts)


def _refine(
    problem: Problem, kernel: LoadKernel, mixes: Mixes, start: FloatArray, targets: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Amounts (k, m) at the least CIEDE2000 near `start`, and its square (m,); Gauss-Newton."""

    def model(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        parts, by_lab = parts_and_slopes(targets[mixes.target], lab.T)
        value = (parts * parts).sum(axis=1)
        return value, parts.T, (by_lab.transpose(1, 2, 0)[:, :, None, :] * slopes).sum(axis=1)

    start = project(start.astype(np.float64), mixes.low, mixes.high, mixes.cap)
    return descend(model, mixes, start, _REFINING)


def _best_of_the_far(target: IndexArray, squares: FloatArray) -> IndexArray:
    """Positions of the best few mixes of every target that is out of reach."""
    order = np.lexsort([squares, target])
    ordered = target[order]
    place = np.arange(len(order)) - np.searchsorted(ordered, ordered)
    best = squares[order][np.searchsorted(ordered, ordered)]
    return order[(place < _POLISHED) & (best > 1.0)]


def _polish(problem: Problem, kernel: LoadKernel, mixes: Mixes, start: FloatArray, targets: FloatArray) -> FloatArray:
    """Amounts (k, m) with the true curvature of CIEDE2000: far from the target Gauss-Newton only crawls."""

    def model(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        value, gradient, curvature = square_and_curvature(targets[mixes.target], lab.T)
        size, axes = np.linalg.eigh(curvature)
        size = np.maximum(size, _LEAST_CURVATURE)
        along = np.swapaxes(axes, 1, 2)
        r = (along @ gradient[:, :, None])[:, :, 0] / np.sqrt(2 * size)
        by_lab = along * np.sqrt(size / 2)[:, :, None]
        return value, r.T, (by_lab.transpose(1, 2, 0)[:, :, None, :] * slopes).sum(axis=1)

    return descend(model, mixes, start, _POLISHING)[0]


def _sorted_candidates(problem: Problem, mixes: Mixes, amounts: FloatArray, targets: FloatArray) -> list[Candidates]:
    loads = _loads(problem, mixes, amounts)
    delta_e = delta_e_2000(targets[mixes.target], problem.lab(loads))
    found = []
    for t in range(len(targets)):
        own = np.flatnonzero(mixes.target == t)
        own = own[np.argsort(delta_e[own], kind="stable")]
        found.append(Candidates(loads[own], delta_e[own]))
    return found


def _loads(problem: Problem, mixes: Mixes, amounts: FloatArray) -> FloatArray:
    """(m, n) loads of all pigments, the fixed ones with them."""
    n = len(problem.names)
    loads = np.zeros((amounts.shape[1], n + 1))
    np.put_along_axis(loads, mixes.places.T, amounts.T, axis=1)
    return np.asarray(loads[:, :n] + problem.fixed)
