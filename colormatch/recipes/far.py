"""Shades far out of reach: the nearest by eye.

CIEDE2000 is made for small differences; far off, its hue terms wrap, and a grey-green becomes the nearest to
hot pink. So beyond `FAR` the nearest colour is looked for by CIELAB distance, made longer the further the hue
is off, and recipes are then found for that colour.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..mixture import LoadSlopes
from .descent import Effort, descend, project
from .problem import IndexArray, Mixes, Problem, amounts_of, loads_of, mixes_of
from .solver import Candidates, solve
from .starts import coarse_grid

FAR = 5.0  # CIEDE2000; about where its order and that of CIELAB part (500 targets, tests/recipes/test_far.py)
_TOTALS, _PARTS = np.array([0.02, 0.06, 0.15, 0.35, 0.65, 1.0]), 5
_STARTS = 24  # mixes of the grid that are refined; more found nothing nearer
_EFFORT = Effort(most_steps=20, enough=1e-6, least_gain=1e-5)
_COLOURED, _GREY = 10.0, 5.0  # C*ab from which a wanted shade, and below which a mix, has a hue to speak of or none
# Degrees that the eye forgives for a stronger colour, and from which it sees another hue (30, less a margin for the
# rounding of the grams). Between them distance counts up to a quarter more, beyond them half as much again: then any
# mix of the wanted hue within 1.25 x of the nearest goes before one of another hue.
_SAME_HUE, _ANOTHER_HUE = 20.0, 28.0
_TURNED_COSTS, _OTHER_COSTS = 0.25, 0.32
_AS_NEAR = 1.1  # of the best distance by eye: less than another hue costs
_ACROSS = (1.0, 3.0)  # weights of going across the wanted hue, from which mixes are refined; CIELAB has 1


def solve_by_eye(
    problem: Problem, targets: FloatArray, miss: FloatArray | None = None
) -> tuple[list[Candidates], FloatArray]:
    """`solve`, and the colours (t, 3) aimed at: the targets, or by eye the nearest where they are far off."""
    found, aims = solve(problem, targets, miss), targets.copy()
    far = [t for t, candidates in enumerate(found) if candidates.delta_e[0] > FAR]
    if far:
        aims[far] = [nearest_by_eye(problem, targets[t]) for t in far]
        for t, candidates in zip(far, solve(problem, aims[far], miss), strict=True):
            found[t] = candidates
    return found, aims


def nearest_by_eye(problem: Problem, target: FloatArray) -> FloatArray:
    """CIELAB (3,) of the mix that comes nearest to a far target (3,)."""
    loads, sets = coarse_grid(problem, _TOTALS, _PARTS)
    bare = problem.lab((problem.fixed + problem.low)[None, :])
    if not len(loads):
        return np.asarray(bare[0])
    lab = problem.lab(loads)
    order = np.argsort(distance_by_eye(lab, target), kind="stable")
    _, firsts = np.unique(sets[order], return_index=True)
    starts = order[np.sort(firsts)[:_STARTS]]
    starts = np.tile(starts, len(_ACROSS))
    which = np.repeat(np.arange(len(_ACROSS)), len(starts) // len(_ACROSS))
    mixes = mixes_of(problem, problem.subsets[sets[starts]].T, which)
    refined = problem.lab(loads_of(problem, mixes, _refined(problem, mixes, loads[starts], target)))
    tried = np.concatenate([bare, lab, refined])
    return np.asarray(tried[distance_by_eye(tried, target).argmin()])


def distance_by_eye(lab: FloatArray, target: FloatArray) -> FloatArray:
    """(m,) CIELAB distance of colours (m, 3) to targets (3,) or (m, 3), longer the further the hue is off."""
    distance = np.sqrt(((lab - target) ** 2).sum(axis=-1))
    mix, wanted = lab[..., 1] + 1j * lab[..., 2], target[..., 1] + 1j * target[..., 2]
    off = np.abs(np.degrees(np.angle(mix * np.conj(wanted))))
    off = np.where(np.abs(mix) < _GREY, 180.0, off)
    turned = np.clip((off - _SAME_HUE) / (_ANOTHER_HUE - _SAME_HUE), 0.0, 1.0)
    cost = _TURNED_COSTS * turned + _OTHER_COSTS * (off > _ANOTHER_HUE)
    return np.asarray(distance * (1 + np.where(np.abs(wanted) > _COLOURED, cost, 0.0)))


def as_near_by_eye(lab: FloatArray, targets: FloatArray, owner: IndexArray) -> NDArray[np.bool_]:
    """(m,) whether recipes (m, 3) of far targets (m, 3), owner (m,), are about as near by eye as the best of theirs.

    What is within a just seen difference of the colour aimed at may have another hue where chroma is low.
    """
    by_eye = distance_by_eye(lab, targets)
    least = np.full(owner.max() + 1, np.inf)
    np.minimum.at(least, owner, by_eye)
    return np.asarray(by_eye <= _AS_NEAR * least[owner])


def _refined(problem: Problem, mixes: Mixes, loads: FloatArray, target: FloatArray) -> FloatArray:
    """Amounts (k, m) at the least of distances like the one by eye that have slopes everywhere.

    mixes.target: which of the weights across the hue.
    """
    hue = np.arctan2(target[2], target[1])
    turn = np.array([[1, 0, 0], [0, np.cos(hue), np.sin(hue)], [0, -np.sin(hue), np.cos(hue)]])
    axes = np.array([[1.0, 1.0, across] for across in _ACROSS])[:, :, None] * turn  # (metric, part, CIELAB)
    kernel = LoadSlopes(problem.coefficients)

    def model(mixes: Mixes, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        lab, slopes = kernel.lab_and_slopes(mixes.places, x, problem.fixed)
        own = axes[mixes.target]  # (m, part, CIELAB)
        off = np.einsum("mij,jm->im", own, lab - target[:, None])
        return (off * off).sum(axis=0), off, np.einsum("mij,jkm->ikm", own, slopes)

    start = project(amounts_of(mixes, loads), mixes.low, mixes.high, mixes.cap)
    return descend(model, mixes, start, _EFFORT)[0]
