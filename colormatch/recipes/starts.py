"""Where the search starts: each pigment alone, and a coarse grid over everything that a palette can mix."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..difference import delta_e_2000
from .problem import IndexArray, Problem

# The rim of what can be mixed is made of few pigments (a face of a solid has three corners).
MOST_IN_GRID = 3
_START_GRID = np.geomspace(2e-4, 0.1, 14)  # loads, up to what ASTM C979 allows; a judgement between time and finding
_TOTALS, _PARTS = np.array([0.05, 0.15, 0.4, 1.0]), 4
_A_LITTLE, _LEAST_STRENGTH = 0.005, 0.5  # a load; CIELAB that a pigment no stronger than the base counts with
_FAR = 4.0  # CIEDE2000: too far to trust its metric at the target
_SEEDS = 16  # sets of the grid refined for a target that is not met


def single_pigment_starts(problem: Problem, targets: FloatArray) -> FloatArray:
    """(t, n + 1) the load at which each pigment alone comes nearest, from a coarse grid."""
    n = len(problem.names)
    loads = np.zeros((n * len(_START_GRID), n)) + problem.fixed
    loads[np.arange(len(loads)), np.repeat(np.arange(n), len(_START_GRID))] = np.tile(_START_GRID, n)
    lab = problem.lab(loads).reshape(n, len(_START_GRID), 3)
    apart = ((lab - targets[:, None, None, :]) ** 2).sum(axis=-1)
    return np.append(_START_GRID[apart.argmin(axis=-1)], np.zeros((len(targets), 1)), axis=1)


def coarse_grid(
    problem: Problem, totals: FloatArray, parts: int, strength: FloatArray | None = None
) -> tuple[FloatArray, IndexArray]:
    """Loads (m, n) of all sets of one to three pigments, and the row of each in problem.subsets (m,).

    totals: shares of each set's cap, 0..1; every total is shared out in `parts` equal parts, each
    pigment having one at least: parts of the grams, or of the tinting strength where that is given (n,).
    Fixed loads and bounds are kept. With more than three pigments that must be used there is no grid (m = 0).
    """
    n, subsets = len(problem.names), problem.subsets
    sizes = (subsets < n).sum(axis=1)
    low, high = problem.low, problem.high
    per_part = np.ones(n) if strength is None else 1 / strength
    all_loads, all_sets = [np.zeros((0, n))], [np.zeros(0, dtype=np.intp)]
    for size in range(1, min(MOST_IN_GRID, subsets.shape[1]) + 1):
        sets = np.flatnonzero((sizes == size) & (problem.caps > 0))
        places = subsets[sets, :size]
        shares = _shares(size, parts) * per_part[places][:, None, :]
        shares /= shares.sum(axis=-1, keepdims=True)
        amounts = problem.caps[sets, None, None, None] * totals[:, None, None] * shares[:, None]
        amounts = np.clip(amounts, low[places][:, None, None, :], high[places][:, None, None, :])
        each = amounts.shape[1] * amounts.shape[2]
        amounts, places = amounts.reshape(-1, size), np.repeat(places, each, axis=0)
        loads = np.tile(problem.fixed, (len(amounts), 1))
        np.put_along_axis(loads, places, amounts, axis=1)
        owner = np.repeat(sets, each)
        fits = amounts.sum(axis=1) <= problem.caps[owner] + 1e-12
        all_loads.append(loads[fits])
        all_sets.append(owner[fits])
    return np.concatenate(all_loads), np.concatenate(all_sets)


def _shares(size: int, parts: int) -> FloatArray:
    """(w, size) ways to share one total among `size` pigments in whole parts, none without a part."""
    ways = [way for way in product(range(1, parts + 1), repeat=size) if sum(way) == parts]
    return np.array(ways, dtype=np.float64).reshape(-1, size)


def tinting_strength(problem: Problem) -> FloatArray:
    """(n,) how far a little of each pigment moves the colour of the base, in CIELAB."""
    loads = np.concatenate([np.zeros((1, len(problem.names))), _A_LITTLE * np.eye(len(problem.names))])
    bare, *tinted = problem.lab(loads)
    return np.asarray(np.maximum(np.linalg.norm(tinted - bare, axis=-1), _LEAST_STRENGTH))


@dataclass(frozen=True, eq=False, slots=True)
class Seeds:
    """Further starts for targets that are not met: sets (s,), loads (s, n), target rows (s,)."""

    sets: IndexArray
    loads: FloatArray
    target: IndexArray


class Grid:
    """The coarse grid with its colours: CIEDE2000 has several valleys where a target is far off."""

    def __init__(self, problem: Problem, parts: int = _PARTS, strength: FloatArray | None = None) -> None:
        self.loads, self.sets = coarse_grid(problem, _TOTALS, parts, strength)
        self.lab = problem.lab(self.loads)
        self.first = np.flatnonzero(np.diff(self.sets, prepend=-1))  # rows of one set lie together

    def nearest_distance(self, targets: FloatArray) -> FloatArray:
        """(t,) CIEDE2000 of the recipe of the grid that is nearest to each target in CIELAB."""
        if not self.lab.size:
            return np.full(len(targets), np.inf)
        apart = [((self.lab - target) ** 2).sum(axis=1).argmin() for target in targets]
        return delta_e_2000(targets, self.lab[apart])

    def distances(self, targets: FloatArray) -> FloatArray:
        """(t, m) CIEDE2000 of every recipe of the grid to every target."""
        return delta_e_2000(targets[:, None, :], self.lab)

    def centres(self, targets: FloatArray, distances: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """(t, 3) the colour to take CIEDE2000 as linear at, and (t,) whether it had to be another than the
        target: the nearest of the grid, where that is far off."""
        if not self.lab.size:
            return targets, np.zeros(len(targets), dtype=np.bool_)
        best = distances.argmin(axis=1)
        far = distances[np.arange(len(targets)), best] > _FAR
        return np.where(far[:, None], self.lab[best], targets), far

    def seeds(self, distances: FloatArray, unmet: IndexArray, count: int = _SEEDS) -> Seeds:
        """The nearest recipe of each of the nearest sets, for the targets `unmet`."""
        if not self.lab.size or not unmet.size:
            none = np.zeros(0, dtype=np.intp)
            return Seeds(none, self.loads[:0], none)
        least = np.minimum.reduceat(distances[unmet], self.first, axis=1)
        groups = np.argsort(least, axis=1)[:, :count]
        ends = np.append(self.first[1:], len(self.sets))
        rows = [
            self.first[group] + distances[t, self.first[group] : ends[group]].argmin()
            for t, own in zip(unmet, groups, strict=True)
            for group in own
        ]
        return Seeds(self.sets[rows], self.loads[rows], np.repeat(unmet, groups.shape[1]))
