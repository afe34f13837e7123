"""Fitting with doubt about the noise and about single tiles.

Two things are found together with the parameters: the scatter of casting (which also stands for what the
two-constant law cannot do), by marginal likelihood; and which tiles are spoilt. A spoilt tile may show any
shade; calling one spoilt costs as much as spoilt tiles are rare, and pays when all others then agree better.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..arrays import FloatArray
from ..palette import Palette
from .fit import Evidence, Point, evidence, left_out, log_evidence, most_probable, posterior_covariance, start_at
from .observe import MISFIT_SD, Readings, answer

SPOILT_CHANCE = 0.02  # one tile in fifty, from memory
SPOILT_SD = 15.0  # CIELAB; a wrong pigment or a doubled load
MOST_SPOILT = 4  # one tile in so many may be called spoilt; beyond that the tiles plainly contradict each other
CAST_SD_RANGE = (0.1, 12.0)
_CAST_SD_STEPS = 49
_FIRST_LOG_SD = 1.2  # prior sd of log cast_sd around the palette's, before any tile was learned
_ODD = 7.81  # 95 % point of chi-squared, 3 degrees: tiles nearer than that are never in question
_TRIED = 3  # a spoilt tile bends the curves, so that its neighbour may look the worse
_ROUNDS, _SETTLED = 8, 0.05


@dataclass(frozen=True, slots=True)
class Foretold:
    """One tile as all the others predict it: error in the readings and its covariance, (k,) and (k, k)."""

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
    cast_sd: float
    belief: FloatArray
    foretold: tuple[Foretold, ...]


@dataclass(frozen=True, slots=True)
class _Stand:
    """Where the fit stands: the most probable parameters for a casting scatter and a set of spoilt tiles."""

    point: Point
    shared: FloatArray  # (N, N) J P J'
    spoilt: frozenset[int]
    cast_sd: float
    log_evidence: float


def robust_fit(palette: Palette, seen: Readings) -> Fit:
    """The most probable parameters, casting scatter and set of spoilt tiles, found one spoilt tile at a time."""
    first = start_at(lambda x: answer(palette, x, seen), palette.mean)
    stand = _settled(palette, seen, _Stand(first, np.empty((0, 0)), frozenset(), 3 * palette.cast_sd, -np.inf))
    while len(stand.spoilt) < len(seen.tiles) // MOST_SPOILT:
        better = _with_one_more(palette, seen, stand)
        if better is None:
            break
        stand = better
    foretold = _foretell(seen, stand, _evidence(palette, seen, stand))
    restored = frozenset(place for place in stand.spoilt if _belief(foretold[place]) < 0.5)
    if restored != stand.spoilt:
        stand = _settled(palette, seen, replace(stand, spoilt=restored))
        foretold = _foretell(seen, stand, _evidence(palette, seen, stand))
    noise = _noise(seen, stand.cast_sd, stand.spoilt)
    belief = np.array([_belief(one) if at in stand.spoilt else 1.0 for at, one in enumerate(foretold)])
    covariance = posterior_covariance(stand.point, palette.covariance, noise)
    cast_sd = max(stand.cast_sd, _least_scatter(palette, seen))
    return Fit(stand.point.parameters, covariance, cast_sd, belief, foretold)


def _least_scatter(palette: Palette, seen: Readings) -> float:
    """What the next cast may be off at least: casts never repeat better, and no two-constant law is exact.

    Many tiles of few recipes show the scatter but not how the law fails elsewhere, so that the palette's own
    figure fades only with the number of recipes.
    """
    recipes = len({tile.recipe for tile in seen.tiles})
    return MISFIT_SD + max(palette.cast_sd - MISFIT_SD, 0.0) / recipes


def _settled(palette: Palette, seen: Readings, stand: _Stand) -> _Stand:
    """Alternate parameters and casting scatter until neither moves."""
    for _ in range(_ROUNDS):
        point = most_probable(
            lambda x: answer(palette, x, seen),
            stand.point,
            mean=palette.mean,
            covariance=palette.covariance,
            measured=seen.values,
            noise=_noise(seen, stand.cast_sd, stand.spoilt),
        )
        shared = point.slopes @ palette.covariance @ point.slopes.T
        before = stand.cast_sd
        stand = _with_scatter(palette, seen, replace(stand, point=point, shared=shared))
        if abs(np.log(stand.cast_sd / before)) < _SETTLED:
            break
    return stand


def _with_scatter(palette: Palette, seen: Readings, stand: _Stand) -> _Stand:
    """The casting scatter and the evidence for the spoilt set, over a grid in the scatter's logarithm.

    The scatter is the root of its posterior mean variance: with few tiles the peak is often far too low, and
    the stated bands with it.
    """
    grid = np.geomspace(*CAST_SD_RANGE, _CAST_SD_STEPS)
    # what earlier tiles taught counts like so many readings
    prior_sd = 1 / np.sqrt(1 / _FIRST_LOG_SD**2 + 2 * palette.tiles_learned)
    surprise = seen.values - stand.point.values + stand.point.slopes @ (stand.point.parameters - palette.mean)
    known = stand.shared + _noise(seen, 0.0, stand.spoilt)
    scores = log_evidence(surprise, known, seen.casting, grid**2)
    scores -= 0.5 * (np.log(grid / palette.cast_sd) / prior_sd) ** 2
    chance = np.exp(scores - scores.max())
    cast_sd = float(np.sqrt(chance @ grid**2 / chance.sum()))
    odds = len(stand.spoilt) * np.log(SPOILT_CHANCE / (1 - SPOILT_CHANCE))
    return replace(stand, cast_sd=cast_sd, log_evidence=float(scores.max() + np.log(chance.sum()) + odds))


def _with_one_more(palette: Palette, seen: Readings, stand: _Stand) -> _Stand | None:
    """The fit with one more tile called spoilt, if that is the more probable story."""
    foretold = _foretell(seen, stand, _evidence(palette, seen, stand))
    distances = [-np.inf if at in stand.spoilt else one.distance for at, one in enumerate(foretold)]
    odd = [int(at) for at in np.argsort(distances)[::-1][:_TRIED] if distances[at] > _ODD]
    trials = [_with_scatter(palette, seen, replace(stand, spoilt=stand.spoilt | {at})) for at in odd]
    if not trials:
        return None
    best = _settled(palette, seen, max(trials, key=lambda trial: trial.log_evidence))
    return best if best.log_evidence > stand.log_evidence else None


def _noise(seen: Readings, cast_sd: float, spoilt: frozenset[int]) -> FloatArray:
    """(N, N) covariance of the readings; a spoilt tile's may be anything."""
    noise = seen.photo + seen.misfit + cast_sd**2 * seen.casting
    for place in spoilt:
        row = seen.rows[place]
        noise[row, row] += SPOILT_SD**2 * np.eye(row.stop - row.start)
    return noise


def _evidence(palette: Palette, seen: Readings, stand: _Stand) -> Evidence:
    noise = _noise(seen, stand.cast_sd, stand.spoilt)
    return evidence(stand.point, stand.shared, palette.mean, seen.values, noise)


def _foretell(seen: Readings, stand: _Stand, found: Evidence) -> tuple[Foretold, ...]:
    """Each tile from all the others, as if it were a good one."""
    out = []
    for place, row in enumerate(seen.rows):
        error, covariance = left_out(found, row)
        if place in stand.spoilt:
            covariance = covariance - SPOILT_SD**2 * np.eye(row.stop - row.start)
        out.append(Foretold(error, covariance))
    return tuple(out)


def _belief(foretold: Foretold) -> float:
    """Chance that the tile is good, given how the others predict it."""
    spoilt = foretold.covariance + SPOILT_SD**2 * np.eye(foretold.error.size)
    far = float(foretold.error @ np.linalg.solve(spoilt, foretold.error))
    log_ratio = 0.5 * (
        far - foretold.distance + np.linalg.slogdet(spoilt)[1] - np.linalg.slogdet(foretold.covariance)[1]
    )
    return float(1 / (1 + SPOILT_CHANCE / (1 - SPOILT_CHANCE) * np.exp(-np.clip(log_ratio, -500, 500))))
