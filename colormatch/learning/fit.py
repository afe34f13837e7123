"""The most probable parameters given the readings, and what is left in doubt; arrays in, arrays out.

The prior is Gaussian with mean m and covariance P, the readings y have noise N. Gauss-Newton in the
space of the readings: with slopes J and C = J P J' + N, the step is m + P J' C^-1 (y - f + J (x - m)), so P
is never inverted, a parameter without variance stays put, and one nobody touched moves only with
those it is correlated with. Levenberg's damping, as a prior of the same shape around the present point,
keeps steps short where the model bends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve, cholesky, eigh, solve_triangular

from ..arrays import FloatArray

Model = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
_DAMPING_START, _DAMPING_MOST = 1e-2, 1e6
_SMALL_GAIN = 1e-3  # of twice the negative log posterior: far below what any reading can tell


@dataclass(frozen=True, slots=True)
class Point:
    """A place in parameter space: x = m + P dual, with the model's answer there."""

    parameters: FloatArray  # (n,)
    dual: FloatArray  # (n,) P^-1 (x - m)
    values: FloatArray  # (N,)
    slopes: FloatArray  # (N, n)


def start_at(model: Model, mean: FloatArray) -> Point:
    """The prior mean as a place to start."""
    return Point(mean, np.zeros_like(mean), *model(mean))


def most_probable(
    model: Model,
    start: Point,
    *,
    mean: FloatArray,
    covariance: FloatArray,
    measured: FloatArray,
    noise: FloatArray,
    most_steps: int = 40,
) -> Point:
    """Levenberg-Marquardt to the maximum of the posterior; `start` must satisfy x = m + P dual."""
    root = cholesky(noise, lower=True)
    here, damping = start, _DAMPING_START
    cost = _cost(here, mean, measured, root)
    for _ in range(most_steps):
        spread = here.slopes @ covariance
        shared = spread @ here.slopes.T
        gap = measured - here.values
        while True:
            there = _step(model, here, gap, spread, shared, mean, noise, damping)
            new_cost = _cost(there, mean, measured, root)
            if new_cost <= cost or damping >= _DAMPING_MOST:
                break
            damping *= 8
        gain = cost - new_cost
        if not gain >= 0:
            return here
        here, cost, damping = there, new_cost, damping / 8
        if gain < _SMALL_GAIN:
            return here
    return here


def _step(
    model: Model,
    here: Point,
    gap: FloatArray,
    spread: FloatArray,
    shared: FloatArray,
    mean: FloatArray,
    noise: FloatArray,
    damping: float,
) -> Point:
    keep, move = damping / (1 + damping), 1 / (1 + damping)
    back = (here.parameters - mean) * move  # from the damped prior's mean to here
    factor = cho_factor(shared * move + noise, lower=True, check_finite=False)
    pull = cho_solve(factor, gap + here.slopes @ back, check_finite=False)
    dual = keep * here.dual + move * (here.slopes.T @ pull)
    parameters = mean + keep * (here.parameters - mean) + move * (spread.T @ pull)
    return Point(parameters, dual, *model(parameters))


def _cost(point: Point, mean: FloatArray, measured: FloatArray, root: FloatArray) -> float:
    """Twice the negative log posterior, but for a constant."""
    whitened = solve_triangular(root, measured - point.values, lower=True, check_finite=False)
    return float(whitened @ whitened + point.dual @ (point.parameters - mean))


@dataclass(frozen=True, slots=True)
class Evidence:
    """The readings against the prior, with the model taken as straight around a point."""

    inverse: FloatArray  # (N, N) C^-1
    surprise: FloatArray  # (N,) y - f + J (x - m), what the prior did not foresee


def evidence(point: Point, shared: FloatArray, mean: FloatArray, measured: FloatArray, noise: FloatArray) -> Evidence:
    """What the prior did not foresee, and the inverse of its covariance; shared (N, N) is J P J'."""
    surprise = measured - point.values + point.slopes @ (point.parameters - mean)
    factor = cho_factor(shared + noise, lower=True, check_finite=False)
    return Evidence(cho_solve(factor, np.eye(measured.size), check_finite=False), surprise)


def log_evidence(surprise: FloatArray, known: FloatArray, scatter: FloatArray, variances: FloatArray) -> FloatArray:
    """Log density (v,) of surprise (N,) under covariances known + variance * scatter, but for a constant.

    Known and scatter are brought to diagonal form together, once for all variances.
    """
    values, vectors = eigh(known, scatter, check_finite=False)
    projected = (vectors.T @ surprise) ** 2
    total = np.maximum(values, 0.0) + variances[:, None]
    return np.asarray(-0.5 * (projected / total + np.log(total)).sum(axis=1))


def left_out(found: Evidence, rows: slice) -> tuple[FloatArray, FloatArray]:
    """Error and covariance with which all other readings would have predicted those in `rows`.

    The identity for a Gaussian process with one block left out (Rasmussen & Williams 2006, eqs. 5.10-5.12).
    """
    covariance = np.linalg.inv(found.inverse[rows, rows])
    pull: FloatArray = (found.inverse @ found.surprise)[rows]
    return covariance @ pull, np.asarray(covariance, dtype=np.float64)


def posterior_covariance(point: Point, covariance: FloatArray, noise: FloatArray) -> FloatArray:
    """Laplace: P - P J' C^-1 J P, of all parameters, the untouched ones too."""
    spread = point.slopes @ covariance
    root = cholesky(spread @ point.slopes.T + noise, lower=True, check_finite=False)
    reach = solve_triangular(root, spread, lower=True, check_finite=False)
    remaining = covariance - reach.T @ reach
    return np.asarray((remaining + remaining.T) / 2)
