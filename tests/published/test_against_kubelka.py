"""Kubelka & Munk 1931 (opaque body), Kubelka 1948 (layers), Walowit et al. 1987 (the ladder).

The exact forms follow from the law; the layer values were computed from Kubelka's printed hyperbolic
solution with numpy in extended steps, independently of this package.
"""

import numpy as np
import pytest

from colormatch.kubelka_munk import (
    ks_from_reflectance,
    layer_reflectance,
    layer_transmittance,
    mix,
    reflectance_from_ks,
)

pytestmark = pytest.mark.published(
    source="Kubelka & Munk 1931; Kubelka 1948; Duncan 1940; Walowit et al. 1987 (form of the least squares)",
    covers=[
        "kubelka_munk.reflectance_from_ks",
        "kubelka_munk.layer_reflectance",
        "kubelka_munk.layer_transmittance",
        "kubelka_munk.mix",
    ],
)


@pytest.mark.parametrize(
    ("q", "r"),
    [(1, 2 - np.sqrt(3)), (0.5, (3 - np.sqrt(5)) / 2), (2, 3 - 2 * np.sqrt(2)), (0.25, 0.5), (0, 1)],
)
def test_exact_forms(q, r):
    assert reflectance_from_ks(q) == pytest.approx(r, abs=1e-14)
    assert ks_from_reflectance(r) == pytest.approx(q, abs=1e-14)


REFLECTANCE = [0.02, 0.05, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.95]
RATIO = [24.01, 9.025, 4.05, 1.6, 0.81667, 0.45, 0.25, 0.13333, 0.06429, 0.025, 0.00556, 0.00132]


def test_table_of_ratios():
    np.testing.assert_allclose(ks_from_reflectance(REFLECTANCE), RATIO, atol=5e-6)


@pytest.mark.parametrize(
    ("k", "s", "x", "rg", "expected"),
    [
        (0.1, 1, 1, 0, 0.461033623),
        (0.1, 1, 1, 0.8, 0.712347287),
        (0.1, 1, 50, 0.8, 0.641742431),
        (0.5, 2, 0.7, 0.25, 0.473292115),
        (0, 1, 2, 0.3, 17 / 24),
    ],
)
def test_layers(k, s, x, rg, expected):
    assert layer_reflectance(k, s, x, rg) == pytest.approx(expected, abs=1e-9)


def test_transmittance_of_a_layer():
    assert layer_transmittance(0.1, 1, 1) == pytest.approx(0.445284213, abs=1e-9)


def test_two_constant_mixture():
    parts = [0.97, 0.03]
    k, s = mix(parts, [[0.001], [2.0]])[0], mix(parts, [[1.0], [0.3]])[0]
    assert (k, s) == pytest.approx((0.06097, 0.979))
    assert reflectance_from_ks(k / s) == pytest.approx(0.7039006621, abs=1e-10)


def test_the_ladder_gives_back_its_constants():
    """sum c_i K_i - Q sum c_i S_i = Q c_w S_w, least squares over a ladder with its masstone."""
    c = np.array([0, 0.01, 0.02, 0.05, 0.1, 0.3, 1])
    k, s = 0.02 * (1 - c) + 3 * c, (1 - c) + 0.4 * c
    r = reflectance_from_ks(k / s)
    np.testing.assert_allclose(r, [0.819002, 0.729615, 0.671147, 0.558753, 0.448893, 0.251390, 0.059028], atol=5e-7)
    q = ks_from_reflectance(r)
    rows = np.stack([1 - c, c, -q * c], axis=1)
    found, *_ = np.linalg.lstsq(rows, q * (1 - c), rcond=None)
    np.testing.assert_allclose(found, [0.02, 3.0, 0.4], atol=1e-9)
