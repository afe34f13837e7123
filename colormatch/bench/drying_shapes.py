"""How the water leaves a cast piece: many possible courses at once, each 1 at the first weight, 0 in the end.

Two families with an exponential tail of time constant tau (days), and both become first-order drying,
exp(-t / tau) (Moropoulou et al., Braz. J. Chem. Eng. 22 (2005) 203), when u = 1:
two stages     a constant rate until a share u is left, then u exp(-(t - t_c) / tau), whose rate starts at
               `drop` times the constant one (Bakhshi & Mobasher 2011 see such a drop in cement paste).
skin and core  (1 - u) exp(-t / (drop tau)) + u exp(-t / tau), drop at most 1/2: the outside dries before the
               inside; u = 8 / pi^2, drop = 1 / 9 are the first two terms of diffusion from a slab (Crank,
               The Mathematics of Diffusion, 1975, eq. 4.18; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray

Flags: TypeAlias = NDArray[np.bool_]
SHORTEST_TAU, LONGEST_TAU = 0.4, 40.0  # days; studio pieces of 150 to 600 g, from memory
# Of the water: what leaves in the slow stage at least, and how much faster the fast one may be; from memory of
# published drying curves, where stage one ends at 70 to 80 % of saturation and diffuses ten times faster.
LEAST_SHARE, SMALLEST_DROP = 0.35, 0.08
_FAR_AWAY_DAYS = 1000.0  # no piece of a studio takes as long


@dataclass(frozen=True, slots=True, eq=False)
class Courses:
    """m courses: tau, u, drop (m,) and core (m,) bool, True for the family "skin and core"."""

    tau: FloatArray
    u: FloatArray
    drop: FloatArray
    core: Flags

    @classmethod
    def from_unit_cube(cls, z: FloatArray, core: Flags) -> Courses:
        """Courses from points (m, 3) of the unit cube: the prior, before any weighing (from memory).

        tau: every order of magnitude alike. u: half of the courses above 0.77. drop: three in ten have none.
        """
        tau = SHORTEST_TAU * (LONGEST_TAU / SHORTEST_TAU) ** z[:, 0]
        u = 1 - (1 - LEAST_SHARE) * z[:, 1] ** 1.5
        drop = SMALLEST_DROP ** (np.maximum(z[:, 2] - 0.3, 0.0) / 0.7)
        return cls(tau, u, np.where(core, np.minimum(drop, 0.5), drop), core)

    def share(self, days: FloatArray) -> FloatArray:
        """(m, n) shares of the water still to go after `days` (n,) or (m, n)."""
        t, tau, u, drop = np.atleast_2d(days), self.tau[:, None], self.u[:, None], self.drop[:, None]
        change = drop * tau * (1 - u) / u  # t_c: the constant rate is (1 - u) / t_c
        tail = u * np.exp(-np.where(self.core[:, None], t, np.maximum(t - change, 0.0)) / tau)
        skin = (1 - u) * np.exp(-t / (drop * tau))
        constant = 1 - (1 - u) * t / np.maximum(change, 1e-12)
        return np.where(self.core[:, None], skin + tail, np.where(t < change, constant, tail))

    def days_until(self, share: FloatArray) -> FloatArray:
        """(m,) days until no more than `share` (m,) is left, by bisection; 0 where that is so at once."""
        low, high = np.zeros(len(self.tau)), np.full(len(self.tau), _FAR_AWAY_DAYS)
        for _ in range(40):  # 1000 days / 2^40: far below a second
            middle = (low + high) / 2
            wetter = self.share(middle[:, None])[:, 0] > share
            low, high = np.where(wetter, middle, low), np.where(wetter, high, middle)
        return high

    def at(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> Courses:
        """Some of the courses."""
        return Courses(self.tau[index], self.u[index], self.drop[index], self.core[index])
