"""Every allowed set of pigments against every target, in two passes.

Screening: all sets from one start, in single precision, by a linear CIEDE2000. Refining: the best few
dozen, in double precision, by CIEDE2000 itself; for targets that are not met, further starts from a
spread of recipes, sets with one more pigment, and Newton steps at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..mixture import LoadSlopes
from .mixes import Mixes, amounts_of, loads_of, mixes_of
from .problem import IndexArray, Problem
from .refining import TRACE, best_few, polish, refine, with_one_more
from .screening import most_promising, screen
from .starts import Seeds, Spread, single_pigment_starts

_PAIRS_AT_ONCE = 30_000
_MET = 0.02  # CIEDE2000
_GROWN, _POLISHED = 3, 6  # sets grown and polished for a target that is not met


@dataclass(frozen=True, eq=False, slots=True)
class Candidates:
    """Refined recipes for one target, best first: loads (c, n) with the fixed ones, delta_e (c,)."""

    loads: FloatArray
    delta_e: FloatArray


def solve(problem: Problem, targets: FloatArray, doubt: FloatArray | None = None) -> list[Candidates]:
    """The best recipes before rounding, for each of the targets (t, 3) in CIELAB, best first.

    doubt: (n,) CIEDE2000 by which each pigment may miss; with it the nearest of the surer sets are found too.
    """
    search = _Search(problem)
    starts = single_pigment_starts(problem, targets)
    at_once = max(1, _PAIRS_AT_ONCE // max(problem.feasible.size, 1))
    found: list[Candidates] = []
    for first in range(0, len(targets), at_once):
        block = slice(first, first + at_once)
        found += search.run(targets[block], starts[block], doubt)
    return found


class _Search:
    """What all targets share."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.rough = LoadSlopes(problem.coefficients, np.float32)
        self.fine = LoadSlopes(problem.coefficients, np.float64)
        self.spread = Spread(problem)

    def run(self, targets: FloatArray, starts: FloatArray, doubt: FloatArray | None) -> list[Candidates]:
        problem, sets = self.problem, self.problem.feasible
        distances = self.spread.distances(targets)
        near, far = self.spread.centres(targets, distances)
        target = np.repeat(np.arange(len(targets)), len(sets))
        mixes = mixes_of(problem, problem.subsets[np.tile(sets, len(targets))].T, target)
        amounts, delta_e = screen(problem, self.rough, mixes, targets, starts, near)
        lean = amounts.sum(axis=0) / max(problem.limits.load_cap, problem.limits.step_load)
        chosen = most_promising(mixes, delta_e, lean, targets, len(sets), doubt)
        mixes, amounts = mixes.take(chosen), amounts[:, chosen]
        mixes, amounts = self._seeded(mixes, amounts, self.spread.seeds(distances, np.flatnonzero(far)))
        amounts, squares = refine(problem, self.fine, mixes, amounts, targets)
        mixes, amounts, squares = self._retried(mixes, amounts, squares, targets, distances, far)
        mixes, amounts, squares = self._grown(mixes, amounts, squares, targets)
        best = best_few(mixes.target, squares, _POLISHED, further_than=_MET)
        amounts[:, best] = polish(problem, self.fine, mixes.take(best), amounts[:, best], targets)
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
        unmet = (_least(squares, mixes.target, len(targets)) > _MET**2) & ~seeded
        grown, starts = self._seeded(mixes, amounts, self.spread.seeds(distances, np.flatnonzero(unmet)))
        new = np.arange(len(squares), grown.target.size)
        if not new.size:
            return mixes, amounts, squares
        starts[:, new], values = refine(self.problem, self.fine, grown.take(new), starts[:, new], targets)
        return grown, starts, np.append(squares, values)

    def _grown(
        self, mixes: Mixes, amounts: FloatArray, squares: FloatArray, targets: FloatArray
    ) -> tuple[Mixes, FloatArray, FloatArray]:
        """Targets not met: their best sets with one more pigment, as long as that brings anything."""
        for _ in range(self.problem.subsets.shape[1]):
            best = best_few(mixes.target, squares, _GROWN, further_than=_MET)
            more, start = with_one_more(self.problem, mixes.take(best), amounts[:, best], targets)
            if not more.target.size:
                break
            least = _least(squares, mixes.target, len(targets))
            found, values = refine(self.problem, self.fine, more, start, targets)
            mixes, amounts, squares = mixes.joined(more), np.append(amounts, found, axis=1), np.append(squares, values)
            if not np.any(np.sqrt(values) < np.sqrt(least[more.target]) - _MET / 4):
                break
        return mixes, amounts, squares


def _least(values: FloatArray, target: IndexArray, count: int) -> FloatArray:
    least = np.full(count, np.inf)
    np.minimum.at(least, target, values)
    return least


def refine_sets(problem: Problem, sets: Sequence[IndexArray], start: FloatArray, target: FloatArray) -> FloatArray:
    """Loads (m, n) nearest to one target (3,) of the given sets of free pigments, from loads (m, n)."""
    n, width = len(problem.names), max(len(one) for one in sets)
    places = np.full((max(width, 1), len(sets)), n, dtype=np.intp)
    for row, one in enumerate(sets):
        places[: len(one), row] = one
    mixes = mixes_of(problem, places, np.zeros(len(sets), dtype=np.intp))
    amounts = amounts_of(mixes, start)
    # A pigment that was not in it starts with a trace, so that its slope is not that of an empty place.
    amounts = np.maximum(amounts, np.where(places < n, TRACE, 0.0))
    kernel, targets = LoadSlopes(problem.coefficients, np.float64), target[None, :]
    amounts, _ = refine(problem, kernel, mixes, amounts, targets)
    amounts = polish(problem, kernel, mixes, amounts, targets)
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
