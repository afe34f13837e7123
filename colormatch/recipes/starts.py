"""Where the search starts: each pigment alone, and a spread of recipes for targets far off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000
from .fan import fan
from .problem import IndexArray, Problem

_START_GRID = np.geomspace(2e-4, 0.1, 14)
_TOTALS, _PARTS = np.array([0.05, 0.15, 0.4, 1.0]), 4
_FAR = 4.0  # CIEDE2000: too far to trust its metric at the target
_SEEDS = 16  # sets of the spread refined for a target that far off


def single_pigment_starts(problem: Problem, targets: FloatArray) -> FloatArray:
    """(t, n + 1) the load at which each pigment alone comes nearest, from a coarse grid."""
    n = len(problem.names)
    loads = np.zeros((n * len(_START_GRID), n)) + problem.fixed
    loads[np.arange(len(loads)), np.repeat(np.arange(n), len(_START_GRID))] = np.tile(_START_GRID, n)
    lab = problem.lab(loads).reshape(n, len(_START_GRID), 3)
    apart = ((lab - targets[:, None, None, :]) ** 2).sum(axis=-1)
    return np.append(_START_GRID[apart.argmin(axis=-1)], np.zeros((len(targets), 1)), axis=1)


@dataclass(frozen=True, eq=False, slots=True)
class Seeds:
    """Further starts for targets that may be out of reach: sets (s,), loads (s, n), target rows (s,)."""

    sets: IndexArray
    loads: FloatArray
    target: IndexArray


class Spread:
    """The fan of recipes with its colours: CIEDE2000 has several valleys where a target is far off."""

    def __init__(self, problem: Problem) -> None:
        self.loads, self.sets = fan(problem, _TOTALS, _PARTS)
        self.lab = problem.lab(self.loads)
        self.first = np.flatnonzero(np.diff(self.sets, prepend=-1))  # rows of one set lie together

    def nearest(self, targets: FloatArray) -> tuple[FloatArray, Seeds]:
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
        return near, Seeds(self.sets[rows], self.loads[rows], owner)
