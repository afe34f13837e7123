"""From loads to what a scale can show: the best of all neighbours at its step, never over a cap."""

from __future__ import annotations

from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..difference import delta_e_2000
from .problem import LOAD_SLACK, IndexArray, Problem

_ROWS_AT_ONCE = 60_000
_MOST_MOVES = 60


def round_to_scale(
    problem: Problem,
    loads: FloatArray,
    targets: FloatArray,
    steps: FloatArray | None = None,
    most_moves: int = _MOST_MOVES,
) -> tuple[FloatArray, FloatArray]:
    """Weighable loads (m, n) near `loads`, with their CIEDE2000 (m,) to the targets (m, 3).

    steps: (m, n) load of one step for each pigment, the scale's own unless given (a pre-blend's is
    finer). From the nearest steps (down where a limit is in the way), moves to the best of all 3^k
    neighbours (each pigment one step down, kept or one step up) until none is better, or `most_moves`
    have been made.
    """
    if steps is None:
        steps = np.full(loads.shape, problem.limits.step_load)
    rounded, delta_e = np.empty_like(loads), np.empty(len(loads))
    chosen = (loads > problem.fixed + LOAD_SLACK) & (problem.fixed == 0)
    sizes = chosen.sum(axis=1)
    for size in np.unique(sizes):
        rows = np.flatnonzero(sizes == size)
        places = np.nonzero(chosen[rows])[1].reshape(len(rows), size)
        at_once = max(1, _ROWS_AT_ONCE // 3 ** int(size))
        for first in range(0, len(rows), at_once):
            part = slice(first, first + at_once)
            rounded[rows[part]], delta_e[rows[part]] = _search(
                problem, loads[rows[part]], places[part], targets[rows[part]], steps[rows[part]], most_moves
            )
    return rounded, delta_e


def _search(
    problem: Problem,
    loads: FloatArray,
    places: IndexArray,
    targets: FloatArray,
    steps: FloatArray,
    most_moves: int,
) -> tuple[FloatArray, FloatArray]:
    m, size = places.shape
    step = np.take_along_axis(steps, places, axis=1)
    wanted = np.take_along_axis(loads, places, axis=1) / step
    least = np.ceil(problem.low[places] / step - 1e-6).astype(np.int64)
    count = np.maximum(np.rint(wanted).astype(np.int64), least)
    down = np.maximum(np.floor(wanted + 1e-10).astype(np.int64), least)
    delta_e = _delta_e(problem, count[:, None, :], places, step, targets)[:, 0]
    over = np.isinf(delta_e)  # rounding to the nearest broke a limit
    count[over] = down[over]
    delta_e[over] = _delta_e(problem, count[over, None, :], places[over], step[over], targets[over])[:, 0]
    offsets = _neighbours(size)
    going = np.arange(m)
    for _ in range(most_moves):
        if not going.size:
            break
        around = count[going, None, :] + offsets
        found = _delta_e(problem, around, places[going], step[going], targets[going])
        best = found.argmin(axis=1)
        least = found[np.arange(len(going)), best]
        moved = least < delta_e[going] - 1e-12
        going, best, least = going[moved], best[moved], least[moved]
        count[going] += offsets[best]
        delta_e[going] = least
    return _assembled(problem, count[:, None, :], places, step)[:, 0], delta_e


def _delta_e(
    problem: Problem, count: NDArray[np.int64], places: IndexArray, step: FloatArray, targets: FloatArray
) -> FloatArray:
    """(m, c) CIEDE2000 of counts of steps (m, c, k); infinite where a limit is broken."""
    loads = _assembled(problem, count, places, step)
    used = loads > 0
    cap = problem.cap_of(used)
    fits = (count >= 0).all(axis=-1) & (loads.sum(axis=-1) <= cap + LOAD_SLACK)
    fits &= ((loads <= problem.high + LOAD_SLACK) & (loads >= problem.low - LOAD_SLACK)).all(axis=-1)
    delta_e = np.full(fits.shape, np.inf)
    aims = np.broadcast_to(targets[:, None, :], (*fits.shape, 3))
    delta_e[fits] = delta_e_2000(aims[fits], problem.lab(loads[fits]))
    return delta_e


def _assembled(problem: Problem, count: NDArray[np.int64], places: IndexArray, step: FloatArray) -> FloatArray:
    m, c, size = count.shape
    loads = np.broadcast_to(problem.fixed, (m, c, len(problem.names))).copy()
    for i in range(size):
        loads[np.arange(m)[:, None], np.arange(c), places[:, i : i + 1]] = count[:, :, i] * step[:, i : i + 1]
    return loads


@lru_cache(maxsize=8)
def _neighbours(size: int) -> NDArray[np.int64]:
    array = np.array(list(product((-1, 0, 1), repeat=size)), dtype=np.int64).reshape(3**size, size)
    array.setflags(write=False)
    return array
