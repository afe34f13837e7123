"""First pass: every set of pigments from one start, in single precision, by a linear CIEDE2000."""

from __future__ import annotations

import numpy as np

from .. import difference
from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..mixture import LoadSlopes
from .descent import Effort, descend, project
from .mixes import Mixes
from .problem import IndexArray, Problem

_EFFORT = Effort(most_steps=10, enough=0.01, least_gain=1e-2, drop_contained=True)
_KEPT = 40  # sets refined per target; besides, the best few of each size
_KEPT_OF_EACH_SIZE = 6
_KEPT_SUREST = 12
_MET, _HOPELESS = 0.3, 3.0  # CIEDE2000: as good as met before refining; too far behind the best


def screen(
    problem: Problem,
    kernel: LoadSlopes,
    mixes: Mixes,
    targets: FloatArray,
    starts: FloatArray,
    linear_at: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Amounts (k, m) and CIEDE2000 (m,) of all sets, infinite for a set that leaves a pigment out.

    CIEDE2000's parts are taken as linear around one colour per target (t, 3): the target itself, or
    the nearest of the fan where that is far off.
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
    amounts, squares = descend(model, mixes, start, _EFFORT)
    alive = np.flatnonzero(np.isfinite(squares))
    delta_e = np.full(squares.shape, np.inf)
    lab, _ = kernel.lab_and_slopes(mixes.places[:, alive], amounts[:, alive], problem.fixed)
    delta_e[alive] = delta_e_2000(targets[mixes.target[alive]], lab.T)
    return amounts, delta_e


def most_promising(
    mixes: Mixes,
    delta_e: FloatArray,
    lean: FloatArray,
    targets: FloatArray,
    n_sets: int,
    doubt: FloatArray | None,
) -> IndexArray:
    """Positions of the sets worth refining, for each target: the best, the best of each size, and the best
    when the doubt of their pigments (n,) counts as well."""
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
    if doubt is not None:
        expected = np.hypot(table, np.append(doubt, 0.0)[mixes.places[:, :n_sets]].max(axis=0, initial=0.0))
        count = min(_KEPT_SUREST, n_sets)
        surest = np.argpartition(expected, count - 1, axis=1)[:, :count]
        np.put_along_axis(kept, surest, True, axis=1)
        kept &= np.isfinite(table)
    return np.flatnonzero(kept.ravel())
