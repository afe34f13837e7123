"""How sure the parameters are: over what the noise and the freedom may be, over stories, and over one slip more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..arrays import FloatArray
from ..palette import Palette
from .evidence import Choice, Straight, choices_near
from .job import Job, Stand
from .observe import MISFIT_SD, Readings


def spread(job: Job, stand: Stand) -> tuple[FloatArray, FloatArray, Choice]:
    """Parameters, their covariance over what the choice may be as well, and the choice with mean variances."""
    straight = stand.straight or job.straightened(stand.point, stand.outliers)
    choices, sd = choices_near(straight, stand.choice, job.before)
    noise = stand.choice.noise * np.exp(sd[:3] ** 2 / 2)  # mean of a lognormal sd
    covariance, means = np.zeros_like(job.palette.covariance), []
    for choice in choices if job.unknown else [stand.choice]:
        found = straight.posterior(Choice(stand.choice.noise, choice.freedom))
        prior = _prior_of(job, straight, choice)
        across = prior[:, job.touched]
        covariance += prior - across @ found.left @ across.T
        means.append(across @ found.dual)
    covariance /= len(means)
    if len(means) > 1:
        apart = np.array(means) - np.mean(means, axis=0)
        covariance += apart.T @ apart / len(means)
    parameters = job.palette.mean + _prior_of(job, straight, stand.choice)[:, job.touched] @ stand.point.dual
    noise[0] = max(noise[0], _least_scatter(job.palette, job.seen))
    return parameters, (covariance + covariance.T) / 2, Choice(noise, stand.choice.freedom)


def mixed(
    weights: FloatArray, stories: Sequence[tuple[FloatArray, FloatArray, Choice]]
) -> tuple[FloatArray, FloatArray, Choice]:
    """Mean and covariance over stories of these probabilities, and the choice of the first with mean variances."""
    means = np.array([mean for mean, _, _ in stories])
    mean = weights @ means
    within = sum(weight * covariance for weight, (_, covariance, _) in zip(weights, stories, strict=True))
    noise = np.sqrt(weights @ np.array([choice.noise**2 for _, _, choice in stories]))
    return mean, within + (weights * (means - mean).T) @ (means - mean), replace(stories[0][2], noise=noise)


def _least_scatter(palette: Palette, seen: Readings) -> float:
    """What the next cast may be off at least: casts never repeat better, and no two-constant law is exact.

    Many tiles of few recipes show the scatter but not how the law fails elsewhere, so that the palette's own
    figure fades only with the number of recipes.
    """
    recipes = len({tile.recipe for tile in seen.tiles})
    return MISFIT_SD + max(palette.cast_sd - MISFIT_SD, 0.0) / recipes


def one_slip_more(job: Job, stand: Stand, one_more: Sequence[Stand]) -> FloatArray:
    """Covariance of all parameters from one slip more than was found, each counted by its probability."""
    moves = np.array([_mean(job, one) for one in one_more]).reshape(-1, job.palette.layout.size) - _mean(job, stand)
    odds = np.exp([one.score - stand.score for one in one_more])
    return np.asarray((odds / (1 + odds.sum()) * moves.T) @ moves)


def _mean(job: Job, stand: Stand) -> FloatArray:
    """All parameters, with the model taken as straight."""
    straight = stand.straight or job.straightened(stand.point, stand.outliers)
    across = _prior_of(job, straight, stand.choice)[:, job.touched]
    return np.asarray(job.palette.mean + across @ straight.posterior(stand.choice).dual)


def _prior_of(job: Job, straight: Straight, choice: Choice) -> FloatArray:
    """(n, n) prior covariance of all parameters, the unknown pigments as free as chosen."""
    out = job.palette.covariance.copy()
    out[np.ix_(job.touched, job.touched)] = straight.prior_of(choice.freedom)
    return out
