"""What recipes are worth besides their distance: uncertainty, slips, other lights, money. Arrays over recipes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .. import mixture
from ..arrays import FloatArray, read_only
from ..colorimetry import ILLUMINANTS, reflectance_to_lab
from ..difference import delta_e_2000, expected_delta_e
from ..lamps import Lamp, lamp
from ..palette import Palette
from .problem import Problem

OTHER_LIGHTS = tuple(light for light in ILLUMINANTS if light != "D65")
SLIP = 0.05  # share of a dose by which a hand may be off; common practice, no source
READING_SD = np.sqrt(2 / 12)  # of a dose, in steps of the scale: two readings, each uniform within the step
_TRIAL_LOAD = 0.01  # g per g of dry cement: where a pigment is judged by itself, the middle of usual loads


@dataclass(frozen=True, eq=False, slots=True)
class Judged:
    """Rounded recipes for one target as arrays over them: loads (c, n), lab (c, 3), covariance (c, 3, 3), else (c,).

    covariance: all that is uncertain, the target included. cost and metamerism are nan where they are not known.
    """

    loads: FloatArray
    lab: FloatArray
    covariance: FloatArray
    delta_e: FloatArray
    expected_delta_e: FloatArray
    cost: FloatArray
    inconstancy: FloatArray
    metamerism: FloatArray
    slip_delta_e: FloatArray

    @property
    def n_pigments(self) -> NDArray[np.intp]:
        return np.asarray(np.count_nonzero(self.loads, axis=1), dtype=np.intp)

    def rows(self, chosen: NDArray[np.bool_]) -> Judged:
        """Some of them."""
        return Judged(*(getattr(self, name)[chosen] for name in Judged.__slots__))


def judge(
    problem: Problem,
    loads: FloatArray,
    targets: FloatArray,
    target_covariance: FloatArray,
    steps: FloatArray,
    spectrum: FloatArray | None = None,
    lamps: Sequence[Lamp] = (),
) -> Judged:
    """Loads (c, n) held against targets (c, 3), (c, 3, 3); steps (c, n): the load of one step for each pigment.

    spectrum: the target's reflectance factors (31,), if they are known. lamps: other lights than daylight, A, D50,
    F11 and LED-B3 unless given.
    """
    lamps = lamps or [lamp(name) for name in OTHER_LIGHTS]
    body = mixture.reflectance(problem.coefficients, loads)
    _, slopes = mixture.lab_and_load_slopes(problem.coefficients, loads)
    lab, covariance = uncertainty(problem, loads, slopes, steps)
    covariance = covariance + target_covariance
    nothing = np.full(len(loads), np.nan)
    return Judged(
        loads=loads,
        lab=lab,
        covariance=covariance,
        delta_e=delta_e_2000(targets, lab),
        expected_delta_e=expected_delta_e(targets, lab, covariance),
        cost=batch_cost(problem, loads),
        inconstancy=worst_inconstancy(body, lamps),
        metamerism=nothing if spectrum is None else worst_metamerism(body, spectrum, lamps),
        slip_delta_e=slip_delta_e(lab, slopes, loads),
    )


def uncertainty(
    problem: Problem, loads: FloatArray, slopes: FloatArray, steps: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """CIELAB (c, 3) and covariance (c, 3, 3) of the palette's posterior, the casting and the scale's step.

    slopes (c, 3, n): of CIELAB in the loads. A reading is uniform within a step, sd = d / sqrt(12): GUM (JCGM
    100:2008) F.2.2.1; a dose is two readings.
    """
    lab, covariance = problem.palette.predict_with_covariance(loads, base=problem.base, state=problem.state)
    return lab, covariance + mixture.weighing_covariance(slopes, loads, READING_SD * steps)


@lru_cache(maxsize=8)
def expected_miss(palette: Palette, base: str, state: str) -> FloatArray:
    """(n,) mean CIEDE2000 by which each pigment alone, at 1 % or its own maximum, may miss what is predicted."""
    loads = np.diag([min(_TRIAL_LOAD, pigment.maximum_load) for pigment in palette.pigments.values()])
    lab, covariance = palette.predict_with_covariance(loads.reshape(-1, len(loads)), base=base, state=state)
    return read_only(expected_delta_e(lab, lab, covariance))


def rough_expected_delta_e(miss: FloatArray, loads: FloatArray, delta_e: FloatArray) -> FloatArray:
    """(m,) distance and the miss of the least known pigment together: a rank, cheap enough for every mix."""
    worst = np.where(loads > 0, miss, 0.0).max(axis=-1, initial=0.0)
    return np.asarray(np.hypot(delta_e, worst), dtype=np.float64)


def slip_delta_e(lab: FloatArray, slopes: FloatArray, loads: FloatArray) -> FloatArray:
    """(m,) largest CIEDE2000 by which the shade moves when one dose is 5 % over, to first order."""
    moved = lab[:, None, :] + (slopes * (SLIP * loads)[:, None, :]).transpose(0, 2, 1)
    return np.asarray(delta_e_2000(lab[:, None, :], moved).max(axis=-1, initial=0.0))


def worst_inconstancy(body: FloatArray, lamps: Sequence[Lamp]) -> FloatArray:
    """(m,) own change of colour of reflectances (m, 31) from daylight, CIEDE2000, the worst of the lamps."""
    turned = np.stack([lamp.as_in_daylight(body) for lamp in lamps])  # as `Lamp.inconstancy`, in one go
    return np.asarray(delta_e_2000(reflectance_to_lab(body), turned).max(axis=0))


def worst_metamerism(body: FloatArray, spectrum: FloatArray, lamps: Sequence[Lamp]) -> FloatArray:
    """(m,) special metamerism index of reflectances (m, 31) against a spectrum (31,), the worst of the lamps."""
    return np.asarray(np.max([lamp.metamerism(body, spectrum) for lamp in lamps], axis=0))


def batch_cost(problem: Problem, loads: FloatArray) -> FloatArray:
    """(m,) price of the pigments in the batch, in the currency of the prices; NaN where one is unknown."""
    prices = [p.price_per_kg for p in problem.palette.pigments.values()]
    per_gram = np.array([np.nan if price is None else price / 1000 for price in prices])
    grams = loads * problem.limits.cement_g
    return np.asarray(np.where(grams > 0, grams * per_gram, 0.0).sum(axis=-1))
