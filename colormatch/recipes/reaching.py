"""What a palette can reach under a cap: a cloud of recipes, its slices in a*b*, its lightest and darkest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..palette import Palette
from .fan import fan
from .limits import Limits
from .problem import Problem

SLICES = (30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0)
_HALF_SLICE = 2.5
_TOTALS = np.concatenate([[0.004, 0.012], np.geomspace(0.03, 1.0, 10)])  # shares of the cap
_PARTS = 6  # each total is shared out in sixths


@dataclass(frozen=True, eq=False, slots=True)
class ReachSlice:
    """A slice of the reach, 5 L* thick: outline (p, 2) in a*, b*, convex, anticlockwise; p = 0: nothing there."""

    lightness: float
    outline: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class Reach:
    """What a base reaches in a state at a cap: lab (m, 3) of many recipes, slices, range of L*.

    The outlines are convex, so a hollow in the true rim is drawn filled; whether one shade can be met is
    for `find_recipes` or `explain_reach` to say.
    """

    base: str
    state: str
    load_cap: float
    lab: FloatArray
    slices: tuple[ReachSlice, ...]

    @property
    def lightness_range(self) -> tuple[float, float]:
        """The darkest and the lightest L*."""
        return float(self.lab[:, 0].min()), float(self.lab[:, 0].max())


def reach(
    palette: Palette,
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    lightness: tuple[float, ...] = SLICES,
) -> Reach:
    """The reach of a palette on one base; raises UnknownNameError, LoadError or RecipeError."""
    problem = Problem(palette, base, state, limits or Limits())
    loads, _ = fan(problem, _TOTALS, _PARTS)
    lab = problem.lab(np.concatenate([problem.fixed[None, :] + problem.low, loads]))
    slices = tuple(ReachSlice(level, _outline(lab, level)) for level in lightness)
    return Reach(base, state, problem.limits.load_cap, lab, slices)


def _outline(lab: FloatArray, level: float) -> FloatArray:
    from scipy.spatial import ConvexHull, QhullError

    points = lab[np.abs(lab[:, 0] - level) <= _HALF_SLICE, 1:]
    if len(points) < 3:
        return np.zeros((0, 2))
    try:
        return np.asarray(points[ConvexHull(points).vertices], dtype=np.float64)
    except QhullError:  # all on one line: a palette of greys
        return np.zeros((0, 2))
