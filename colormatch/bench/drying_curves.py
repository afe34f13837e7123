"""All drying curves that a handful of weights allows, as draws from their posterior.

mass(t) = plateau + water * share(t). Given a course (drying_shapes) and the scatter of the weighing, plateau
and water are linear and integrated out exactly; course and scatter are sampled by a tempered sequential
Monte Carlo (Del Moral, Doucet & Jasra, J. R. Stat. Soc. B 68 (2006) 411; from memory). So a band is
honest with four weights as with forty, and no single curve has to be the right one. Seeded: the same
weights give the same answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from .drying_shapes import Courses, Flags

_PARTICLES = 400  # of each family; a judgement between haste and smooth bands
_MOVES = (1.2, 0.6, 0.25, 1.0, 0.4, 0.15)  # step lengths, in sd of the particles
# Scatter of one weighing in steps of the scale: rounding alone is 1 / sqrt(12) = 0.29 (GUM F.2.2.1).
_LEAST_SCATTER, _MOST_SCATTER = 0.29, 3.0
_WATER_MEAN, _WATER_SD = 0.05, 0.03  # of the first weight; from memory
_LEAST_WATER = 0.002  # below it there is nothing left to follow
# No course is quite the true one: one per cent of the water still to go, so the late weights count most.
_SHAPE_SD = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """m equally likely drying curves: plateau and water in g (m,), their courses, the scatter in g (m,)."""

    plateau_g: FloatArray
    water_g: FloatArray
    courses: Courses
    scatter_g: FloatArray

    def remaining(self, days: FloatArray) -> FloatArray:
        """(m, n) g of water still to go."""
        return self.water_g[:, None] * self.courses.share(days)

    def mass(self, days: FloatArray) -> FloatArray:
        """(m, n) g."""
        return self.plateau_g[:, None] + self.remaining(days)

    def days_until(self, remainder: float) -> FloatArray:
        """(m,) days until no more than `remainder` (share of the plateau) is left."""
        return self.courses.days_until(remainder * self.plateau_g / self.water_g)


def draw_curves(days: FloatArray, grams: FloatArray, step_g: float) -> Curves:
    """Curves that could have given these weights; days (n,) from 0 upwards, grams (n,), n >= 2."""
    rng = np.random.default_rng(0)
    cube = rng.random((2 * _PARTICLES, 4))
    core = np.repeat([False, True], _PARTICLES)
    weighing = _Weighing(days, grams, step_g)
    fit, heat = weighing.log_likelihood(cube, core), 0.0
    while heat < 1:
        rise = _next_rise(fit, 1 - heat)
        heat += rise
        weight = np.exp(rise * (fit - fit.max()))
        places = (np.arange(len(cube)) + rng.random()) / len(cube)
        kept = np.minimum(np.searchsorted(np.cumsum(weight) / weight.sum(), places), len(cube) - 1)
        cube, core, fit = cube[kept], core[kept], fit[kept]
        roots = {family: _root(cube[core == family]) for family in (False, True)}
        for length in _MOVES:
            moved = cube.copy()
            for family, root in roots.items():
                ours = core == family
                moved[ours] += length * rng.standard_normal((int(ours.sum()), 4)) @ root.T
            moved = np.abs(moved) % 2
            moved = np.where(moved > 1, 2 - moved, moved)  # reflected at the walls of the cube
            moved_fit = weighing.log_likelihood(moved, core)
            better = np.log(rng.random(len(cube))) < heat * (moved_fit - fit)
            cube[better], fit[better] = moved[better], moved_fit[better]
    return weighing.curves(cube, core, rng)


def _next_rise(fit: FloatArray, left: float) -> float:
    """The rise of the heat that keeps half of the particles effective."""

    def effective(rise: float) -> float:
        weight = np.exp(rise * (fit - fit.max()))
        return float(weight.sum() ** 2 / (weight @ weight) / len(fit))

    low, high = 0.0, left
    if effective(left) >= 0.5:
        return left
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if effective(middle) >= 0.5 else (low, middle)
    return high


def _root(points: FloatArray) -> FloatArray:
    if len(points) < 10:  # too few for a covariance of four numbers
        return 0.1 * np.eye(4)
    return np.asarray(np.linalg.cholesky(np.cov(points.T) + 1e-12 * np.eye(4)), dtype=np.float64)


class _Weighing:
    """The likelihood of courses and scatter with plateau and water integrated out (two by two, by hand)."""

    def __init__(self, days: FloatArray, grams: FloatArray, step_g: float) -> None:
        self.days, self.step, self.first = days, step_g, float(grams[0])
        self.fall = grams - grams[0]
        self.shape_variance = (_SHAPE_SD * (grams - grams.min())) ** 2

    def log_likelihood(self, cube: FloatArray, core: Flags) -> FloatArray:
        """(m,) of points (m, 4): three for the course, one for the scatter."""
        return self._solve(cube, core)[0]

    def curves(self, cube: FloatArray, core: Flags, rng: np.random.Generator) -> Curves:
        """One draw of plateau and water for every particle."""
        _, offset, water, a11, a12, determinant = self._solve(cube, core)
        drawn = water + np.sqrt(a11 / determinant) * rng.standard_normal(len(cube))
        shift = offset - a12 / a11 * (drawn - water) + rng.standard_normal(len(cube)) / np.sqrt(a11)
        kept = drawn > _LEAST_WATER * self.first
        if not kept.any():  # nothing but a flat line fits: it is as dry as it was at the first weight
            kept, drawn = np.ones(len(cube), dtype=bool), np.full(len(cube), _LEAST_WATER * self.first)
        courses = Courses.from_unit_cube(cube[:, :3], core).at(kept)
        return Curves((self.first + shift)[kept], drawn[kept], courses, self._scatter(cube)[kept])

    def _scatter(self, cube: FloatArray) -> FloatArray:
        return np.asarray(self.step * _LEAST_SCATTER * (_MOST_SCATTER / _LEAST_SCATTER) ** cube[:, 3])

    def _solve(self, cube: FloatArray, core: Flags) -> tuple[FloatArray, ...]:
        share = Courses.from_unit_cube(cube[:, :3], core).share(self.days)
        weight = 1 / (self._scatter(cube)[:, None] ** 2 + self.shape_variance)
        water_mean, water_sd = _WATER_MEAN * self.first, _WATER_SD * self.first
        loose = 0.3 * self.first  # the plateau: next to nothing is known of it
        a11 = weight.sum(axis=1) + 1 / loose**2
        a12 = (weight * share).sum(axis=1)
        a22 = (weight * share**2).sum(axis=1) + 1 / water_sd**2
        b1 = (weight * self.fall).sum(axis=1) - water_mean / loose**2
        b2 = (weight * share * self.fall).sum(axis=1) + water_mean / water_sd**2
        determinant = a11 * a22 - a12**2
        offset = (a22 * b1 - a12 * b2) / determinant
        water = (a11 * b2 - a12 * b1) / determinant
        residual = self.fall - offset[:, None] - water[:, None] * share
        misfit = (weight * residual**2).sum(axis=1)
        misfit += ((offset + water_mean) / loose) ** 2 + ((water - water_mean) / water_sd) ** 2
        log_likelihood = 0.5 * (np.log(weight).sum(axis=1) - np.log(determinant) - misfit)
        return log_likelihood, offset, water, a11, a12, determinant
