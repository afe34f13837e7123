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
