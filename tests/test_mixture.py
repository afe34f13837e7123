"""The forward model's laws, and its derivatives against differences."""

import numpy as np
import pytest

from colormatch import mixture, starter_palette
from colormatch.palette import parameter_slopes_at

STATES = ("dry", "wet", "demould", "sealed")


@pytest.fixture(scope="module")
def palette():
    return starter_palette()


def random_loads(palette, n, seed=0):
    return np.random.default_rng(seed).random((n, len(palette.pigments))) * 0.01


@pytest.mark.parametrize("state", STATES)
def test_slopes_in_the_loads(palette, state):
    coefficients = palette.coefficients("grey-cement", state)
    loads, step = random_loads(palette, 3), 1e-7
    lab, slopes = mixture.lab_and_load_slopes(coefficients, loads)
    np.testing.assert_allclose(lab, mixture.lab(coefficients, loads), atol=1e-10)
    for i, unit in enumerate(np.eye(loads.shape[1])):
        ahead, behind = (mixture.lab(coefficients, loads + sign * step * unit) for sign in (1, -1))
        np.testing.assert_allclose(slopes[:, :, i], (ahead - behind) / (2 * step), rtol=1e-5, atol=1e-3)


@pytest.mark.parametrize("state", STATES)
def test_slopes_in_every_parameter(palette, state):
    loads, step = random_loads(palette, 3), 1e-6
    _, slopes = palette.parameter_slopes(loads, base="grey-cement", state=state)
    for i, unit in enumerate(np.eye(palette.layout.size)):
        ahead, behind = (
            parameter_slopes_at(palette, palette.mean + sign * step * unit, loads, "grey-cement", state)[0]
            for sign in (1, -1)
        )
        np.testing.assert_allclose(slopes[:, :, i], (ahead - behind) / (2 * step), atol=1e-6)


def test_slices_of_a_long_table_make_no_difference(palette):
    coefficients, loads = palette.coefficients("white-cement"), random_loads(palette, 5000)
    one_by_one = mixture.lab(coefficients, loads[[0, 2047, 2048, 4999]])
    np.testing.assert_allclose(mixture.lab(coefficients, loads)[[0, 2047, 2048, 4999]], one_by_one, atol=1e-9)


def test_weighing_adds_what_the_slope_says(palette):
    """Against a simulation of ten thousand weighings; what is not in the mix is not weighed."""
    loads = palette.load_vector({"red-iron-oxide": 0.02, "titanium-white": 0.01})
    rng = np.random.default_rng(1)
    weighed = loads + 2e-4 * rng.standard_normal((10_000, loads.size)) * (loads > 0)
    simulated = np.cov(palette.predict_many(np.maximum(weighed, 0), base="white-cement").T)
    _, slopes = mixture.lab_and_load_slopes(palette.coefficients("white-cement"), loads[None])
    stated = mixture.weighing_covariance(slopes, loads[None], 2e-4)[0]
    np.testing.assert_allclose(stated, simulated, rtol=0.1, atol=0.05 * np.trace(simulated))


@pytest.mark.parametrize("state", ["dry", "wet", "demould", "sealed"])
@pytest.mark.parametrize(("precision", "tolerance"), [(np.float64, 1e-9), (np.float32, 2e-4)])
def test_colours_and_slopes_are_those_of_the_mixture(palette, state, precision, tolerance):
    coefficients = palette.coefficients("white-cement", state)
    rng, n, m = np.random.default_rng(2), len(palette.pigments), 3000
    places = np.array([rng.choice(n, 3, replace=False) for _ in range(m)]).T
    amounts = rng.uniform(0, 0.015, (3, m))
    places[2, :100], amounts[2, :100] = n, 0.0  # the empty place
    fixed = np.zeros(n)
    loads = np.zeros((m, n + 1))
    np.put_along_axis(loads, places.T, amounts.T, axis=1)
    lab, slopes = mixture.lab_and_load_slopes(coefficients, loads[:, :n])
    slopes = np.concatenate([slopes, np.zeros((m, 3, 1))], axis=2)
    expected = np.take_along_axis(slopes, places.T[:, None, :], axis=2).transpose(1, 2, 0)

    found_lab, found = mixture.LoadSlopes(coefficients, precision).lab_and_slopes(places, amounts, fixed)
    np.testing.assert_allclose(found_lab, lab.T, atol=10 * tolerance)
    assert np.abs(found - expected).max() <= tolerance * np.abs(expected).max()


def test_fixed_loads_are_mixed_in(palette):
    coefficients = palette.coefficients("white-cement")
    n = len(palette.pigments)
    fixed = np.zeros(n)
    fixed[0] = 0.01
    lab, _ = mixture.LoadSlopes(coefficients, np.float64).lab_and_slopes(np.array([[4]]), np.array([[0.02]]), fixed)
    both = fixed.copy()
    both[4] = 0.02
    np.testing.assert_allclose(lab[:, 0], mixture.lab(coefficients, both[None])[0], atol=1e-10)
