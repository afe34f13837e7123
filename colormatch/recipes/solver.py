"""Every allowed set of pigments against every target, in two passes.

Screening: all sets from one start, in single precision, by the metric that CIEDE2000 has at the
target. Refining: the best few dozen, in double precision, by CIEDE2000 itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000, delta_e_2000_parts
from .descent import Mixes, descend, project
from .kernel import LoadKernel
from .problem import IndexArray, Problem

_PAIRS_AT_ONCE = 30_000
_KEPT = 40  # sets refined per target; besides, the best few of each size
_KEPT_OF_EACH_SIZE = 6
_START_GRID = np.geomspace(2e-4, 0.1, 14)
_NUDGE = 0.05  # CIELAB units, for derivatives of CIEDE2000


@dataclass(frozen=True, eq=False, slots=True)
class Candidates:
    """Refined recipes for one target, best first: loads (c, n) with the fixed ones, delta_e (c,)."""

    loads: FloatArray
    delta_e: FloatArray


def solve(problem: Problem, targets: FloatArray) -> list[Candidates]:
    """The best recipes before rounding, for each of the targets (t, 3) in CIELAB."""
    sets = np.flatnonzero(problem.caps >= np.append(problem.low, 0.0)[problem.subsets].sum(axis=-1) - 1e-12)
    starts = _single_pigment_starts(problem, targets)
    screen, fine = LoadKernel(problem.coefficients, np.float32), LoadKernel(problem.coefficients, np.float64)
    found: list[Candidates] = []
    at_once = max(1, _PAIRS_AT_ONCE // max(len(sets), 1))
    for first in range(0, len(targets), at_once):
        block = targets[first : first + at_once]
        mixes = _mixes(problem, np.tile(sets, len(block)), np.repeat(np.arange(len(block)), len(sets)))
        amounts, lab = _screen(problem, screen, mixes, block, starts[first : first + at_once])
        chosen = _most_promising(mixes, lab, block, len(sets))
        amounts = _refine(problem, fine, mixes.take(chosen), amounts[:, chosen], block)
        found += _sorted_candidates(problem, mixes.take(chosen), amounts, block)
    return found


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
    problem: Problem, kernel: LoadKernel, mixes: Mixes, targets: FloatArray, starts: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Amounts (k, m) and squared distances (m,) in the metric of CIEDE2000 at each target."""
    metric = np.moveaxis(_metric_at(targets), 0, -1)  # (3, 3, t)

    def residuals(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        away = lab - targets[mixes.target].T
        here = metric[:, :, mixes.target]
        return (here * away).sum(axis=1), (here[:, :, None, :] * slopes).sum(axis=1)

    size = np.maximum((mixes.places < len(problem.names)).sum(axis=0), 1)
    start = project(starts[mixes.target, mixes.places] / size, mixes.low, mixes.high, mixes.cap)
    amounts, squares = descend(residuals, mixes, start, enough=1e-4, most_steps=25, drop_contained=True)
    return amounts, squares


def _metric_at(targets: FloatArray) -> FloatArray:
    """(t, 3, 3) M with |M (lab - target)| about CIEDE2000 near each target."""
    nudges = 0.5 * np.eye(3)
    rows = delta_e_2000_parts(targets[:, None, :], targets[:, None, :] + nudges)
    other = delta_e_2000_parts(targets[:, None, :], targets[:, None, :] - nudges)
    return np.swapaxes((rows - other) / 1.0, 1, 2)


def _most_promising(mixes: Mixes, squares: FloatArray, targets: FloatArray, n_sets: int) -> IndexArray:
    """Positions of the sets worth refining, for each target: the best, and the best of each size."""
    table = squares.reshape(len(targets), n_sets)
    sizes = (mixes.high[:, :n_sets] > 0).sum(axis=0)
    kept = np.zeros(table.shape, dtype=bool)
    groups = [(np.arange(n_sets), _KEPT)]
    groups += [(np.flatnonzero(sizes == size), _KEPT_OF_EACH_SIZE) for size in np.unique(sizes)]
    for group, count in groups:
        count = min(count, len(group))
        best = np.argpartition(table[:, group], count - 1, axis=1)[:, :count]
        np.put_along_axis(kept, group[best], True, axis=1)
    kept &= np.isfinite(table)
    return np.flatnonzero(kept.ravel())


def _refine(
    problem: Problem, kernel: LoadKernel, mixes: Mixes, start: FloatArray, targets: FloatArray
) -> FloatArray:
    """Amounts (k, m) at the least CIEDE2000 near `start`."""
    nudges = np.concatenate([np.zeros((1, 3)), _NUDGE * np.eye(3), -_NUDGE * np.eye(3)])

    def residuals(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        parts = delta_e_2000_parts(targets[mixes.target][:, None, :], lab.T[:, None, :] + nudges)  # (m, 7, 3)
        by_lab = (parts[:, 1:4] - parts[:, 4:7]) / (2 * _NUDGE)  # (m, lab, part)
        by_lab = by_lab.transpose(2, 1, 0)
        return parts[:, 0].T, (by_lab[:, :, None, :] * slopes).sum(axis=1)

    amounts, _ = descend(residuals, mixes, start, enough=1e-7, most_steps=30, drop_contained=False)
    return amounts


def _sorted_candidates(
    problem: Problem, mixes: Mixes, amounts: FloatArray, targets: FloatArray
) -> list[Candidates]:
    n = len(problem.names)
    loads = np.zeros((amounts.shape[1], n + 1))
    rows = np.arange(len(loads))
    for place, amount in zip(mixes.places, amounts, strict=True):
        loads[rows, place] = amount
    loads = loads[:, :n] + problem.fixed
    delta_e = delta_e_2000(targets[mixes.target], problem.lab(loads))
    found = []
    for t in range(len(targets)):
        own = np.flatnonzero(mixes.target == t)
        own = own[np.argsort(delta_e[own], kind="stable")]
        found.append(Candidates(loads[own], delta_e[own]))
    return found
