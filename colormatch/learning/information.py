"""What the readings say of the parameters, at a cost that grows with the tiles and not with their cube.

The prior of the parameters x is Gaussian with mean m and covariance P; the readings y = f(x) + noise, and the noise N
is block-diagonal, one block for each recipe. With slopes J the readings enter only as G = J' N^-1 J and
b = J' N^-1 s, s = y - f + J (x - m); both from readings made white, L^-1 J and L^-1 s with N = L L'. The posterior is
m + P (I + G P)^-1 b with covariance P (I + G P)^-1: P is never inverted, so a parameter without variance stays put.
Only parameters that the tiles touch are carried here; all others follow by their covariance with these.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve

from ..arrays import FloatArray

Model = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
Rows = Sequence[np.ndarray]  # blocks of one size together: (blocks, readings of a block) places in the readings
Blocks = Sequence[FloatArray]  # (blocks, size, size) for each of `Rows`
_DAMPING_START, _DAMPING_MOST = 1e-2, 1e6  # of the steps, relative; the usual sizes, from memory
_SMALL_GAIN = 1e-3  # of twice the negative log posterior: far below what any reading can tell


@dataclass(frozen=True, slots=True)
class Information:
    """The readings' information on n parameters, and what is needed to weigh them against the prior."""

    gain: FloatArray  # (n, n) J' N^-1 J
    pull: FloatArray  # (n,) J' N^-1 s
    squares: float  # s' N^-1 s
    log_noise: float  # log |N|
    roots: Blocks  # L^-1
    slopes: FloatArray  # (N, n) L^-1 J
    innovation: FloatArray  # (N,) L^-1 s


@dataclass(frozen=True, slots=True)
class Posterior:
    """Prior and information together; dual (n,): mean = m + P dual."""

    told: Information
    dual: FloatArray
    covariance: FloatArray  # (n, n)
    log_evidence: float  # log density of the readings, but for a constant
    factor: tuple[FloatArray, NDArray[np.int32]]  # of I + G P

    @property
    def left(self) -> FloatArray:
        """(n, n) (I + G P)^-1 G: the prior covariance loses P left P."""
        left = lu_solve(self.factor, self.told.gain, check_finite=False)
        return np.asarray((left + left.T) / 2)


def inverse_roots(noise: Blocks) -> tuple[list[FloatArray], float]:
    """L^-1 block by block, N = L L', and log |N|."""
    roots = [np.linalg.inv(np.linalg.cholesky(block)) for block in noise]
    return roots, -2 * float(sum(np.log(np.diagonal(root, axis1=1, axis2=2)).sum() for root in roots))


def turned(blocks: Blocks) -> list[FloatArray]:
    """Each block transposed."""
    return [block.transpose(0, 2, 1) for block in blocks]


def weighted(rows: Rows, blocks: Blocks, readings: FloatArray) -> FloatArray:
    """A block-diagonal matrix times readings (N,) or (N, n)."""
    out = np.zeros_like(readings)
    columns = readings if readings.ndim == 2 else readings[:, None]
    for at, block in zip(rows, blocks, strict=True):
        out[at] = (block @ columns[at]).reshape(out[at].shape)
    return out


def information(rows: Rows, noise: Blocks, slopes: FloatArray, innovation: FloatArray) -> Information:
    """From slopes (N, n) and innovation (N,)."""
    roots, log_noise = inverse_roots(noise)
    white, white_innovation = weighted(rows, roots, slopes), weighted(rows, roots, innovation)
    return Information(
        gain=white.T @ white,
        pull=white.T @ white_innovation,
        squares=float(white_innovation @ white_innovation),
        log_noise=log_noise,
        roots=roots,
        slopes=white,
        innovation=white_innovation,
    )


def posterior(prior: FloatArray, told: Information) -> Posterior:
    """The posterior under the prior covariance (n, n)."""
    factor = lu_factor(np.eye(len(prior)) + told.gain @ prior, check_finite=False)
    dual = lu_solve(factor, told.pull, check_finite=False)
    covariance = lu_solve(factor, prior, trans=1, check_finite=False)
    log_determinant = float(np.log(np.abs(np.diag(factor[0]))).sum())
    explained = float(told.pull @ (prior @ dual))
    return Posterior(
        told,
        dual,
        (covariance + covariance.T) / 2,
        -0.5 * (told.log_noise + log_determinant + told.squares - explained),
        factor,
    )


@dataclass(frozen=True, slots=True)
class Point:
    """A place in parameter space: x = m + P dual, with the model's answer there."""

    parameters: FloatArray  # (n,)
    dual: FloatArray  # (n,)
    values: FloatArray  # (N,)
    slopes: FloatArray  # (N, n)

    def innovation(self, measured: FloatArray, mean: FloatArray) -> FloatArray:
        """(N,) what the prior did not predict, with the model taken as straight around this point."""
        return measured - self.values + self.slopes @ (self.parameters - mean)


def most_probable(
    model: Model,
    start: Point,
    *,
    mean: FloatArray,
    prior: FloatArray,
    measured: FloatArray,
    rows: Rows,
    noise: Blocks,
    most_steps: int = 40,
) -> Point:
    """Levenberg-Marquardt to the maximum of the posterior; `start` must satisfy x = m + P dual.

    The damping is a prior of the same shape around the present point: it keeps steps short where the model bends.
    """
    roots, _ = inverse_roots(noise)

    def cost(point: Point) -> float:
        """Twice the negative log posterior, but for a constant."""
        gap = weighted(rows, roots, measured - point.values)
        return float(gap @ gap + point.dual @ (point.parameters - mean))

    def step(here: Point, gain: FloatArray, white: FloatArray, damping: float) -> Point:
        keep, move = damping / (1 + damping), 1 / (1 + damping)
        away = here.parameters - mean
        pull = white.T @ (weighted(rows, roots, measured - here.values) + white @ (move * away))
        added = np.linalg.solve(np.eye(len(prior)) + move * (gain @ prior), pull)
        dual = keep * here.dual + move * added
        parameters = mean + keep * away + move * (prior @ added)
        return Point(parameters, dual, *model(parameters))

    here, damping, now = start, _DAMPING_START, cost(start)
    for _ in range(most_steps):
        white = weighted(rows, roots, here.slopes)
        gain = white.T @ white
        while True:
            there = step(here, gain, white, damping)
            new = cost(there)
            if new <= now or damping >= _DAMPING_MOST:
                break
            damping *= 8
        gained = now - new
        if not gained >= 0:
            return here
        here, now, damping = there, new, damping / 8
        if gained < _SMALL_GAIN:
            return here
    return here
