"""Laws of the Kubelka-Munk module: limits, round trips, monotonicity."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import InputError
from colormatch.kubelka_munk import (
    ks_from_reflectance,
    layer_reflectance,
    layer_transmittance,
    mix,
    reflectance_from_ks,
)


@given(st.floats(1e-6, 1.0))
def test_the_two_directions_invert_each_other(r):
    assert reflectance_from_ks(ks_from_reflectance(r)) == pytest.approx(r, rel=1e-9)


@given(st.floats(0, 1e6), st.floats(0, 1e6))
def test_more_absorption_is_never_lighter(q1, q2):
    low, high = sorted([q1, q2])
    assert reflectance_from_ks(high) <= reflectance_from_ks(low)


def test_no_absorption_reflects_all():
    assert reflectance_from_ks(0.0) == 1.0


@pytest.mark.parametrize("q", [-1e-9, np.nan, -3.0])
def test_a_negative_or_missing_ratio_is_refused(q):
    with pytest.raises(InputError, match="it must be 0 or more"):
        reflectance_from_ks([1.0, q])


@pytest.mark.parametrize("r", [0.0, -0.1, 1.1, np.nan])
def test_an_impossible_reflectance_is_refused(r):
    with pytest.raises(InputError, match="more than 0"):
        ks_from_reflectance(r)


@given(st.floats(0, 5), st.floats(0.05, 5), st.floats(0, 0.95))
def test_a_thin_layer_shows_the_background_and_a_thick_one_hides_it(k, s, rg):
    assert layer_reflectance(k, s, 1e-9, rg) == pytest.approx(rg, abs=1e-6)
    thick = layer_reflectance(k + 0.01, s, 1e4, rg)
    assert thick == pytest.approx(float(reflectance_from_ks((k + 0.01) / s)), abs=1e-6)


@given(st.floats(0.01, 5), st.floats(0.01, 5))
def test_a_layer_without_absorption_loses_nothing(s, x):
    assert layer_reflectance(0, s, x, 0) + layer_transmittance(0, s, x) == pytest.approx(1, abs=1e-9)


@given(st.floats(0.01, 2), st.floats(0.01, 2), st.floats(0.1, 3))
def test_thickness_and_scattering_count_by_their_product(k, s, x):
    whole, unit = layer_transmittance(k, s, x), layer_transmittance(k * x, s * x, 1)
    assert whole == pytest.approx(float(unit), rel=1e-9)


def test_absorption_near_zero_joins_the_limit_smoothly():
    exact = layer_reflectance(0, 1, 2, 0.3)
    assert layer_reflectance(1e-13, 1, 2, 0.3) == pytest.approx(float(exact), abs=1e-6)


def test_a_layer_without_scattering_is_refused():
    with pytest.raises(InputError, match="S > 0"):
        layer_reflectance(1, 0, 1, 0)


def test_mixing_is_linear_and_free_of_order():
    k = np.array([[1.0, 2.0], [3.0, 5.0], [0.5, 0.1]])
    c = np.array([0.2, 0.3, 0.5])
    order = [2, 0, 1]
    np.testing.assert_allclose(mix(c, k), mix(c[order], k[order]))
    np.testing.assert_allclose(mix([1, 0, 0], k), k[0])
