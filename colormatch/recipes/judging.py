"""What a recipe is worth besides its distance: doubt, slips, other lights, money. Arrays over recipes."""

from __future__ import annotations

from functools import cache

import numpy as np

from .. import mixture
from ..arrays import FloatArray
from ..colorimetry import ILLUMINANTS, reflectance_to_lab
from ..difference import delta_e_2000, metamerism_index
from .problem import Problem

OTHER_LIGHTS = tuple(light for light in ILLUMINANTS if light != "D65")
READINGS_PER_DOSE = 2  # the empty bowl and the full one
SLIP = 0.05  # share of a dose by which a hand may be off
_TRIAL_LOAD = 0.01  # g per g of dry cement
_NODES = 6  # Gauss-Hermite nodes per axis
_ROWS_AT_ONCE = 32  # keeps the working arrays within the processor's cache


def weighing_covariance(problem: Problem, loads: FloatArray, steps: FloatArray) -> FloatArray:
    """(m, 3, 3) of CIELAB from the scale's step: each reading is uniform within it, sd = d / sqrt(12).

    GUM (JCGM 100:2008) F.2.2.1. loads (m, n); steps (m, n) the load of one step for each pigment.
    """
    _, slopes = mixture.lab_and_load_slopes(problem.coefficients, loads)
    variance = np.where(loads > 0, READINGS_PER_DOSE * steps**2 / 12, 0.0)
    return np.asarray((slopes * variance[:, None, :]) @ slopes.transpose(0, 2, 1))


def expected_delta_e(
    problem: Problem, loads: FloatArray, targets: FloatArray, target_covariance: FloatArray, steps: FloatArray
) -> FloatArray:
    """(m,) mean CIEDE2000 to the targets (m, 3) over everything in doubt.

    The palette's posterior, the cast-to-cast scatter, the scale's step and the target's own covariance
    (m, 3, 3), taken as normal in CIELAB; the mean over 6 x 6 x 6 Gauss-Hermite nodes.
    """
    lab, covariance = problem.palette.predict_with_covariance(loads, base=problem.base, state=problem.state)
    covariance = covariance + weighing_covariance(problem, loads, steps) + target_covariance
    value, vectors = np.linalg.eigh(covariance)
    spread = (vectors * np.sqrt(np.maximum(value, 0.0))[:, None, :]).transpose(0, 2, 1)
    nodes, weights = _normal_nodes()
    expected = np.empty(len(loads))
    for start in range(0, len(loads), _ROWS_AT_ONCE):
        rows = slice(start, start + _ROWS_AT_ONCE)
        colours = lab[rows, None, :] + nodes @ spread[rows]
        np.matmul(delta_e_2000(targets[rows, None, :], colours), weights, out=expected[rows])
    return expected


def pigment_doubt(problem: Problem) -> FloatArray:
    """(n,) mean CIEDE2000 by which each pigment alone, at 1 % or its own maximum, may miss what is foretold of it."""
    loads = np.diag(np.minimum(_TRIAL_LOAD, problem.own_maximum))
    steps = np.full(loads.shape, problem.limits.step_load)
    return expected_delta_e(problem, loads, problem.lab(loads), np.zeros((len(loads), 3, 3)), steps)


def rough_expected_delta_e(doubt: FloatArray, loads: FloatArray, delta_e: FloatArray) -> FloatArray:
    """(m,) distance and the doubt of the least known pigment together: a rank, cheap enough for every mix."""
    worst = np.where(loads > 0, doubt, 0.0).max(axis=-1, initial=0.0)
    return np.asarray(np.hypot(delta_e, worst), dtype=np.float64)


def slip_delta_e(problem: Problem, loads: FloatArray) -> FloatArray:
    """(m,) largest CIEDE2000 by which the shade moves when one dose is 5 % over, to first order."""
    lab, slopes = mixture.lab_and_load_slopes(problem.coefficients, loads)
    moved = lab[:, None, :] + (slopes * (SLIP * loads)[:, None, :]).transpose(0, 2, 1)
    return np.asarray(delta_e_2000(lab[:, None, :], moved).max(axis=-1, initial=0.0))


def change_under_other_lights(problem: Problem, loads: FloatArray, spectrum: FloatArray | None = None) -> FloatArray:
    """(m,) the worst over illuminants A, D50, F11 and LED-B3.

    With the target's spectrum (31,): the special metamerism index against it (ISO 18314-4, additive
    correction). Without: a shade known only as CIELAB has no metamers to speak of, so it is the
    recipe's own colour inconstancy, CIEDE2000 between its CIELAB under D65 and under the other light,
    each with its own white (no further chromatic adaptation).
    """
    body = mixture.reflectance(problem.coefficients, loads)
    daylight = reflectance_to_lab(body)
    worst = np.zeros(len(loads))
    for light in OTHER_LIGHTS:
        there = reflectance_to_lab(body, light)
        if spectrum is None:
            change = delta_e_2000(daylight, there)
        else:
            wanted, wanted_there = reflectance_to_lab(spectrum), reflectance_to_lab(spectrum, light)
            change = metamerism_index(wanted, wanted_there, daylight, there)
        worst = np.maximum(worst, change)
    return worst


def batch_cost(problem: Problem, loads: FloatArray) -> FloatArray:
    """(m,) price of the pigments in the batch, in the currency of the prices; NaN where one is unknown."""
    prices = [p.price_per_kg for p in problem.palette.pigments.values()]
    per_gram = np.array([np.nan if price is None else price / 1000 for price in prices])
    grams = loads * problem.limits.cement_g
    return np.asarray(np.where(grams > 0, grams * per_gram, 0.0).sum(axis=-1))


@cache
def _normal_nodes() -> tuple[FloatArray, FloatArray]:
    """(216, 3) nodes and (216,) weights for the mean over a standard normal in three dimensions."""
    x, w = np.polynomial.hermite_e.hermegauss(_NODES)
    w = w / w.sum()
    grid = np.stack(np.meshgrid(x, x, x, indexing="ij"), axis=-1).reshape(-1, 3)
    weights = (w[:, None, None] * w[:, None] * w).reshape(-1)
    return grid, weights
