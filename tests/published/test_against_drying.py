"""The drying of a piece against published laws and rules.

First-order drying towards a plateau: Moropoulou et al., Braz. J. Chem. Eng. 22 (2005) 203-208. Diffusion from a
slab: Crank, The Mathematics of Diffusion (1975), eq. 4.18 (from memory; checked by summing the series).
"Constant mass" by the loss in 24 h, under 0.1 %: the wording of ISO 12570 (from memory), shown here to be too
early for slow pieces.
"""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.bench.drying import follow_drying
from colormatch.bench.drying_shapes import Courses
from tests.bench.drying_trial import loss_rule

pytestmark = pytest.mark.published(
    source="Moropoulou et al. 2005 (form of the first-order law); Aitken's plateau from three weighings",
    covers=["bench.drying.follow_drying"],
)

# m(t) = 1000 + 60 exp(-t / 2 d), t = 0..10 d, rounded to a milligram
SERIES = [1060, 1036.392, 1022.073, 1013.388, 1008.120, 1004.925, 1002.987, 1001.812, 1001.099, 1000.667, 1000.404]


@pytest.mark.parametrize("days", [[2, 4, 6], [0, 2, 4, 6, 8, 10], list(range(11))])
def test_plateau(days):
    """Aitken's extrapolation of t = 2, 4, 6 d gives 1000.000 g; every band holds it, and the whole series finds it."""
    first, second, third = SERIES[2], SERIES[4], SERIES[6]
    aitken = (first * third - second**2) / (first + third - 2 * second)
    assert aitken == pytest.approx(1000.0, abs=2e-3)
    low, middle, high = follow_drying(days, [SERIES[day] for day in days], scale_step_g=0.001).plateau_g
    assert low <= aitken <= high
    if len(days) > 3:
        assert middle == pytest.approx(aitken, abs=0.05)


def test_loss_rule_comes_true_on_day_eight_with_more_than_a_gram_to_go():
    """Loss per 24 h, % of mass: 2.278 1.401 .857 .523 .318 .193 .117 .071; below 0.1 first on day 8."""
    assert loss_rule(range(11), SERIES) == 8
    assert SERIES[8] - 1000 == pytest.approx(1.10, abs=5e-3)


@pytest.mark.parametrize(("tau", "ratio"), [(1, 0.5820), (2, 1.5415), (5, 4.5167), (10, 9.5083), (20, 19.504)])
def test_still_to_go_after_one_days_loss(tau, ratio):
    """remaining / last 24 h loss = 1 / (exp(24 h / tau) - 1), for the package's own one-stage course."""
    course = Courses(np.array([float(tau)]), np.array([1.0]), np.array([1.0]), np.array([False]))
    before, after = course.share(np.array([7.0, 8.0]))[0]
    assert after / (before - after) == pytest.approx(ratio, rel=2e-4)


def test_skin_and_core_starts_as_diffusion_from_a_slab():
    """u = 8 / pi^2 and drop = 1 / 9 are the first two terms; the rest is gone within a tenth of tau."""
    odd = np.arange(1, 400, 2)
    days = np.linspace(1.0, 30.0, 30)
    slab = (8 / np.pi**2 / odd**2 * np.exp(-np.multiply.outer(days, odd**2) / 10.0)).sum(axis=1)
    course = Courses(np.array([10.0]), np.array([8 / np.pi**2]), np.array([1 / 9]), np.array([True]))
    assert course.share(days)[0] == pytest.approx(slab, abs=0.045)
    assert course.share(days[10:])[0] == pytest.approx(slab[10:], abs=1e-4)


def test_a_slow_slab_is_not_sealed_by_the_package_when_the_loss_rule_would():
    odd = np.arange(1, 60, 2)
    days = np.arange(0.0, 60.0)
    share = (8 / np.pi**2 / odd**2 * np.exp(-np.multiply.outer(days, odd**2) / 12.0)).sum(axis=1)
    grams = np.round(400 + 24 * share, 1)
    count = int(loss_rule(days, grams)) + 1
    assert 24 * share[count - 1] > 0.003 * 400
    assert follow_drying(days[:count], grams[:count]).verdict != "seal"
