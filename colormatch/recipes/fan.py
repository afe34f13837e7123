"""A fan of recipes over everything a palette can mix: where a search starts, what a reach is drawn from."""

from __future__ import annotations

from itertools import product

import numpy as np

from ..arrays import FloatArray
from .problem import IndexArray, Problem

# The rim of what can be mixed is made of few pigments (a face of a solid has three corners).
_MOST_PIGMENTS = 3


def fan(problem: Problem, totals: FloatArray, parts: int) -> tuple[FloatArray, IndexArray]:
    """Loads (m, n) of all sets of one to three pigments, and the row of each in problem.subsets (m,).

    totals: shares of each set's cap, 0..1; every total is shared out in `parts` equal parts, each
    pigment having one at least. Fixed loads and bounds are kept. With more than three pigments that must
    be used there is no fan (m = 0).
    """
    n, subsets = len(problem.names), problem.subsets
    sizes = (subsets < n).sum(axis=1)
    low, high = problem.low, problem.high
    all_loads, all_sets = [np.zeros((0, n))], [np.zeros(0, dtype=np.intp)]
    for size in range(1, min(_MOST_PIGMENTS, subsets.shape[1]) + 1):
        sets = np.flatnonzero((sizes == size) & (problem.caps > 0))
        places, shares = subsets[sets, :size], _shares(size, parts)
        amounts = problem.caps[sets, None, None, None] * totals[:, None, None] * shares
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
    return np.array(ways, dtype=np.float64).reshape(-1, size) / parts
