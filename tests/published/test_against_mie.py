"""Mie theory behind the starter pigments, against Wiscombe's published test cases and two handbook facts."""

import miepython
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.colorimetry import reflectance_to_lab
from colormatch.data import read_records
from colormatch.kubelka_munk import reflectance_from_ks
from tests.worlds.powder import WAVELENGTHS_UM, ks_of, lognormal_powder, mineral, spheres

pytestmark = pytest.mark.published(
    source="MIEV0 (Wiscombe 1979) and BHMIE cases; Thennadil 2008",
    covers=[
        "starter_palette",
    ],
)


@pytest.mark.parametrize(
    ("index", "size", "scattering", "asymmetry"),
    [
        # W. J. Wiscombe, Mie scattering calculations, NCAR/TN-140+STR (1979), test cases of MIEV0
        (1.33 - 1e-5j, 1.0, 0.093923, 0.184517),
        (1.33 - 1e-5j, 100.0, 2.096594, 0.868959),
        (1.33 - 1e-5j, 10000.0, 1.723857, 0.907840),
        (1.5 + 0j, 10.0, 2.88200, 0.742913),
        (10 - 10j, 1.0, 2.049405, -0.110664),
        # Bohren & Huffman, Absorption and Scattering of Light by Small Particles (1983), appendix A
        (1.55 + 0j, 2 * np.pi * 0.525 / 0.6328, 3.10543, 0.63314),
    ],
)
def test_efficiencies_are_the_published_ones(index, size, scattering, asymmetry):
    _, q_sca, _, g = miepython.efficiencies_mx(index, size)
    assert q_sca == pytest.approx(scattering, abs=5e-6)
    assert g == pytest.approx(asymmetry, abs=5e-6)


def test_our_coefficients_are_the_efficiencies_per_volume():
    """mu = 1.5 Q / D per volume fraction, in a medium: x = pi D n / lambda, m = n_particle / n_medium."""
    size, wavelength, medium = 2 * np.pi * 0.525 / 0.6328, WAVELENGTHS_UM[15], 1.5
    diameter = size * wavelength / (np.pi * medium)  # so that the sphere of appendix A comes out at 550 nm
    found = spheres(np.full(31, 1.55 * medium + 0j), diameter, medium)
    assert found.scattering[15] == pytest.approx(1.5 / diameter * 3.10543, rel=5e-6)
    assert found.reduced_scattering[15] == pytest.approx(1.5 / diameter * 3.10543 * (1 - 0.63314), rel=2e-5)
    assert np.all(found.absorption < 1e-9 * found.scattering)


@pytest.mark.parametrize(("wavelength_nm", "optimum_um"), [(450, 0.15), (550, 0.20), (650, 0.25)])
def test_rutile_scatters_most_at_the_handbook_size(wavelength_nm, optimum_um):
    """Best diameter of titanium white in n = 1.55: 0.2 um at 550 nm; handbooks say 0.2..0.3 um (from memory).

    The values by wavelength were computed elsewhere from DeVore's (2 n_o + n_e) / 3 on a 0.05 um grid.
    """
    band = round((wavelength_nm - 400) / 10)
    diameters = np.arange(0.10, 0.45, 0.01)
    index = sum(weight * ray for weight, ray in mineral("rutile"))
    reduced = [spheres(index, d, 1.55).reduced_scattering[band] for d in diameters]
    assert diameters[np.argmax(reduced)] == pytest.approx(optimum_um, abs=0.025)


def test_rutile_scattering_is_the_independent_value():
    """mu_s' of 0.20 um rutile in 1.55 at 550 nm: 11.57 per um and unit volume (computed independently)."""
    index = sum(weight * ray for weight, ray in mineral("rutile"))
    assert spheres(index, 0.20, 1.55).reduced_scattering[15] == pytest.approx(11.57, abs=0.02)


@pytest.mark.slow
def test_hematite_turns_from_yellowish_to_bluish_red_as_it_coarsens():
    """Buxbaum & Pfaff, Industrial Inorganic Pigments (from memory): yellowish at 0.1 um, violet at 0.7 um."""
    white = np.array(read_records("starter_bases.toml")["white-cement"]["k"])
    hues = []
    for diameter in (0.1, 0.2, 0.3, 0.4, 0.5, 0.7):
        k, s = ks_of(lognormal_powder(mineral("hematite"), median_um=diameter, spread=1.3, medium=1.55))
        load = 0.012 / 0.04  # 1.2 % by volume in a paste whose S is 0.04 per um
        lab = reflectance_to_lab(reflectance_from_ks((white + load * k) / (1 + load * s)))
        hues.append(np.degrees(np.arctan2(lab[2], lab[1])))
    assert np.all(np.diff(hues) < 0)
    assert hues[0] - hues[-1] > 40


@pytest.mark.slow
@given(
    n=st.floats(1.2, 3.5),
    k=st.floats(0.0, 2.0),
    diameter=st.floats(0.02, 3.0),
    medium=st.floats(1.0, 1.6),
)
def test_scattering_of_a_dark_grain_is_never_negative(n, k, diameter, medium):
    """Gate's form (Thennadil 2008) keeps S >= 0 whatever the absorption."""
    absorption, scattering = ks_of(spheres(np.full(31, n - 1j * k), diameter, medium))
    assert np.all(scattering >= 0)
    assert np.all(absorption >= 0)


def test_the_other_published_form_would_go_negative():
    """S = 3/4 mu_s' - 1/4 mu_a (Mudgett & Richards 1971) fails for fine carbon: why Gate's form is used."""
    carbon = lognormal_powder(mineral("carbon"), median_um=0.05, spread=1.4, medium=1.55)
    assert np.all(0.75 * carbon.reduced_scattering - 0.25 * carbon.absorption < 0)
    assert np.all(ks_of(carbon)[1] > 0)
