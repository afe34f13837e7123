"""Simulated pieces that dry, by laws that are partly not the package's own.

One stage; constant rate then falling, with and without a drop in rate; a fast skin on a slow core; and
the full series of diffusion from a slab, which no course of the package can follow exactly. Time constants
1 to 15 days, pieces of 150 to 600 g that lose 2 to 9 % of their dry mass, a scale of 0.1 g with 0 to 0.2 g
of scatter on top.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

STEP_G = 0.1
REMAINDER = 0.003
LAWS = ("one stage", "constant then falling", "constant, drop, falling", "skin and core", "slab")


@dataclass(frozen=True)
class DryingPiece:
    """A piece whose truth is known; share(t): water still to go, 1 at t = 0."""

    law: str
    tau: float
    plateau_g: float
    water_g: float
    scatter_g: float
    share: Callable[[np.ndarray], np.ndarray]

    def seal_day(self, remainder: float = REMAINDER) -> float:
        wanted, low, high = remainder * self.plateau_g / self.water_g, 0.0, 1000.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self.share(np.array([middle]))[0] > wanted else (low, middle)
        return high

    def weigh(self, days: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        grams = self.plateau_g + self.water_g * self.share(days) + self.scatter_g * rng.standard_normal(len(days))
        return np.round(grams / STEP_G) * STEP_G


def draw_piece(rng: np.random.Generator) -> DryingPiece:
    law, tau = str(rng.choice(LAWS)), float(np.exp(rng.uniform(np.log(1.0), np.log(15.0))))
    plateau = float(rng.uniform(150, 600))
    water = float(rng.uniform(0.02, 0.09)) * plateau
    return DryingPiece(law, tau, plateau, water, float(rng.choice([0.0, 0.05, 0.1, 0.2])), _share(law, tau, rng))


def _share(law: str, tau: float, rng: np.random.Generator) -> Callable[[np.ndarray], np.ndarray]:
    if law == "one stage":
        return lambda t: np.exp(-t / tau)
    if law == "skin and core":
        left, ratio = rng.uniform(0.4, 0.8), rng.uniform(0.1, 0.35)
        return lambda t: (1 - left) * np.exp(-t / (ratio * tau)) + left * np.exp(-t / tau)
    if law == "slab":
        odd = np.arange(1, 60, 2)
        terms = 8 / np.pi**2 / odd**2
        return lambda t: np.exp(-np.multiply.outer(t, odd**2) / tau) @ (terms / terms.sum())
    left = rng.uniform(0.5, 0.9)
    drop = 1.0 if law == "constant then falling" else rng.uniform(0.1, 0.5)
    change = drop * tau * (1 - left) / left
    return lambda t: np.where(t < change, 1 - (1 - left) * t / change, left * np.exp(-np.maximum(t - change, 0) / tau))
