"""Shades far out of reach: the nearest by eye.

CIEDE2000 is made for small differences; far off, its hue terms wrap, and a grey-green becomes the nearest to
hot pink. So beyond `FAR` the nearest colour is looked for by CIELAB distance, made longer the further the hue
is off, and recipes are then found for that colour.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray, read_only
from ..difference import delta_e_2000
from ..saying import GREY
from .descent import project
from .problem import IndexArray, Mixes, Problem, amounts_of, least_of, loads_of, mixes_of
from .solver import Candidates, solve
from .starts import MOST_IN_GRID, Grid, Seeds, tinting_strength

FAR = 5.0  # CIEDE2000; about where its order and that of CIELAB part (500 targets, tests/recipes/test_far.py)
# The least that left no mix of 60,000 random ones more than 5 % nearer by eye to any of 800 targets.
_PARTS, _SEEDS = 6, 12
_FACTORS = (1.5, 1.5, 1.5, 1.25, 1.25, 1.12, 1.12, 1.06, 1.03)  # by which doses are tried up and down, in turn
_COLOURED = 10.0  # C*ab from which a wanted shade has a hue that must be kept
# Degrees that the eye forgives for a stronger colour, and from which it sees another hue (30, less a margin for the
# rounding of the grams). Between them distance counts up to a quarter more, beyond them half as much again: then any
# mix of the wanted hue within 1.25 x of the nearest goes before one of another hue.
_SAME_HUE, _ANOTHER_HUE = 20.0, 28.0
_TURNED_COSTS, _OTHER_COSTS = 0.25, 0.32
_AS_NEAR = 1.1  # of the best distance by eye: less than another hue costs


def solve_by_eye(
    problem: Problem, targets: FloatArray, miss: FloatArray | None = None
) -> tuple[list[Candidates], FloatArray]:
    """`solve`, and the colours (t, 3) aimed at: the targets, or by eye the nearest where they are far off."""
    grid, aims = Grid(problem), targets.copy()
    off = np.flatnonzero(grid.nearest_distance(targets) > FAR)
    if off.size:
        aims[off] = _aims(problem, targets[off])
    return solve(problem, aims, miss, grid), aims


def _aims(problem: Problem, targets: FloatArray) -> FloatArray:
    """What to aim at (t, 3): the mix nearest by eye to each of the targets (t, 3), or the target itself if near."""
    grid = Grid(problem, _PARTS, tinting_strength(problem))
    bare = problem.lab((problem.fixed + problem.low)[None, :])
    by_eye = np.array([distance_by_eye(grid.lab, target) for target in targets])
    seeds = grid.seeds(by_eye, np.arange(len(targets)), _SEEDS)
    walked = _walked(problem, seeds, targets)
    aims = targets.copy()
    for t, target in enumerate(targets):
        tried = np.concatenate([bare, walked[seeds.target == t]])
        if delta_e_2000(target, tried).min() > FAR:
            aims[t] = tried[distance_by_eye(tried, target).argmin()]
    return aims


def _walked(problem: Problem, seeds: Seeds, targets: FloatArray) -> FloatArray:
    """CIELAB (m, 3) of the seeds after steps to the nearest by eye of all neighbours: doses up, down or kept.

    The distance by eye has edges, where the hue is lost; slopes lead nowhere there.
    """
    mixes = mixes_of(problem, problem.subsets[seeds.sets].T, seeds.target)
    amounts, rows = amounts_of(mixes, seeds.loads), np.arange(len(seeds.target))
    ways = _ways(len(amounts))
    around = Mixes(*(np.tile(part, len(ways)) for part in mixes.parts()))
    for factor in _FACTORS:
        tried = (amounts[:, None, :] * factor ** ways.T[:, :, None]).reshape(len(amounts), -1)
        tried = project(tried, around.low, around.high, around.cap)
        far = distance_by_eye(problem.lab(loads_of(problem, around, tried)), targets[around.target])
        best = far.reshape(len(ways), -1).argmin(axis=0)
        amounts = tried.reshape(len(amounts), len(ways), -1)[:, best, rows]
    return problem.lab(loads_of(problem, mixes, amounts))


@lru_cache(maxsize=8)
def _ways(places: int) -> FloatArray:
    """(w, places) -1, 0 or 1 for every dose that a mix of the grid has."""
    ways = list(product((-1.0, 0.0, 1.0), repeat=min(MOST_IN_GRID, places)))
    return read_only(np.pad(ways, ((0, 0), (0, places - len(ways[0])))))


def distance_by_eye(lab: FloatArray, target: FloatArray) -> FloatArray:
    """(m,) CIELAB distance of colours (m, 3) to targets (3,) or (m, 3), longer the further the hue is off."""
    distance = np.sqrt(((lab - target) ** 2).sum(axis=-1))
    mix, wanted = lab[..., 1] + 1j * lab[..., 2], target[..., 1] + 1j * target[..., 2]
    off = np.abs(np.degrees(np.angle(mix * np.conj(wanted))))
    off = np.where(np.abs(mix) < GREY, 180.0, off)
    turned = np.clip((off - _SAME_HUE) / (_ANOTHER_HUE - _SAME_HUE), 0.0, 1.0)
    cost = _TURNED_COSTS * turned + _OTHER_COSTS * (off > _ANOTHER_HUE)
    return np.asarray(distance * (1 + np.where(np.abs(wanted) > _COLOURED, cost, 0.0)))


def as_near_by_eye(lab: FloatArray, targets: FloatArray, owner: IndexArray) -> NDArray[np.bool_]:
    """(m,) whether recipes (m, 3) of far targets (m, 3), owner (m,), are about as near by eye as the best of theirs.

    What is within a just seen difference of the colour aimed at may have another hue where chroma is low.
    """
    by_eye = distance_by_eye(lab, targets)
    return np.asarray(by_eye <= _AS_NEAR * least_of(by_eye, owner)[owner])
