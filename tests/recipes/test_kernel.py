"""The slopes of many small mixes, in either precision, against those of whole ones."""

import numpy as np
import pytest

from colormatch import mixture


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
