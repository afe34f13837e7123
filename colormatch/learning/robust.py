"""Fitting with doubt about the noise and about single tiles.

Two things are found together with the parameters: the scatter of casting (which also stands for what the
two-constant model cannot do), by maximum marginal likelihood; and how far to believe each tile, by how well
all the others foretell it. A tile is good, or with a small chance spoilt: then its shade may be anything.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..palette import Palette
from .fit import Evidence, Point, evidence, left_out, most_probable, posterior_covariance, start_at
from .observe import Readings, answer

SPOILT_CHANCE = 0.02  # one tile in fifty, from memory
SPOILT_SD = 15.0  # CIELAB; a wrong pigment or a doubled load
LEAST_BELIEF = 1e-4
CAST_SD_RANGE = (0.2, 12.0)  # below, the two-constant law itself is not to be trusted
_CAST_SD_STEPS = 41
_FIRST_LOG_SD = 1.2  # prior sd of log cast_sd around the palette's, before any tile was learned
_ROUNDS = 25
_SETTLED = 0.02


@dataclass(frozen=True, slots=True)
class Foretold:
    """One tile as all the others foretell it: error in the readings and its covariance, both (k,), (k, k)."""

    error: FloatArray
    covariance: FloatArray

    @property
    def distance(self) -> float:
        """Squared Mahalanobis distance; about chi-squared with k degrees of freedom for a good tile."""
        return float(self.error @ np.linalg.solve(self.covariance, self.error))


@dataclass(frozen=True, slots=True)
class Fit:
    """The outcome: parameters, their covariance, the casting scatter, belief (T,) in each tile."""

    parameters: FloatArray
    covariance: FloatArray
    values: FloatArray
    cast_sd: float
    belief: FloatArray
    foretold: tuple[Foretold, ...]
    log_evidence: float


def robust_fit(palette: Palette, seen: Readings, least_cast_sd: float = 0.0) -> Fit:
    """Alternate parameters, casting scatter and belief in the tiles until none moves."""

    def model(parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        return answer(palette, parameters, seen)

    mean, prior = palette.mean, palette.covariance
    belief, cast_sd = np.ones(len(seen.tiles)), 3.0 * palette.cast_sd
    point = start_at(model, mean)
    for _ in range(_ROUNDS):
        noise = _noise(seen, cast_sd, belief)
        point = most_probable(model, point, mean=mean, covariance=prior, measured=seen.values, noise=noise)
        shared = point.slopes @ prior @ point.slopes.T
        new_sd = _likely_sd(palette, seen, point, shared, belief, least_cast_sd)
        found = evidence(point, shared, mean, seen.values, _noise(seen, new_sd, belief))
        foretold = _foretell(seen, found, new_sd, belief)
        new_belief = _lower_the_worst(belief, np.array([_belief(one) for one in foretold]))
        moved = max(abs(np.log(new_sd / cast_sd)), float(np.abs(new_belief - belief).max()))
        belief, cast_sd = new_belief, new_sd
        if moved < _SETTLED:
            break
    noise = _noise(seen, cast_sd, belief)
    covariance = posterior_covariance(point, prior, noise)
    return Fit(point.parameters, covariance, point.values, cast_sd, belief, foretold, found.log)


def _lower_the_worst(belief: FloatArray, found: FloatArray) -> FloatArray:
    """Beliefs may rise all at once but fall one at a time: a bad tile makes its neighbours look bad too."""
    worst = int(np.argmin(found))
    new = np.maximum(belief, found)
    new[worst] = found[worst]
    return new


def _noise(seen: Readings, cast_sd: float, belief: FloatArray) -> FloatArray:
    """(N, N) covariance of the readings; a tile half believed counts with twice the variance."""
    widening = np.empty(seen.values.size)
    for row, share in zip(seen.rows, belief, strict=True):
        widening[row] = 1 / np.sqrt(max(share, LEAST_BELIEF))
    return (seen.photo + cast_sd**2 * seen.casting) * np.outer(widening, widening)


def _likely_sd(
    palette: Palette,
    seen: Readings,
    point: Point,
    shared: FloatArray,
    belief: FloatArray,
    least: float,
) -> float:
    """Root of the casting scatter's posterior mean variance, over a grid in its logarithm.

    The mean, not the peak: with few tiles the peak is often far too low, and the stated bands with it.
    """
    low = max(CAST_SD_RANGE[0], least)
    grid = np.geomspace(low, CAST_SD_RANGE[1], _CAST_SD_STEPS)
    # what earlier tiles taught counts like so many readings
    prior_sd = 1 / np.sqrt(1 / _FIRST_LOG_SD**2 + 2 * palette.tiles_learned)
    scores = [
        evidence(point, shared, palette.mean, seen.values, _noise(seen, sd, belief)).log
        - 0.5 * (np.log(sd / palette.cast_sd) / prior_sd) ** 2
        for sd in grid
    ]
    chance = np.exp(np.array(scores) - max(scores))
    return float(np.sqrt(chance @ grid**2 / chance.sum()))


def _foretell(seen: Readings, found: Evidence, cast_sd: float, belief: FloatArray) -> tuple[Foretold, ...]:
    out = []
    for row, share in zip(seen.rows, belief, strict=True):
        error, covariance = left_out(found, row)
        own = seen.photo[row, row] + cast_sd**2 * seen.casting[row, row]
        out.append(Foretold(error, covariance + own * (1 - 1 / max(share, LEAST_BELIEF))))
    return tuple(out)


def _belief(foretold: Foretold) -> float:
    """Chance that the tile is good, given how the others foretell it."""
    k = foretold.error.size
    spoilt = foretold.covariance + SPOILT_SD**2 * np.eye(k)
    far = float(foretold.error @ np.linalg.solve(spoilt, foretold.error))
    log_ratio = 0.5 * (
        far - foretold.distance + np.linalg.slogdet(spoilt)[1] - np.linalg.slogdet(foretold.covariance)[1]
    )
    return float(1 / (1 + SPOILT_CHANCE / (1 - SPOILT_CHANCE) * np.exp(-np.clip(log_ratio, -500, 500))))
