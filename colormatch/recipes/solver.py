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
_SCREENING_STEPS, _REFINING_STEPS = 10, 14
_NEAR, _FAR = 0.1, 2.0  # CIEDE2000: near enough to be refined, too far to trust the metric at the target
_MET, _HOPELESS = 0.3, 3.0  # CIEDE2000: as good as met before refining; too far behind the best
_NUDGE = 0.05  # CIELAB units, for derivatives of CIEDE2000
_NUDGES = np.concatenate([np.zeros((1, 3)), _NUDGE * np.eye(3), -_NUDGE * np.eye(3)])


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
        amounts, delta_e = _screen(problem, screen, mixes, block, starts[first : first + at_once])
        lean = amounts.sum(axis=0) / max(problem.limits.load_cap, problem.limits.step_load)
        chosen = _most_promising(mixes, delta_e, lean, block, len(sets))
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
    """Amounts (k, m) and CIEDE2000 (m,) of all sets, infinite for a set that leaves a pigment out.

    The metric of CIEDE2000 at the target misleads where all sets end far from it; those targets are
    screened once more by the metric at the nearest colour found.
    """
    size = np.maximum((mixes.places < len(problem.names)).sum(axis=0), 1)
    mixes = mixes.as_precise_as(kernel.precision)
    start = (starts[mixes.target, mixes.places] / size).astype(kernel.precision)
    start = project(start, mixes.low, mixes.high, mixes.cap)
    amounts, delta_e, lab = _screen_at(problem, kernel, mixes, targets, start, targets)
    nearest = delta_e.reshape(len(targets), -1).argmin(axis=1) + np.arange(len(targets)) * (
        mixes.target.size // len(targets)
    )
    far = delta_e[nearest] > _FAR
    again = np.flatnonzero(far[mixes.target])
    if again.size:
        there = np.where(far[:, None], lab[:, nearest].T, targets)
        second, distance, _ = _screen_at(problem, kernel, mixes.take(again), targets, start[:, again], there)
        better = distance < delta_e[again]
        amounts[:, again[better]], delta_e[again[better]] = second[:, better], distance[better]
    return amounts, delta_e


def _screen_at(
    problem: Problem,
    kernel: LoadKernel,
    mixes: Mixes,
    targets: FloatArray,
    start: FloatArray,
    linearised_at: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Amounts (k, m), CIEDE2000 (m,), CIELAB (3, m) with CIEDE2000's parts linear around a colour (t, 3)."""
    parts, slopes_there = _parts_and_slopes(targets, linearised_at)
    by_lab = np.ascontiguousarray(np.moveaxis(slopes_there, 0, -1))  # (3, 3, t)
    offset = parts.T - (by_lab * linearised_at.T).sum(axis=1)
    by_lab, offset = by_lab.astype(kernel.precision), offset.astype(kernel.precision)

    def residuals(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        here = by_lab[:, :, mixes.target]
        value = (here * lab).sum(axis=1) + offset[:, mixes.target]
        return value, (here[:, :, None, :] * slopes).sum(axis=1)

    amounts, squares = descend(
        residuals, mixes, start, enough=_NEAR**2, most_steps=_SCREENING_STEPS, drop_contained=True
    )
    alive = np.flatnonzero(np.isfinite(squares))
    delta_e, lab = np.full(squares.shape, np.inf), np.zeros((3, len(squares)))
    lab[:, alive], _ = kernel.lab_and_slopes(mixes.places[:, alive], amounts[:, alive], problem.fixed)
    delta_e[alive] = delta_e_2000(targets[mixes.target[alive]], lab[:, alive].T)
    return amounts, delta_e, lab


def _parts_and_slopes(targets: FloatArray, lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """`delta_e_2000_parts` (m, 3) and their derivatives (m, part, 3) in the second colour, all (m, 3)."""
    parts = delta_e_2000_parts(targets[:, None, :], lab[:, None, :] + _NUDGES)  # (m, 7, 3)
    by_lab = (parts[:, 1:4] - parts[:, 4:7]) / (2 * _NUDGE)
    return parts[:, 0], np.swapaxes(by_lab, 1, 2)


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


def _refine(problem: Problem, kernel: LoadKernel, mixes: Mixes, start: FloatArray, targets: FloatArray) -> FloatArray:
    """Amounts (k, m) at the least CIEDE2000 near `start`."""

    def residuals(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        parts, by_lab = _parts_and_slopes(targets[mixes.target], lab.T)
        return parts.T, (by_lab.transpose(1, 2, 0)[:, :, None, :] * slopes).sum(axis=1)

    start = project(start.astype(np.float64), mixes.low, mixes.high, mixes.cap)
    amounts, _ = descend(residuals, mixes, start, enough=1e-5, most_steps=_REFINING_STEPS, drop_contained=False)
    return amounts


def _sorted_candidates(problem: Problem, mixes: Mixes, amounts: FloatArray, targets: FloatArray) -> list[Candidates]:
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
