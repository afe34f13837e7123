"""The nearest shade that can still be reached by adding to a bowl; the arithmetic behind `rescue`.

For each of a row of final cement weights, the loads are found by Gauss-Newton: each step is a
non-negative least squares in which a slack variable carries the cap (Lawson & Hanson, Solving Least
Squares Problems, 1974, ch. 23; from memory). From them, a small differential evolution (Storn & Price, J. Global
Optim. 11 (1997) 341) over the marks of the scale, on CIEDE2000 itself, and a walk downhill mark by mark.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from .. import difference, mixture
from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..mixture import Coefficients

_CEMENT_WEIGHTS = 33
_STEPS = 8
_CAP_WEIGHT = 1e6  # against some 1e3 Lab units per unit load
_HERD, _GENERATIONS, _BEST = 200, 60, 8
_LEAN = 0.05  # dE00 given away for less to add
_SLACK = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What is in the bowl and what was wanted; arrays (n,) over the pigments that may go in."""

    names: tuple[str, ...]
    columns: tuple[int, ...]  # their places in the palette
    size: int  # pigments in the palette
    wanted_loads: FloatArray
    planned_g: FloatArray
    inside_g: FloatArray
    cement_inside_g: float
    cement_planned_g: float
    extra_cement_g: float

    @property
    def cement_g(self) -> float:
        """The cement there will be at least."""
        return max(self.cement_inside_g, self.cement_planned_g)

    def all_loads(self, loads: FloatArray) -> FloatArray:
        """(m, n) loads of the task's pigments as (m, size) in the palette's order."""
        rows = np.atleast_2d(loads)
        full = np.zeros((len(rows), self.size))
        full[:, self.columns] = rows
        return full


@dataclass(frozen=True, slots=True, eq=False)
class Mending:
    """Grams of each pigment to add (n,), cement beyond `Task.cement_g`, and how far off it ends (dE00)."""

    pigment_g: FloatArray
    cement_g: float
    delta_e: float


def nearest_addition(
    task: Task, coefficients: Coefficients, wanted: FloatArray, *, cap: float, step: float, bulk: float
) -> Mending | None:
    """The additions, on the scale's marks, that end nearest to `wanted` (3,); None: past the cap."""
    search = _Search(task, coefficients, wanted, cap, step, bulk)
    marks = search.starts()
    if not len(marks):
        return None
    ends = search.walk(search.breed(marks))
    near = np.concatenate([marks, ends])[:, None, :] + search.around()
    tried = np.unique(near.reshape(-1, marks.shape[1]), axis=0)
    off = search.delta_e(tried)
    if not np.isfinite(off).any():
        return None
    good = np.flatnonzero(off <= off.min() + _LEAN)
    chosen = good[int(np.argmin(search.added_g(tried[good])))]
    grams = tried[chosen]
    return Mending(grams[:-1] * step, float(grams[-1] * bulk), float(off[chosen]))


class _Search:
    """Points are rows of whole marks: n pigments on one scale, then cement on the other."""

    def __init__(
        self, task: Task, coefficients: Coefficients, wanted: FloatArray, cap: float, step: float, bulk: float
    ) -> None:
        self.task, self.coefficients, self.wanted = task, coefficients, wanted
        self.cap, self.step, self.bulk = cap, step, bulk
        self.most_cement = int(np.floor(task.extra_cement_g / bulk + _SLACK))
        _, self.root = difference.slopes(wanted, wanted)  # its square is the metric at the wanted shade

    def starts(self) -> FloatArray:
        """Marks nearest to the best loads for each of a row of cement weights that stay under the cap."""
        least = self.task.inside_g.sum() / self.cap - self.task.cement_g  # cement that brings it under the cap
        first = max(0, int(np.ceil(least / self.bulk - 1e-6)))
        if first > self.most_cement:
            return np.empty((0, len(self.task.names) + 1))
        cement = np.unique(np.round(np.linspace(first, self.most_cement, _CEMENT_WEIGHTS)))
        grams = self._best_loads(self.task.cement_g + cement * self.bulk)
        marks = np.round((grams - self.task.inside_g) / self.step)
        return np.concatenate([np.maximum(marks, 0.0), cement[:, None]], axis=1)

    def _best_loads(self, cement_g: FloatArray) -> FloatArray:
        """(m, n) grams of pigment for each final cement weight (m,)."""
        least = self.task.inside_g / cement_g[:, None]
        room = np.maximum(self.cap - least.sum(axis=1), 0.0)
        above = np.maximum(self.task.wanted_loads - least, 0.0)
        over = np.maximum(above.sum(axis=1), 1e-12)
        loads = least + above * np.minimum(1.0, room / over)[:, None]
        off = self._distance(loads)
        for _ in range(_STEPS):
            goal = self._step(loads, least, room)
            for length in (1.0, 0.5, 0.2):
                tried = loads + length * (goal - loads)
                tried_off = self._distance(tried)
                better = tried_off < off
                loads[better], off[better] = tried[better], tried_off[better]
        return np.asarray(loads * cement_g[:, None], dtype=np.float64)

    def _step(self, loads: FloatArray, least: FloatArray, room: FloatArray) -> FloatArray:
        from scipy.optimize import nnls

        lab, slopes = mixture.lab_and_load_slopes(self.coefficients, self.task.all_loads(loads))
        slopes = self.root @ slopes[:, :, self.task.columns]  # (m, 3, n)
        n = loads.shape[1]
        goal = np.empty_like(loads)
        for row in range(len(loads)):
            rhs = self.root @ (self.wanted - lab[row]) + slopes[row] @ (loads[row] - least[row])
            system = np.zeros((4, n + 1))
            system[:3, :n], system[3] = slopes[row], _CAP_WEIGHT
            goal[row] = least[row] + nnls(system, np.append(rhs, _CAP_WEIGHT * room[row]))[0][:n]
        return goal

    def _distance(self, loads: FloatArray) -> FloatArray:
        lab = mixture.lab(self.coefficients, self.task.all_loads(loads))
        return np.asarray(delta_e_2000(lab, self.wanted), dtype=np.float64)

    def around(self) -> FloatArray:
        """All neighbouring marks of a point, itself included; for many pigments only pairs of moves."""
        n = len(self.task.names) + 1
        return np.array(list(product((-1.0, 0.0, 1.0), repeat=n))) if n <= 5 else _pairs(n)

    def delta_e(self, marks: FloatArray) -> FloatArray:
        """(m,) dE00 from the wanted shade; infinite where a point is not allowed."""
        cement = self.task.cement_g + marks[:, -1] * self.bulk
        loads = (self.task.inside_g + marks[:, :-1] * self.step) / cement[:, None]
        allowed = (marks >= 0).all(axis=1) & (marks[:, -1] <= self.most_cement)
        allowed &= loads.sum(axis=1) <= self.cap + _SLACK
        off = np.full(len(marks), np.inf)
        if allowed.any():
            off[allowed] = self._distance(loads[allowed])
        return off

    def added_g(self, marks: FloatArray) -> FloatArray:
        """(m,) grams that the points add."""
        return np.asarray(marks[:, :-1].sum(axis=1) * self.step + marks[:, -1] * self.bulk)

    def breed(self, starts: FloatArray) -> FloatArray:
        """The best points of a small differential evolution from `starts`; the same every time.

        Differences of good points lie along the valley of equal shade and along the cap, where steps of one
        mark at a time get stuck.
        """
        rng = np.random.default_rng(0)
        size = (_HERD, starts.shape[1])
        jitter = rng.standard_normal(size) * rng.choice([0.5, 2.0, 8.0], size=(_HERD, 1))
        herd = np.concatenate([starts, self._inside(starts[np.arange(_HERD) % len(starts)] + jitter)])
        off = self.delta_e(herd)
        for _ in range(_GENERATIONS):
            one, two, better = herd[rng.permutation(len(herd))], herd[rng.permutation(len(herd))], herd[off.argmin()]
            share = rng.random((len(herd), 1))
            pull = np.where(rng.random((len(herd), 1)) < 0.3, share, 0.0)
            tried = self._inside(herd + share * (one - two) + pull * (better - herd) + rng.random(herd.shape) - 0.5)
            tried_off = self.delta_e(tried)
            kept = tried_off < off
            herd[kept], off[kept] = tried[kept], tried_off[kept]
        return herd[np.argsort(off)[:_BEST]]

    def _inside(self, points: FloatArray) -> FloatArray:
        whole = np.maximum(np.round(points), 0.0)
        whole[:, -1] = np.minimum(whole[:, -1], self.most_cement)
        return whole

    def walk(self, points: FloatArray) -> FloatArray:
        """From mark to mark downhill, all points (m, n + 1) at once, in strides that shrink to one mark."""
        moves, points = self.around(), points.copy()
        here = self.delta_e(points)
        for stride in (8, 2, 1):
            for _ in range(25):
                tried = points[:, None, :] + stride * moves
                off = self.delta_e(tried.reshape(-1, tried.shape[-1])).reshape(len(points), -1)
                best = off.argmin(axis=1)
                least = off[np.arange(len(points)), best]
                better = least < here - 1e-9
                if not better.any():
                    break
                points[better], here[better] = tried[better, best[better]], least[better]
        return points


def _pairs(n: int) -> FloatArray:
    moves = {tuple(np.zeros(n))}
    for i, j in product(range(n), repeat=2):
        for a, b in product((-1.0, 1.0), repeat=2):
            move = np.zeros(n)
            move[i] = a
            if i != j:
                move[j] = b
            moves.add(tuple(move))
    return np.array(sorted(moves))
