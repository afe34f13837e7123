"""Batched, projected Levenberg-Marquardt for many small mixes at once.

Every mix has 3 residuals and k <= 5 loads within bounds and a cap on their sum. By the matrix
inversion lemma the damped step needs only a 3 x 3 system, whatever k, so all algebra runs over
arrays whose last axis is the mixes:

    d = -P J' (J P J' + lambda I)^-1 r,   P = W,  or  W - W 1 1' W / (1' W 1) along the cap,

with W the inverse squared lengths of the columns of J (Marquardt's scaling), zero for a load held at
a bound (two-metric projection; Bertsekas, SIAM J. Control Optim. 20 (1982) 221, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from .problem import Mixes

# Levenberg and Marquardt's damping, relative to the curvature; the usual sizes, from memory.
_DAMPING_START, _DAMPING_DOWN, _DAMPING_UP = 1e-2, 0.15, 5.0
_DAMPING_LEAST = 1e-6
_REFUSALS = 4  # steps in a row that would make it worse, each a fifth of the one before or less
_TINY = 1e-30  # keeps a division by a curvature of nothing finite


Model = Callable[[Mixes, FloatArray], tuple[FloatArray, FloatArray, FloatArray]]
"""Amounts (k, m) -> what is to be least (m,), and 3 residuals (3, m) with slopes (3, k, m) whose sum of
squares has the same gradient, and about the same curvature, there."""


@dataclass(frozen=True, slots=True)
class Effort:
    """When to stop. enough: value at which a mix is done. least_gain: share of the value that a step must
    gain, else the mix has arrived. drop_contained: give up (inf) a mix that wants to leave a pigment out,
    because the smaller set is another mix of the same batch.
    """

    most_steps: int
    enough: float
    least_gain: float
    drop_contained: bool = False


def descend(model: Model, mixes: Mixes, start: FloatArray, effort: Effort) -> tuple[FloatArray, FloatArray]:
    """Amounts (k, m) and values (m,) at a local least; start (k, m) must be feasible."""
    m = start.shape[1]
    amounts, values, rows = start.copy(), np.empty(m, start.dtype), np.arange(m)
    damping, refused = np.full(m, _DAMPING_START, start.dtype), np.zeros(m, dtype=np.int8)
    x = start
    f, r, j = model(mixes, x)
    values[:] = f
    going = f >= effort.enough
    for _ in range(effort.most_steps):
        trial, leaving = _step(mixes, x, r, j, damping)
        if effort.drop_contained:
            values[rows[leaving & going]] = np.inf
            going &= ~leaving
        left = np.flatnonzero(going)
        if not left.size:
            break
        if left.size < 0.85 * going.size:
            mixes, rows, trial, x = mixes.take(left), rows[left], trial[:, left], x[:, left]
            r, j, f, damping, refused = r[:, left], j[:, :, left], f[left], damping[left], refused[left]
            going = np.ones(left.size, dtype=np.bool_)
        f_new, r_new, j_new = model(mixes, trial)
        better = (f_new < f) & going
        arrived = better & (f - f_new <= effort.least_gain * f)
        refused = np.where(better, 0, refused + 1).astype(np.int8)
        x, r, j = np.where(better, trial, x), np.where(better, r_new, r), np.where(better, j_new, j)
        f = np.where(better, f_new, f)
        damping *= np.where(better, _DAMPING_DOWN, _DAMPING_UP).astype(start.dtype)
        np.maximum(damping, _DAMPING_LEAST, out=damping)
        amounts[:, rows[going]], values[rows[going]] = x[:, going], f[going]
        going &= (f >= effort.enough) & ~arrived & (refused < _REFUSALS)
    return amounts, values


def _step(
    mixes: Mixes, x: FloatArray, r: FloatArray, j: FloatArray, damping: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """The next amounts (k, m), and which mixes hold a load at zero against its will."""
    lengths = (j * j).sum(axis=0)
    w = np.where(lengths > 0, 1 / np.maximum(lengths, _TINY), 0.0)
    slope = (j * r[:, None, :]).sum(axis=0)
    at_low, at_high = x <= mixes.low, x >= mixes.high
    free = ~((at_low & (slope > 0)) | (at_high & (slope < 0)))
    # Along the cap the loads trade against each other: the pull common to all of them is the multiplier.
    at_cap = x.sum(axis=0) >= mixes.cap * (1 - 1e-6)
    held = np.where(free, w, 0.0)
    weight = held.sum(axis=0)
    pull = -(held * slope).sum(axis=0) / np.maximum(weight, _TINY)
    at_cap &= pull > 0
    slope = slope + np.where(at_cap, pull, 0.0)
    pinned = at_low & (slope > 0)
    free = ~(pinned | (at_high & (slope < 0)))
    w = np.where(free, w, 0.0)
    weight = w.sum(axis=0)

    jw = j * w
    along = np.where(at_cap & (weight > 0), 1 / np.sqrt(np.maximum(weight, _TINY)), 0.0)
    jw_sum = jw.sum(axis=1) * along  # (3, m)
    y = _solve_3x3(jw, j, jw_sum, damping, r)
    d = -(jw * y[:, None, :]).sum(axis=0) + w * (along * (jw_sum * y).sum(axis=0))
    # damping * y is the residual this step leaves by the linear model. A load at zero that would still
    # not grow then is out for good; by the present residual it may only be waiting for the others.
    left = (j * y[:, None, :]).sum(axis=0)
    left += np.where(at_cap, -(w * left).sum(axis=0) / np.maximum(weight, _TINY), 0.0)
    leaving = (pinned & (left > 0) & (mixes.low == 0) & (mixes.high > 0)).any(axis=0)
    return project(x + d, mixes.low, mixes.high, mixes.cap), leaving


def project(x: FloatArray, low: FloatArray, high: FloatArray, cap: FloatArray) -> FloatArray:
    """Into the bounds, then down to the cap in proportion to what lies above the lower bounds."""
    x = np.clip(x, low, high)
    least = low.sum(axis=0)
    over = x.sum(axis=0) - least
    room = np.maximum(cap - least, 0.0)
    shrink = np.where(over > room, room / np.maximum(over, _TINY), 1.0)
    return np.asarray(low + (x - low) * shrink)


def _solve_3x3(jw: FloatArray, j: FloatArray, jw_sum: FloatArray, damping: FloatArray, r: FloatArray) -> FloatArray:
    """(3, m) solution of (J P J' + damping I) y = r by the adjugate; the matrix is positive definite."""

    def entry(a: int, b: int) -> FloatArray:
        return np.asarray((jw[a] * j[b]).sum(axis=0) - jw_sum[a] * jw_sum[b])

    xx, yy, zz = entry(0, 0) + damping, entry(1, 1) + damping, entry(2, 2) + damping
    xy, xz, yz = entry(0, 1), entry(0, 2), entry(1, 2)
    a, b, c = yy * zz - yz * yz, xz * yz - xy * zz, xy * yz - xz * yy
    determinant = xx * a + xy * b + xz * c
    d, e, g = xx * zz - xz * xz, xy * xz - xx * yz, xx * yy - xy * xy
    inverse = 1 / np.where(np.abs(determinant) > _TINY, determinant, np.inf)
    return np.stack(
        [
            (a * r[0] + b * r[1] + c * r[2]) * inverse,
            (b * r[0] + d * r[1] + e * r[2]) * inverse,
            (c * r[0] + e * r[1] + g * r[2]) * inverse,
        ]
    )
