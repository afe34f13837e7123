"""Consistency over time: false alarms, steps and drifts that are found, and the words."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2

from colormatch import Shade
from colormatch.bench.control import T2_LIMIT, control_chart
from colormatch.errors import InputError

STANDARD = Shade((60.0, 12.0, 18.0))


def batches(deviations):
    return [Shade(STANDARD.lab + row) for row in deviations]


def scatter(rng, count, sd=0.8):
    return rng.standard_normal((count, 3)) * sd


def test_t2_limit_is_as_rare_as_three_sigma():
    assert chi2.sf(T2_LIMIT, 3) == pytest.approx(0.0027, rel=1e-3)


@pytest.mark.slow
def test_false_alarms_are_as_rare_as_promised():
    """Good batches, the maker's level off the standard by as much as the scatter: about 0.3 % each signal."""
    rng = np.random.default_rng(4)
    alarms = [len(control_chart(batches(scatter(rng, 30) + 0.8 * rng.standard_normal(3)), STANDARD).out)
              for _ in range(200)]  # fmt: skip
    assert np.sum(alarms) / (200 * 30) < 0.01


def test_what_is_named_lies_beyond_one_of_its_limit():
    rng = np.random.default_rng(6)
    deviations = scatter(rng, 40)
    deviations[20:, 1] += 0.3 * np.arange(20)
    chart = control_chart(batches(deviations), STANDARD)
    assert tuple(np.flatnonzero(chart.of_limit > 1)) == chart.out
    assert chart.out


def test_a_step_is_named_where_it_began():
    rng = np.random.default_rng(5)
    delays = []
    for _ in range(40):
        deviations = scatter(rng, 30)
        deviations[18:, 0] += 4.0
        chart = control_chart(batches(deviations), STANDARD)
        delays.append(chart.out[0] - 18)
    assert np.median(delays) <= 1
    assert np.mean(np.array(delays) >= 0) > 0.85


def test_a_drift_is_found_and_called_so():
    rng = np.random.default_rng(8)
    words = []
    for _ in range(30):
        deviations = scatter(rng, 40)
        deviations[15:, 2] += 0.25 * np.arange(25)
        chart = control_chart(batches(deviations), STANDARD)
        words.append(chart.words)
    assert sum("too yellow" in w for w in words) > 20
    assert sum("drift" in w for w in words) > 10


def test_the_batch_is_named_with_its_fault():
    deviations = scatter(np.random.default_rng(1), 12, 0.4)
    deviations[9] = (-8.0, 0.0, 0.0)
    chart = control_chart(batches(deviations), STANDARD, names=[f"March {day}" for day in range(1, 13)])
    assert chart.words.startswith("First out of control: March 10, far off at once, mostly too dark")
    assert chart.out == (9,)


def test_a_change_does_not_widen_its_own_limits():
    deviations = scatter(np.random.default_rng(2), 24)
    calm = control_chart(batches(deviations[:16]), STANDARD)
    deviations[16:, 1] += 12.0
    shaken = control_chart(batches(deviations), STANDARD)
    assert shaken.t2[:16] == pytest.approx(calm.t2)
    assert shaken.out == tuple(range(16, 24))


def test_distance_from_the_standard_is_told_even_when_steady():
    chart = control_chart(
        batches(scatter(np.random.default_rng(3), 20, 0.2) + np.array([0.8, 0.0, 0.0])), STANDARD, cast_sd=0.4
    )
    assert chart.delta_e.mean() == pytest.approx(0.75, abs=0.2)
    assert chart.delta_e.shape == (20,)


def test_order_of_axes_does_not_matter():
    deviations = scatter(np.random.default_rng(6), 20)
    one = control_chart(batches(deviations), STANDARD)
    two = control_chart(batches(deviations[:, ::-1]), STANDARD)
    assert one.t2 == pytest.approx(two.t2)
    assert one.drift == pytest.approx(two.drift)


def test_one_batch_is_enough_to_begin():
    assert control_chart([STANDARD], STANDARD).words == "One cast so far."


@pytest.mark.parametrize(
    "call",
    [
        lambda: control_chart([], STANDARD),
        lambda: control_chart([STANDARD], STANDARD, names=["a", "b"]),
        lambda: control_chart([STANDARD], STANDARD, cast_sd=float("nan")),
    ],
)
def test_bad_input_is_refused(call):
    with pytest.raises(InputError, match=r"it must be from 0.05 to 20|one name for each|no batch to chart yet"):
        call()
