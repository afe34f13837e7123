"""Exact multiple scattering in the simulated studio, against published values and simulated photons."""

import numpy as np
import pytest

from tests.worlds.transfer import (
    diffuse_reflectance,
    h_function,
    normal_reflectance,
    quadrature,
    similarity,
    similarity_from_normal_reflectance,
)


@pytest.mark.published
def test_h_function_is_chandrasekhars_table():
    """S. Chandrasekhar, Radiative Transfer (1950), table XI, conservative, isotropic (from memory)."""
    published = [1.0000, 1.2474, 1.4503, 1.6425, 1.8293, 2.0128, 2.1941, 2.3740, 2.5527, 2.7306, 2.9078]
    found = h_function(0.0, np.arange(0.0, 1.05, 0.1))[0]
    np.testing.assert_allclose(found, published, atol=1.5e-4)


@pytest.mark.published
def test_moments_of_h_are_the_exact_ones():
    """alpha_0 = 2 (1 - s) / w, alpha_1 = 2 / sqrt 3, alpha_2 / alpha_1 = Hopf's 0.710446 (Chandrasekhar)."""
    nodes, weights = quadrature()
    s = np.array([0.0, 0.1, 0.5, 0.9])
    h = h_function(s, nodes)
    np.testing.assert_allclose(h @ weights, 2 * (1 - s) / (1 - s**2), rtol=1e-10)
    first, second = h[0] @ (weights * nodes), h[0] @ (weights * nodes**2)
    assert first == pytest.approx(2 / np.sqrt(3), abs=1e-9)
    assert second / first == pytest.approx(0.710446, abs=1e-6)


@pytest.mark.published
def test_diffuse_reflectance_is_van_de_hulsts():
    """(1 - s)(1 - 0.139 s) / (1 + 1.17 s), van de Hulst, Multiple Light Scattering (1980) (from memory)."""
    s = np.linspace(0, 1, 51)
    fit = (1 - s) * (1 - 0.139 * s) / (1 + 1.17 * s)
    np.testing.assert_allclose(diffuse_reflectance(s), fit, atol=2.5e-3)


def photons_reflected(albedo, asymmetry, count, rng):
    """Share of photons, sent in diffusely, that leave a half-space; Henyey-Greenstein scattering."""
    depth, cosine = np.zeros(count), np.sqrt(rng.uniform(size=count))
    weight, reflected = np.ones(count), 0.0
    while weight.size:
        depth = depth - np.log(rng.uniform(size=depth.size)) * cosine
        out = depth < 0
        reflected += weight[out].sum()
        depth, cosine, weight = depth[~out], cosine[~out], weight[~out] * albedo
        keep = weight > 1e-4
        depth, cosine, weight = depth[keep], cosine[keep], weight[keep]
        u, g = rng.uniform(size=depth.size), asymmetry
        turn = 2 * u - 1 if g == 0 else (1 + g * g - ((1 - g * g) / (1 - g + 2 * g * u)) ** 2) / (2 * g)
        azimuth = np.cos(2 * np.pi * rng.uniform(size=depth.size))
        cosine = cosine * turn + np.sqrt(np.maximum((1 - cosine**2) * (1 - turn**2), 0)) * azimuth
    return reflected / count


@pytest.mark.parametrize(("albedo", "asymmetry"), [(0.5, 0.0), (0.9, 0.0), (0.9, 0.5), (0.98, 0.8)])
def test_diffuse_reflectance_is_what_photons_do(albedo, asymmetry):
    """An independent Monte Carlo (noise about 0.002), isotropic and, by similarity, forward scattering."""
    simulated = photons_reflected(albedo, asymmetry, 40_000, np.random.default_rng(5))
    expected = diffuse_reflectance(similarity(1 - albedo, albedo * (1 - asymmetry)))
    assert simulated == pytest.approx(float(expected), abs=0.008)


@pytest.mark.parametrize("reflectance", [normal_reflectance, diffuse_reflectance])
def test_limits_and_order(reflectance):
    assert reflectance(0.0) == pytest.approx(1.0, abs=1e-9)
    assert reflectance(1.0) == pytest.approx(0.0, abs=1e-9)
    assert np.all(np.diff(reflectance(np.linspace(0, 1, 1001))) < 0)


def test_inverse_returns_the_similarity():
    s = np.linspace(0.001, 0.99, 200)
    np.testing.assert_allclose(similarity_from_normal_reflectance(normal_reflectance(s)), s, atol=1e-5)
