"""Diffuse boundaries and films: Walsh 1926 / Duntley 1942, Lekner & Dorf 1988, Saunderson 1942, Angstrom 1925."""

import numpy as np
import pytest
from scipy.integrate import quad

from colormatch.surface import (
    external_diffuse_reflectance,
    film,
    internal_diffuse_reflectance,
    normal_reflectance,
    saunderson,
    saunderson_inverse,
)

pytestmark = pytest.mark.published(
    source="Walsh 1926 / Duntley 1942; Lekner & Dorf 1988; Saunderson 1942; Angstrom 1925",
    covers=[
        "surface.external_diffuse_reflectance",
        "surface.internal_diffuse_reflectance",
        "surface.saunderson",
        "surface.film",
    ],
)

# n, R(0 degrees), r_e, r_i: quadrature and two published closed forms agree in all five places.
INDICES = [
    (1.30, 0.01701, 0.06113, 0.44446),
    (1.333, 0.02037, 0.06641, 0.47459),
    (1.40, 0.02778, 0.07681, 0.52899),
    (1.50, 0.04000, 0.09178, 0.59635),
    (1.60, 0.05325, 0.10625, 0.65088),
    (2.00, 0.11111, 0.16060, 0.79015),
]


@pytest.mark.parametrize(("n", "r0", "r_e", "r_i"), INDICES)
def test_boundaries_at_six_indices(n, r0, r_e, r_i):
    assert normal_reflectance(n) == pytest.approx(r0, abs=6e-6)
    assert external_diffuse_reflectance(n) == pytest.approx(r_e, abs=6e-6)
    assert internal_diffuse_reflectance(n) == pytest.approx(r_i, abs=6e-6)


def fresnel(cosine, n):
    """Unpolarised Fresnel reflectance from the side of index 1 into index n (textbook form)."""
    sine_inside = np.sqrt(1 - cosine**2) / n
    if sine_inside >= 1:
        return 1.0
    inside = np.sqrt(1 - sine_inside**2)
    s = (cosine - n * inside) / (cosine + n * inside)
    p = (n * cosine - inside) / (n * cosine + inside)
    return (s * s + p * p) / 2


@pytest.mark.parametrize("n", [1.1, 1.333, 1.5, 1.75, 2.0])
def test_closed_forms_equal_the_integral(n):
    outside, _ = quad(lambda mu: 2 * mu * fresnel(mu, n), 0, 1, epsabs=1e-11)
    critical = np.sqrt(1 - 1 / n**2)
    inside, _ = quad(lambda mu: 2 * mu * fresnel(mu, 1 / n), 0, 1, points=[critical], epsabs=1e-11, limit=200)
    assert external_diffuse_reflectance(n) == pytest.approx(outside, abs=1e-8)
    assert internal_diffuse_reflectance(n) == pytest.approx(inside, abs=1e-8)


@pytest.mark.parametrize(
    ("k1", "k2", "r", "included", "excluded"),
    [
        (0.04, 0.596, 0.1, 0.08124, 0.04124),
        (0.04, 0.596, 0.5, 0.31624, 0.27624),
        (0.04, 0.6, 0.5, 0.31429, 0.27429),
    ],
)
def test_saunderson(k1, k2, r, included, excluded):
    assert saunderson(r, k1, k2) == pytest.approx(included, abs=6e-6)
    assert saunderson(r, k1, k2, specular_included=False) == pytest.approx(excluded, abs=6e-6)


@pytest.mark.parametrize(("measured", "inner"), [(0.05, 0.02539), (0.3, 0.479), (0.5, 0.69486), (0.8, 0.90390)])
def test_saunderson_inverse(measured, inner):
    assert saunderson_inverse(measured, 0.04, 0.596) == pytest.approx(inner, abs=6e-6)


# Lekner & Dorf 1988, first extension, n = 1.333; the mirror term R_l = 0.02037 is left out by `film`,
# because a camera off the specular angle does not see it.
LEKNER_DORF = [(0.1, 0.07441), (0.2, 0.13411), (0.3, 0.20042), (0.5, 0.35779), (0.7, 0.55991), (0.8, 0.68416)]


@pytest.mark.parametrize(("dry", "wet"), LEKNER_DORF)
def test_water_film(dry, wet):
    assert film(dry, 1.333) + normal_reflectance(1.333) == pytest.approx(wet, abs=1.1e-5)


@pytest.mark.parametrize(("dry", "sealed"), [(0.1, 0.04121), (0.3, 0.14158), (0.5, 0.27607), (0.8, 0.59283)])
def test_sealer_film(dry, sealed):
    assert film(dry, 1.5) == pytest.approx(sealed, abs=1.1e-5)


@pytest.mark.parametrize(("dry", "wet"), [(0.2, 0.12334), (0.3, 0.19432), (0.5, 0.36012), (0.7, 0.56769)])
def test_the_film_darkens_more_than_angstroms_simpler_form(dry, wet):
    """Angstrom 1925 with p = 1 - 1/n^2: A/(n^2 (1 - A) + A); his values bound ours from above."""
    n2 = 1.333**2
    assert dry / (n2 * (1 - dry) + dry) == pytest.approx(wet, abs=6e-6)
    assert wet - 0.05 < film(dry, 1.333) < wet
