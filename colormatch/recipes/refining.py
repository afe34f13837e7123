"""Second pass: the promising sets in double precision, by CIEDE2000 itself."""

from __future__ import annotations

import numpy as np

from .. import difference, mixture
from ..arrays import FloatArray
from ..mixture import LoadSlopes
from .descent import Effort, descend, project
from .mixes import Mixes, loads_of, mixes_of
from .problem import IndexArray, Problem

_REFINING = Effort(most_steps=12, enough=1e-5, least_gain=1e-4)
_POLISHING = Effort(most_steps=15, enough=1e-5, least_gain=1e-6)
_LEAST_CURVATURE = 0.02
TRACE = 1e-4  # g per g of dry cement: what a pigment newly taken in starts with


def refine(
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


def polish(problem: Problem, kernel: LoadSlopes, mixes: Mixes, start: FloatArray, targets: FloatArray) -> FloatArray:
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


def best_few(target: IndexArray, squares: FloatArray, count: int, further_than: float) -> IndexArray:
    """Positions of the `count` best mixes of every target whose best is further off than that (CIEDE2000)."""
    order = np.lexsort([squares, target])
    first = np.searchsorted(target[order], target[order])
    place = np.arange(len(order)) - first
    return order[(place < count) & (squares[order][first] > further_than**2)]


def with_one_more(problem: Problem, mixes: Mixes, amounts: FloatArray, targets: FloatArray) -> tuple[Mixes, FloatArray]:
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
    start = np.where(places == mixes.places[:, row], amounts[:, row], TRACE)
    fits = np.flatnonzero(grown.cap > grown.low.sum(axis=0))
    return grown.take(fits), start[:, fits]
