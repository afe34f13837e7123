"""What the tiles themselves say of the noise and of how freely an unknown pigment's curves may bend.

Up to nine numbers are chosen where the tiles are most probable (marginal likelihood, with the model taken as straight):
the scatter of casting, how far the two-constant law misses what a pigment and what a cement does, and, where pigments
are cast of which nothing was known, shape, strength and length of their absorption and scattering. All unknown
pigments share these. The gradient in the prior is 1/2 tr((u u' - left) dP), in the noise of a block
1/2 tr((r r' - V) dN) with V the block of the inverse covariance of the readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from ..arrays import FloatArray
from ..palette import Palette
from ..parameters import BASE_SIZE, FREEDOM, FREEDOM_LOG_SD, N_KNOTS, PIGMENT_SIZE, unknown_covariance
from .information import Posterior, information, posterior, turned, weighted
from .observe import Readings

# Medians and log-sd of casting (CIELAB), of the law's miss in a pigment's and in the base's strength (a share). Chosen
# over simulated studios and 84 measured oil paints: freer, documented pigments are learned worse (by up to 0.1 dE00 in
# studios that are not Kubelka-Munk), as the miss hides what their curves have to learn.
NOISE = np.array([0.3, 0.01, 0.01])
NOISE_LOG_SD = np.array([1.2, 0.25, 0.25])
# The same where unknown pigments are cast: their curves follow the tiles anyway.
UNKNOWN_NOISE = np.array([0.3, 0.05, 0.03])
UNKNOWN_NOISE_LOG_SD = np.array([1.2, 1.2, 1.0])
ENOUGH_READINGS = 1200  # choose from no more: 400 tiles give the noise to 2 %
_DEGREES = 4.0  # of freedom of a Student t: common practice for tails that a few outliers make (Lange et al. 1989)
_FARTHEST = 3.0  # prior sd
_LONGEST_MOVE = 1.0  # of a logarithm, at one straight model
_MOST_LOG_SD = 0.6  # of a choice: further out a normal no longer describes it; a judgement
_MOST_ITERATIONS = 25  # of the search; a judgement
_PAIRS, _SEED = 8, 5  # draws, each with its mirror image; any seed
_STEP = 0.02  # of a logarithm, for curvature by differences of slopes


@dataclass(frozen=True, slots=True)
class Choice:
    """The numbers chosen. noise (3,): sd of casting, of a pigment's and of the base's strength; freedom (6,)."""

    noise: FloatArray
    freedom: FloatArray

    @property
    def log(self) -> FloatArray:
        """(9,) as the search sees it."""
        return np.asarray(np.log(np.concatenate([self.noise, self.freedom])))

    @classmethod
    def of_log(cls, log: FloatArray) -> Choice:
        """The inverse of `log`."""
        values = np.exp(log)
        return cls(values[:3], values[3:])


@dataclass(frozen=True, slots=True)
class Expectation:
    """What is thought of the choice before the tiles: normal in the logarithm, (9,) each; fixed where sd is 0."""

    log_median: FloatArray
    log_sd: FloatArray


@dataclass(frozen=True, slots=True)
class Straight:
    """The readings with the model taken as straight around one point, in the parameters the tiles touch.

    slopes (N, n), innovation (N,); prior (n, n) and unknown, the places of each unknown pigment in it; parts: for each
    batch of blocks (3, blocks, size, size), the covariance of the readings for each noise of 1; outliers: tiles
    that may show anything.
    """

    seen: Readings
    slopes: FloatArray
    innovation: FloatArray
    prior: FloatArray
    unknown: tuple[slice, ...]
    parts: tuple[FloatArray, ...]
    outliers: tuple[FloatArray, ...]

    def noise(self, sd: FloatArray) -> list[FloatArray]:
        """N by batches of blocks, for noise (3,)."""
        return [
            measuring + apart + np.tensordot(sd**2, part, axes=1)
            for measuring, apart, part in zip(self.seen.measuring, self.outliers, self.parts, strict=True)
        ]

    def thinned(self, most: int) -> Straight:
        """With only every so many-th block, so that about `most` readings are left."""
        step = -(-len(self.innovation) // most)
        if step == 1:
            return self
        kept = [rows[::step] for rows in self.seen.block_rows]
        places = np.concatenate([rows.ravel() for rows in kept])
        ends = np.cumsum([0, *(rows.size for rows in kept)])
        seen = replace(
            self.seen,
            block_rows=tuple(
                np.arange(start, start + rows.size).reshape(rows.shape) for start, rows in zip(ends, kept, strict=False)
            ),
            measuring=tuple(block[::step] for block in self.seen.measuring),
        )
        return replace(
            self,
            seen=seen,
            slopes=self.slopes[places],
            innovation=self.innovation[places],
            parts=tuple(part[:, ::step] for part in self.parts),
            outliers=tuple(block[::step] for block in self.outliers),
        )

    def student_weights(self, choice: Choice, gap: FloatArray, spread: FloatArray) -> tuple[FloatArray, ...]:
        """(blocks,) for each batch: how much each counts if the readings miss the model by a Student t.

        gap (N,): measured minus fitted; spread (n, n): covariance of the parameters.
        """
        out = []
        for rows, noise in zip(self.seen.block_rows, self.noise(choice.noise), strict=True):
            own, slopes = gap[rows], self.slopes[rows]
            squares = own[:, :, None] * own[:, None, :] + slopes @ spread @ slopes.transpose(0, 2, 1)
            distance = np.trace(np.linalg.solve(noise, squares), axis1=1, axis2=2)
            out.append((_DEGREES + rows.shape[1]) / (_DEGREES + distance))
        return tuple(out)

    def weighed(self, weights: Sequence[FloatArray]) -> Straight:
        """With the noise of each block divided by its weight; weights as `student_weights`."""
        wider = [1 / weight[:, None, None] for weight in weights]
        measuring = tuple(by * block for by, block in zip(wider, self.seen.measuring, strict=True))
        parts = tuple(by * part for by, part in zip(wider, self.parts, strict=True))
        return replace(self, seen=replace(self.seen, measuring=measuring), parts=parts)

    def prior_of(self, freedom: FloatArray) -> FloatArray:
        """P with the unknown pigments as free as stated."""
        if not self.unknown:
            return self.prior
        out, block = self.prior.copy(), unknown_covariance(freedom)[0]
        for place in self.unknown:
            out[place, place] = block
        return out

    def posterior(self, choice: Choice) -> Posterior:
        """The posterior and the evidence for a choice."""
        told = information(self.seen.block_rows, self.noise(choice.noise), self.slopes, self.innovation)
        return posterior(self.prior_of(choice.freedom), told)

    def left_over(self, found: Posterior) -> tuple[list[FloatArray], FloatArray]:
        """V, the blocks of C^-1 on the diagonal, and C^-1 s (N,); C: covariance of the readings."""
        rows, told = self.seen.block_rows, found.told
        spread = told.slopes @ found.covariance
        blocks = []
        for root, at in zip(told.roots, rows, strict=True):
            white = np.eye(at.shape[1]) - spread[at] @ told.slopes[at].transpose(0, 2, 1)
            blocks.append(root.transpose(0, 2, 1) @ white @ root)
        return blocks, self._pull(found)

    def leave_out(self, found: Posterior) -> LeaveOut:
        """How any readings are predicted by all others."""
        rows, told = self.seen.block_rows, found.told
        inverse = [root.transpose(0, 2, 1) @ root for root in told.roots]
        towards = weighted(rows, turned(told.roots), told.slopes)
        return LeaveOut(self.seen.block_places, inverse, towards, found.covariance, self._pull(found))

    def _pull(self, found: Posterior) -> FloatArray:
        """C^-1 s (N,)."""
        told = found.told
        white = told.innovation - told.slopes @ (found.covariance @ told.pull)
        return weighted(self.seen.block_rows, turned(told.roots), white)


@dataclass(frozen=True, slots=True)
class LeaveOut:
    """Leaving readings out of a straight fit (Rasmussen & Williams 2006, eqs. 5.10-5.12), any number together."""

    places: NDArray[np.intp]  # (N, 3) as `Readings.block_places`
    inverse: Sequence[FloatArray]  # blocks of N^-1
    towards: FloatArray  # (N, n) N^-1 J
    covariance: FloatArray  # (n, n) of the parameters
    pull: FloatArray  # (N,) C^-1 s

    def __call__(self, at: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
        """Error (k,) and covariance (k, k) with which all other readings predict those at the places (k,)."""
        own = np.zeros((at.size, at.size))
        batch, group, within = self.places[at].T
        for one in set(zip(batch.tolist(), group.tolist(), strict=True)):
            mine = np.flatnonzero((batch == one[0]) & (group == one[1]))
            own[np.ix_(mine, mine)] = self.inverse[one[0]][one[1]][np.ix_(within[mine], within[mine])]
        covariance = np.linalg.inv(own - self.towards[at] @ self.covariance @ self.towards[at].T)
        return covariance @ self.pull[at], np.asarray(covariance, dtype=np.float64)


def noise_parts(palette: Palette, seen: Readings, slopes: FloatArray) -> tuple[FloatArray, ...]:
    """For each batch (3, blocks, size, size): casting; the law's miss of the pigments; of the base. slopes (N, all)."""
    layout = palette.layout
    pigments = slopes[:, layout.all_pigments].reshape(len(slopes), -1, PIGMENT_SIZE).sum(axis=-1)
    _, state = np.unique(
        np.repeat([tile.state for tile in seen.tiles], [row.stop - row.start for row in seen.rows]), return_inverse=True
    )
    bases = slopes[:, : len(layout.bases) * BASE_SIZE].reshape(len(slopes), -1, BASE_SIZE)[:, :, N_KNOTS]
    out = []
    for rows, casting in zip(seen.block_rows, seen.casting, strict=True):
        own, base = pigments[rows], bases[rows]
        same = state[rows][:, :, None] == state[rows][:, None, :]
        out.append(np.stack([casting, same * (own @ own.transpose(0, 2, 1)), same * (base @ base.transpose(0, 2, 1))]))
    return tuple(out)


def expectation(palette: Palette, unknown: bool) -> Expectation:
    """Before the tiles; what earlier tiles taught of the noise counts like so many readings."""
    learned = palette.tiles_learned
    median, first_sd = (UNKNOWN_NOISE, UNKNOWN_NOISE_LOG_SD) if unknown else (NOISE, NOISE_LOG_SD)
    known = np.array([palette.cast_sd, palette.pigment_law_sd, palette.base_law_sd])
    noise = np.where(known > 0, known, median) if learned else median
    noise_sd = 1 / np.sqrt(1 / first_sd**2 + 2 * learned)
    freedom_sd = FREEDOM_LOG_SD if unknown else np.zeros(6)
    return Expectation(np.log(np.concatenate([noise, FREEDOM])), np.concatenate([noise_sd, freedom_sd]))


def score(straight: Straight, choice: Choice, before: Expectation) -> tuple[float, FloatArray]:
    """Log posterior of a choice but for a constant, and its slopes (9,) in the logarithm."""
    found = straight.posterior(choice)
    slopes = np.zeros(9)
    blocks, pull = straight.left_over(found)
    for rows, block, part in zip(straight.seen.block_rows, blocks, straight.parts, strict=True):
        own = pull[rows]
        slopes[:3] += np.einsum("pgij,gi,gj->p", part, own, own) - np.einsum("pgij,gij->p", part, block)
    slopes[:3] *= choice.noise**2
    if straight.unknown:
        _, by_freedom = unknown_covariance(choice.freedom)
        left = found.left
        for place in straight.unknown:
            dual = found.dual[place]
            slopes[3:] += 0.5 * np.einsum("pij,ij->p", by_freedom, np.outer(dual, dual) - left[place, place])
    free = before.log_sd > 0
    sd = np.where(free, before.log_sd, 1.0)
    away = np.where(free, (choice.log - before.log_median) / sd, 0.0)
    return found.log_evidence - 0.5 * float(away @ away), np.where(free, slopes - away / sd, 0.0)


def most_probable_choice(
    straight: Straight, start: Choice, before: Expectation, most: int = _MOST_ITERATIONS
) -> tuple[Choice, float]:
    """The choice under which the readings are most probable, at most one step in the logarithm away, and its score."""
    straight = straight.thinned(ENOUGH_READINGS)
    reach = _FARTHEST * before.log_sd
    at = np.clip(start.log, before.log_median - reach, before.log_median + reach)
    low, high = (
        before.log_median + np.clip(at + move - before.log_median, -reach, reach)
        for move in (-_LONGEST_MOVE, _LONGEST_MOVE)
    )

    def downhill(log: FloatArray) -> tuple[float, FloatArray]:
        value, slopes = score(straight, Choice.of_log(log), before)
        return -value, -slopes

    found = minimize(
        downhill, at, jac=True, method="L-BFGS-B",
        bounds=list(zip(low, high, strict=True)), options={"maxiter": most, "ftol": 1e-5, "gtol": 3e-2},
    )  # fmt: skip
    return Choice.of_log(found.x), -float(found.fun)


def choices_near(straight: Straight, best: Choice, before: Expectation) -> tuple[list[Choice], FloatArray]:
    """Choices drawn in mirrored pairs from around the best one (Laplace), and the sd (9,) of their logarithms."""
    straight, free = straight.thinned(ENOUGH_READINGS), np.flatnonzero(before.log_sd > 0)
    curvature = np.zeros((9, 9))
    for i in free:
        unit = _STEP * np.eye(9)[i]
        up, down = (score(straight, Choice.of_log(best.log + sign * unit), before)[1] for sign in (1, -1))
        curvature[i] = (down - up) / (2 * _STEP)
    curvature = ((curvature + curvature.T) / 2)[np.ix_(free, free)]
    values, axes = np.linalg.eigh(curvature)
    covariance = axes / np.maximum(values, 1 / _MOST_LOG_SD**2 / 4) @ axes.T
    short = np.minimum(1.0, _MOST_LOG_SD / np.sqrt(np.diag(covariance)))
    covariance = covariance * np.outer(short, short)
    draws = np.random.default_rng(_SEED).standard_normal((_PAIRS, free.size))
    apart = np.zeros((_PAIRS, 9))
    apart[:, free] = draws @ np.linalg.cholesky(covariance + 1e-12 * np.eye(free.size)).T
    sd = np.zeros(9)
    sd[free] = np.sqrt(np.diag(covariance))
    return [Choice.of_log(best.log + sign * move) for move in apart for sign in (1, -1)], sd


def without(straight: Straight, outliers: tuple[FloatArray, ...]) -> Straight:
    """The same with other tiles called outliers."""
    return replace(straight, outliers=outliers)
