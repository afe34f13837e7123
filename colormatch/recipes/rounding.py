"""From loads to what a scale can show: the best of all neighbours at its step, never over a cap."""

from __future__ import annotations

from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..difference import delta_e_2000
from .problem import LOAD_SLACK, IndexArray, Problem

_ROWS_AT_ONCE = 60_000  # rounded mixes, some tens of megabytes
_MOST_MOVES = 60  # ends a walk in circles; a judgement


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
    places = _places((loads > problem.fixed + LOAD_SLACK) & (problem.fixed == 0))
    at_once = max(1, _ROWS_AT_ONCE // 3 ** places.shape[1])
    for first in range(0, len(loads), at_once):
        part = slice(first, first + at_once)
        rounded[part], delta_e[part] = _search(
            problem, loads[part], places[part], targets[part], steps[part], most_moves
        )
    return rounded, delta_e


def _places(chosen: NDArray[np.bool_]) -> IndexArray:
    """(m, k) the pigments of each mix (m, n), n for an empty place."""
    m, n = chosen.shape
    row, pigment = np.nonzero(chosen)
    place = np.arange(len(row)) - np.searchsorted(row, row)
    places = np.full((m, int(place.max(initial=-1)) + 1), n, dtype=np.intp)
    places[row, place] = pigment
    return places


def _search(
    problem: Problem,
    loads: FloatArray,
    places: IndexArray,
    targets: FloatArray,
    steps: FloatArray,
    most_moves: int,
) -> tuple[FloatArray, FloatArray]:
    m, size = places.shape
    step = np.take_along_axis(_with_blank(steps, 1.0), places, axis=1)
    wanted = np.take_along_axis(_with_blank(loads, 0.0), places, axis=1) / step
    least = np.ceil(np.append(problem.low, 0.0)[places] / step - 1e-6).astype(np.int64)
    count = np.maximum(np.rint(wanted).astype(np.int64), least)
    delta_e = _delta_e(problem, count[:, None, :], places, step, targets)[:, 0]
    over = np.flatnonzero(np.isinf(delta_e))  # rounding to the nearest broke a limit
    if over.size:
        count[over] = np.maximum(np.floor(wanted[over] + 1e-10).astype(np.int64), least[over])
        delta_e[over] = _delta_e(problem, count[over, None, :], places[over], step[over], targets[over])[:, 0]
    offsets = _neighbours(size)
    blank = ((places == len(problem.names))[:, None, :] & (offsets != 0)).any(axis=-1)  # (m, 3^k)
    going, last = np.arange(m), np.full((m, size), 3)  # the move before; none yet
    for _ in range(most_moves):
        if not going.size:
            break
        around = count[going, None, :] + offsets
        # What the last round looked at as well is no better than what it led to.
        seen = (np.abs(offsets + last[going, None, :]) <= 1).all(axis=-1)
        found = _delta_e(problem, around, places[going], step[going], targets[going], seen | blank[going])
        best = found.argmin(axis=1)
        least_found = found[np.arange(len(going)), best]
        moved = least_found < delta_e[going] - 1e-12
        going, best, least_found = going[moved], best[moved], least_found[moved]
        count[going] += offsets[best]
        last[going] = offsets[best]
        delta_e[going] = least_found
    return _assembled(problem, count, places, step), delta_e


def _delta_e(
    problem: Problem,
    count: NDArray[np.int64],
    places: IndexArray,
    step: FloatArray,
    targets: FloatArray,
    left_out: NDArray[np.bool_] | np.bool_ = np.False_,
) -> FloatArray:
    """(m, c) CIEDE2000 of counts of steps (m, c, k); infinite where a limit is broken or where left out (m, c)."""
    row, way = np.nonzero(~left_out & (count >= 0).all(axis=-1))
    loads = _assembled(problem, count[row, way], places[row], step[row])
    fits = loads.sum(axis=-1) <= problem.cap_of(loads > 0) + LOAD_SLACK
    fits &= ((loads <= problem.high + LOAD_SLACK) & (loads >= problem.low - LOAD_SLACK)).all(axis=-1)
    row, way = row[fits], way[fits]
    delta_e = np.full(count.shape[:2], np.inf)
    delta_e[row, way] = delta_e_2000(targets[row], problem.lab(loads[fits]))
    return delta_e


def _assembled(problem: Problem, count: NDArray[np.int64], places: IndexArray, step: FloatArray) -> FloatArray:
    """(m, n) loads of counts of steps (m, k)."""
    loads = np.tile(np.append(problem.fixed, 0.0), (len(count), 1))
    np.put_along_axis(loads, places, count * step, axis=1)
    return loads[:, :-1]


def _with_blank(values: FloatArray, blank: float) -> FloatArray:
    """(m, n + 1) with a value for an empty place."""
    return np.append(values, np.full((len(values), 1), blank), axis=1)


@lru_cache(maxsize=8)
def _neighbours(size: int) -> NDArray[np.int64]:
    array = np.array(list(product((-1, 0, 1), repeat=size)), dtype=np.int64).reshape(3**size, size)
    array.setflags(write=False)
    return array
