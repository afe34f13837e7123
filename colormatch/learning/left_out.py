"""Each tile as all the others predict it, and how much more probable it is as a slip than as a good tile.

Two kinds of slip: anything at all (a wrong pigment, a wrong photograph), which may show any
shade, and half or double the dose of one pigment, which shows a shade that is known. The second is told at the top of a
ladder too, where a curve that bends to the tile would hide the first (tests/benchmarks/test_learning_accuracy.py).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from .. import mixture
from ..arrays import FloatArray
from ..palette import Palette, coefficients_at
from .evidence import Choice, Straight
from .observe import Readings

OUTLIER_CHANCE = 0.02  # of a slip that may show anything: one tile in fifty, from memory
# Of half or double a dose: rarer, or sound tiles of cement that does not mix by the law are taken for slips. Chosen on
# the studios of test_learning_outside.py and of the test of half a dose: at 0.02 speckled cement lost 0.3 dE00 at p95.
DOSE_CHANCE = 0.005
OUTLIER_SD = 15.0  # CIELAB; a wrong pigment or a doubled load
DOSES = (0.4, 0.5, 0.63, 1.6, 2.0, 2.5)  # times what was written down: half and double, more or less
_NO_SLIP = -1e9  # log odds: none at all
# Share of the tiles that 90 % regions shall hold at least, and how many tiles it takes to tell; a judgement.
_HELD, _FEW = 0.85, 8


@dataclass(frozen=True, slots=True)
class LeftOut:
    """One tile as all the others predict it: error (k,) in the readings and its covariance (k, k).

    distance: squared Mahalanobis distance, about chi-squared with k degrees of freedom for a good tile; log_odds: how
    much more probable the tile is as a slip; log_gain: how much more probable than as a slip that may show anything.
    """

    error: FloatArray
    covariance: FloatArray
    distance: float
    log_odds: float
    log_gain: float


def leave_each_out(straight: Straight, choice: Choice, called: Collection[int], shifts: FloatArray) -> list[LeftOut]:
    """Each tile from all the others, as if it were a good one; called: those that may show anything; see `dose_shifts`.

    The identity for a Gaussian process with one block left out (Rasmussen & Williams 2006, eqs. 5.10-5.12).
    """
    seen = straight.seen
    blocks, pull = straight.left_over(straight.posterior(choice))
    where = seen.block_places
    out = dict[int, LeftOut]()
    sizes = np.array([row.stop - row.start for row in seen.rows])
    for size in np.unique(sizes):
        places = np.flatnonzero(sizes == size)
        own = np.empty((places.size, size, size))
        for at, place in enumerate(places):
            batch, group, start = where[seen.rows[place].start]
            own[at] = blocks[batch][group, start : start + size, start : start + size]
        covariance = np.linalg.inv(own)
        rows = np.array([seen.rows[place].start for place in places])[:, None] + np.arange(size)
        error = np.einsum("tij,tj->ti", covariance, pull[rows])
        covariance[np.isin(places, list(called))] -= OUTLIER_SD**2 * np.eye(size)
        distance, log_odds, gain = _odds_of(error, covariance, shifts[places] if size == 3 else None)
        for at, place in enumerate(places):
            one = float(distance[at]), float(log_odds[at]), float(gain[at])
            out[int(place)] = LeftOut(error[at], covariance[at], *one)
    return [out[place] for place in range(len(seen.rows))]


def _odds_of(
    error: FloatArray, covariance: FloatArray, shifts: FloatArray | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance, log odds and log gain (t,) of errors (t, k) with covariance (t, k, k) as good tiles."""
    good, distance = _log_density(error, covariance)
    anything, _ = _log_density(error, covariance + OUTLIER_SD**2 * np.eye(error.shape[1]))
    slip = anything
    if shifts is not None:
        possible = np.isfinite(shifts[..., 0])
        doses, _ = _log_density(error[:, None] - np.where(possible[..., None], shifts, 0.0), covariance[:, None])
        each = np.where(possible, doses - np.log(np.maximum(possible.sum(axis=1), 1))[:, None], _NO_SLIP)
        dose = np.logaddexp.reduce(each, axis=1, initial=_NO_SLIP) + np.log(DOSE_CHANCE / OUTLIER_CHANCE)
        slip = np.logaddexp(anything, dose)
    odds = np.log(OUTLIER_CHANCE / (1 - OUTLIER_CHANCE))
    return distance, slip - good + odds, slip - anything


def _log_density(error: FloatArray, covariance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Of errors (..., k), but for a constant, and their squared Mahalanobis distance."""
    distance = np.einsum("...i,...i->...", error, np.linalg.solve(covariance, error[..., None])[..., 0])
    return -0.5 * (distance + np.linalg.slogdet(covariance)[1]), distance


def dose_shifts(palette: Palette, parameters: FloatArray, seen: Readings) -> FloatArray:
    """(T, n, 3) CIELAB by which each tile would move with another dose of one of its pigments; nan: no such slip."""
    used = seen.loads > 0
    most = int(used.sum(axis=1).max(initial=0))
    shifts = np.full((len(seen.tiles), len(DOSES) * most, 3), np.nan)
    for (base, state), places in seen.groups.items():
        at, pigment = np.nonzero(used[places])
        if not at.size:
            continue
        rows = np.array(places)[at]
        number = np.cumsum(used[rows], axis=1)[np.arange(rows.size), pigment] - 1  # which of the tile's pigments
        coefficients = coefficients_at(palette, parameters, base, state)
        as_written = mixture.lab(coefficients, seen.loads[rows])
        for which, dose in enumerate(DOSES):
            changed = seen.loads[rows]
            changed[np.arange(rows.size), pigment] *= dose
            shifts[rows, len(DOSES) * number + which] = mixture.lab(coefficients, changed) - as_written
    return shifts


def widening_of(left_out: Iterable[LeftOut]) -> float:
    """By how much all variances are too small, from the tiles each left out in turn; never below 1.

    So that the 90 % regions hold at least 85 % of these tiles; fewer than eight cannot tell.
    """
    far = [one.distance / float(chdtri(one.error.size, 0.1)) for one in left_out]
    return max(1.0, float(np.quantile(far, _HELD))) if len(far) >= _FEW else 1.0
