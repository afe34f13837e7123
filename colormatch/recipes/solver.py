"""Every allowed set of pigments against every target, in two passes.

Screening: all sets from one start, in single precision, by a linear CIEDE2000. Refining: the best few
dozen, in double precision, by CIEDE2000 itself; for targets that are not met, further starts from a
coarse grid of recipes, sets with one more pigment, and Newton steps at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .. import difference, mixture
from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..mixture import LoadSlopes
from .descent import Effort, descend, project
from .problem import IndexArray, Mixes, Problem, amounts_of, least_of, loads_of, mixes_of
from .starts import Grid, Seeds, single_pigment_starts

# Efforts and counts below: the least that keeps tests/recipes/test_solver.py (brute force, evolution) within 0.02 dE00.
_SCREENING = Effort(most_steps=10, enough=0.01, least_gain=1e-2, drop_contained=True)
_REFINING = Effort(most_steps=10, enough=1e-5, least_gain=3e-3)
_POLISHING = Effort(most_steps=12, enough=1e-5, least_gain=1e-5)
_KEPT = 40  # sets refined per target; besides, the best few of each size
_KEPT_OF_EACH_SIZE = 6
_KEPT_SAFEST = 12
_AS_GOOD_AS_MET, _HOPELESS = 0.3, 3.0  # CIEDE2000 before refining; too far behind the best
_PAIRS_AT_ONCE = 30_000  # of sets and targets: some hundred MB of working arrays
_MET = 0.02  # CIEDE2000
_GROWN, _POLISHED = 3, 6  # sets grown and polished for a target that is not met
_LEAST_CURVATURE = 0.02  # share of the largest: keeps a step finite where a pigment hardly matters; a judgement
_TRACE = 1e-4  # g per g of dry cement: what a pigment newly taken in starts with


@dataclass(frozen=True, eq=False, slots=True)
class Candidates:
    """Refined recipes for one target, best first: loads (c, n) with the fixed ones, delta_e (c,)."""

    loads: FloatArray
    delta_e: FloatArray


def solve(
    problem: Problem, targets: FloatArray, miss: FloatArray | None = None, grid: Grid | None = None
) -> list[Candidates]:
    """The best recipes before rounding, for each of the targets (t, 3) in CIELAB, best first.

    miss: (n,) CIEDE2000 by which each pigment may miss what is predicted; with it the nearest of the safer sets
    are found too. grid: the problem's own, where there is one already.
    """
    search = _Search(problem, grid or Grid(problem))
    starts = single_pigment_starts(problem, targets)
    at_once = max(1, _PAIRS_AT_ONCE // max(problem.feasible.size, 1))
    found: list[Candidates] = []
    for first in range(0, len(targets), at_once):
        block = slice(first, first + at_once)
        found += search.run(targets[block], starts[block], miss)
    return found


class _Search:
    """What all targets share."""

    def __init__(self, problem: Problem, grid: Grid) -> None:
        self.problem, self.grid = problem, grid
        self.rough = LoadSlopes(problem.coefficients, np.float32)
        self.fine = LoadSlopes(problem.coefficients, np.float64)

    def run(self, targets: FloatArray, starts: FloatArray, miss: FloatArray | None) -> list[Candidates]:
        problem, sets = self.problem, self.problem.feasible
        distances = self.grid.distances(targets)
        near, far = self.grid.centres(targets, distances)
        target = np.repeat(np.arange(len(targets)), len(sets))
        mixes = mixes_of(problem, problem.subsets[np.tile(sets, len(targets))].T, target)
        amounts, delta_e = _screen(problem, self.rough, mixes, targets, starts, near)
        lean = amounts.sum(axis=0) / max(problem.limits.load_cap, problem.limits.step_load)
        chosen = _most_promising(mixes, delta_e, lean, targets, len(sets), miss)
        mixes, amounts = mixes.take(chosen), amounts[:, chosen]
        mixes, amounts = self._seeded(mixes, amounts, self.grid.seeds(distances, np.flatnonzero(far)))
        amounts, squares = _refine(problem, self.fine, mixes, amounts, targets)
        mixes, amounts, squares = self._retried(mixes, amounts, squares, targets, distances, far)
        mixes, amounts, squares = self._grown(mixes, amounts, squares, targets)
        best = _best_few(mixes.target, squares, _POLISHED, further_than=_MET)
        amounts[:, best] = _polish(problem, self.fine, mixes.take(best), amounts[:, best], targets)
        return _sorted(problem, mixes, amounts, targets)

    def _seeded(self, mixes: Mixes, amounts: FloatArray, seeds: Seeds) -> tuple[Mixes, FloatArray]:
        """Further starts, for CIEDE2000 and the mixing law have more than one valley."""
        if not seeds.target.size:
            return mixes, amounts
        more = mixes_of(self.problem, self.problem.subsets[seeds.sets].T, seeds.target)
        return mixes.joined(more), np.append(amounts, amounts_of(more, seeds.loads), axis=1)

    def _retried(
        self,
        mixes: Mixes,
        amounts: FloatArray,
        squares: FloatArray,
        targets: FloatArray,
        distances: FloatArray,
        seeded: NDArray[np.bool_],
    ) -> tuple[Mixes, FloatArray, FloatArray]:
        """Targets not far off and yet not met: further starts for them too."""
        unmet = (least_of(squares, mixes.target, len(targets)) > _MET**2) & ~seeded
        grown, starts = self._seeded(mixes, amounts, self.grid.seeds(distances, np.flatnonzero(unmet)))
        new = np.arange(len(squares), grown.target.size)
        if not new.size:
            return mixes, amounts, squares
        starts[:, new], values = _refine(self.problem, self.fine, grown.take(new), starts[:, new], targets)
        return grown, starts, np.append(squares, values)

    def _grown(
        self, mixes: Mixes, amounts: FloatArray, squares: FloatArray, targets: FloatArray
    ) -> tuple[Mixes, FloatArray, FloatArray]:
        """Targets not met: their best sets with one more pigment, as long as that brings anything."""
        for _ in range(self.problem.subsets.shape[1]):
            best = _best_few(mixes.target, squares, _GROWN, further_than=_MET)
            more, start = _with_one_more(self.problem, mixes.take(best), amounts[:, best], targets)
            if not more.target.size:
                break
            least = least_of(squares, mixes.target, len(targets))
            found, values = _refine(self.problem, self.fine, more, start, targets)
            mixes, amounts, squares = mixes.joined(more), np.append(amounts, found, axis=1), np.append(squares, values)
            if not np.any(np.sqrt(values) < np.sqrt(least[more.target]) - _MET / 4):
                break
        return mixes, amounts, squares


def refine_sets(problem: Problem, sets: Sequence[IndexArray], start: FloatArray, target: FloatArray) -> FloatArray:
    """Loads (m, n) nearest to one target (3,) of the given sets of free pigments, from loads (m, n)."""
    n, width = len(problem.names), max(len(one) for one in sets)
    places = np.full((max(width, 1), len(sets)), n, dtype=np.intp)
    for row, one in enumerate(sets):
        places[: len(one), row] = one
    mixes = mixes_of(problem, places, np.zeros(len(sets), dtype=np.intp))
    amounts = amounts_of(mixes, start)
    # A pigment that was not in it starts with a trace, so that its slope is not that of an empty place.
    amounts = np.maximum(amounts, np.where(places < n, _TRACE, 0.0))
    kernel, targets = LoadSlopes(problem.coefficients, np.float64), target[None, :]
    amounts, _ = _refine(problem, kernel, mixes, amounts, targets)
    amounts = _polish(problem, kernel, mixes, amounts, targets)
    return loads_of(problem, mixes, amounts)


def _sorted(problem: Problem, mixes: Mixes, amounts: FloatArray, targets: FloatArray) -> list[Candidates]:
    loads = loads_of(problem, mixes, amounts)
    delta_e = delta_e_2000(targets[mixes.target], problem.lab(loads))
    found = []
    for t in range(len(targets)):
        own = np.flatnonzero(mixes.target == t)
        own = own[np.argsort(delta_e[own], kind="stable")]
        found.append(Candidates(loads[own], delta_e[own]))
    return found


def _screen(
    problem: Problem,
    kernel: LoadSlopes,
    mixes: Mixes,
    targets: FloatArray,
    starts: FloatArray,
    linear_at: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Amounts (k, m) and CIEDE2000 (m,) of all sets, infinite for a set that leaves a pigment out.

    CIEDE2000's parts are taken as linear around one colour per target (t, 3): the target itself, or
    the nearest of the grid where that is far off.
    """
    parts, slopes_there = difference.slopes(targets, linear_at)
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
    mixes: Mixes,
    delta_e: FloatArray,
    lean: FloatArray,
    targets: FloatArray,
    n_sets: int,
    miss: FloatArray | None,
) -> IndexArray:
    """Positions of the sets worth refining, for each target: the best, the best of each size, and the best
    when the expected miss of their pigments (n,) counts as well."""
    table = delta_e.reshape(len(targets), n_sets)
    # Among sets that all meet the target the leaner ones first, by their share of the cap.
    rank = np.maximum(table, _AS_GOOD_AS_MET) + _AS_GOOD_AS_MET * lean.reshape(len(targets), n_sets)
    sizes = (mixes.high[:, :n_sets] > 0).sum(axis=0)
    kept = np.zeros(table.shape, dtype=bool)
    groups = [(np.arange(n_sets), _KEPT)]
    groups += [(np.flatnonzero(sizes == size), _KEPT_OF_EACH_SIZE) for size in np.unique(sizes)]
    for group, count in groups:
        count = min(count, len(group))
        best = np.argpartition(rank[:, group], count - 1, axis=1)[:, :count]
        np.put_along_axis(kept, group[best], True, axis=1)
    kept &= table <= table.min(axis=1, keepdims=True) + _HOPELESS
    if miss is not None:
        expected = np.hypot(table, np.append(miss, 0.0)[mixes.places[:, :n_sets]].max(axis=0, initial=0.0))
        count = min(_KEPT_SAFEST, n_sets)
        safest = np.argpartition(expected, count - 1, axis=1)[:, :count]
        np.put_along_axis(kept, safest, True, axis=1)
        kept &= np.isfinite(table)
    return np.flatnonzero(kept.ravel())


def _refine(
    problem: Problem, kernel: LoadSlopes, mixes: Mixes, start: FloatArray, targets: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Amounts (k, m) at the least CIEDE2000 near `start`, and its square (m,); Gauss-Newton."""

    def model(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        parts, by_lab = difference.slopes(targets[mixes.target], lab.T)
        value = (parts * parts).sum(axis=1)
        return value, parts.T, _chained(by_lab, slopes)

    start = project(start.astype(np.float64), mixes.low, mixes.high, mixes.cap)
    return descend(model, mixes, start, _REFINING)


def _polish(problem: Problem, kernel: LoadSlopes, mixes: Mixes, start: FloatArray, targets: FloatArray) -> FloatArray:
    """Amounts (k, m) with the true curvature of CIEDE2000: far from the target Gauss-Newton only crawls."""

    def model(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        value, gradient, curvature = difference.curvature(targets[mixes.target], lab.T)
        size, axes = np.linalg.eigh(curvature)
        size = np.maximum(size, _LEAST_CURVATURE)
        along = np.swapaxes(axes, 1, 2)
        r = (along @ gradient[:, :, None])[:, :, 0] / np.sqrt(2 * size)
        by_lab = along * np.sqrt(size / 2)[:, :, None]
        return value, r.T, _chained(by_lab, slopes)

    return descend(model, mixes, start, _POLISHING)[0]


def _chained(by_lab: FloatArray, slopes: FloatArray) -> FloatArray:
    """(3, k, m) derivatives in the loads, from (m, 3, 3) in CIELAB and (3, k, m) of CIELAB in the loads."""
    by_lab = np.ascontiguousarray(by_lab.transpose(1, 2, 0))  # else everything after it runs over strides
    return np.asarray((by_lab[:, :, None, :] * slopes).sum(axis=1))


def _best_few(target: IndexArray, squares: FloatArray, count: int, further_than: float) -> IndexArray:
    """Positions of the `count` best mixes of every target whose best is further off than that (CIEDE2000)."""
    order = np.lexsort([squares, target])
    first = np.searchsorted(target[order], target[order])
    place = np.arange(len(order)) - first
    return order[(place < count) & (squares[order][first] > further_than**2)]


def _with_one_more(
    problem: Problem, mixes: Mixes, amounts: FloatArray, targets: FloatArray
) -> tuple[Mixes, FloatArray]:
    """Every mix with each further pigment that would bring it nearer, by the slope, and where to start.

    This undoes what screening has let go too early: at a true least of all sets no pigment has a slope
    left that points to the target (the conditions of Karush, Kuhn and Tucker).
    """
    n = len(problem.names)
    loads = loads_of(problem, mixes, amounts)
    lab, slopes = mixture.lab_and_load_slopes(problem.coefficients, loads)
    parts, by_lab = difference.slopes(targets[mixes.target], lab)
    gradient = 2 * ((parts[:, None, :] @ by_lab) @ slopes)[:, 0, :]  # of CIEDE2000 squared, (m, n)
    total = amounts.sum(axis=0)
    at_cap = total >= mixes.cap * (1 - 1e-6)
    own = np.take_along_axis(np.append(gradient, np.zeros((len(gradient), 1)), axis=1), mixes.places.T, axis=1).T
    pull = -(own * amounts).sum(axis=0) / np.maximum(total, 1e-12)  # what the mix's own loads gain
    gradient += np.where(at_cap, np.maximum(pull, 0.0), 0.0)[:, None]
    room = mixes.places == n
    may_grow = (~room).sum(axis=0) < problem.most_free
    open_to = np.zeros((len(loads), n + 1), dtype=bool)
    open_to[:, problem.free] = True
    np.put_along_axis(open_to, mixes.places.T, False, axis=1)
    row, pigment = np.nonzero(open_to[:, :n] & (gradient < 0) & may_grow[:, None])
    places = mixes.places[:, row].copy()
    places[room.argmax(axis=0)[row], np.arange(len(row))] = pigment
    grown = mixes_of(problem, places, mixes.target[row])
    start = np.where(places == mixes.places[:, row], amounts[:, row], _TRACE)
    fits = np.flatnonzero(grown.cap > grown.low.sum(axis=0))
    return grown.take(fits), start[:, fits]
