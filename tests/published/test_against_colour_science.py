"""colour-science as a reference: CIE tables, the 24 patches of ISO 17321-1, the example of ISO 18314-4."""

import warnings

import numpy as np
import pytest

from colormatch import colorimetry as cy
from colormatch.data import read_table
from colormatch.difference import delta_e_2000, metamerism_index
from colormatch.photo.chart import EDITIONS, chart_lab, edition_lab
from colormatch.spectra import WAVELENGTHS_NM

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

pytestmark = pytest.mark.published(
    source="colour-science: CIE tables, ISO 17321-1 patches, the ISO 18314-4 example",
    covers=[
        "delta_e_2000",
        "Chart24",
        "difference.metamerism_index",
        "colorimetry.weights",
        "colorimetry.reflectance_to_lab",
        "colorimetry.srgb_to_lab",
        "colorimetry.srgb_encode",
        "colorimetry.srgb_decode",
    ],
)

OBSERVER = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
LIGHTS = {
    "D65": colour.SDS_ILLUMINANTS["D65"],
    "A": colour.SDS_ILLUMINANTS["A"],
    "D50": colour.SDS_ILLUMINANTS["D50"],
    "F11": colour.SDS_ILLUMINANTS["FL11"],
    "LED-B3": colour.SDS_ILLUMINANTS["LED-B3"],
}
PATCHES = colour.SDS_COLOURCHECKERS["ISO 17321-1"]


def reference_xyz(reflectance, light):
    """Tristimulus values by colour-science at 1 nm, the spectrum held constant outside 400..700 nm."""
    shape = colour.SpectralShape(360, 780, 1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        spectrum = colour.SpectralDistribution(dict(zip(WAVELENGTHS_NM, reflectance, strict=True)))
        spectrum = spectrum.copy().align(
            shape,
            extrapolator_kwargs={"method": "Constant", "left": reflectance[0], "right": reflectance[-1]},
        )
        cmfs, power = OBSERVER.copy().align(shape), LIGHTS[light].copy().align(shape)
        return colour.sd_to_XYZ(spectrum, cmfs, power, method="Integration")


# Smooth lights: 0.02. Lamps with narrow peaks see how a spectrum is joined between its 10 nm points, where
# the spline of our weights and the reference's Sprague differ by up to 0.15: 0.2.
@pytest.mark.parametrize(
    ("light", "tolerance"), [("D65", 0.02), ("A", 0.02), ("D50", 0.02), ("F11", 0.2), ("LED-B3", 0.2)]
)
def test_the_weights_against_the_1_nm_sum(light, tolerance):
    patches = read_table("chart24.csv").numbers()
    for reflectance in patches:
        expected = cy.xyz_to_lab(reference_xyz(reflectance, light), light)
        assert np.linalg.norm(cy.reflectance_to_lab(reflectance, light) - expected) < tolerance


@pytest.mark.parametrize(("light", "x", "z"), [("D65", 95.046, 108.89), ("A", 109.85, 35.58), ("D50", 96.43, 82.51)])
def test_white_points(light, x, z):
    """Chromaticities of CIE 15; the four-digit rounding of x, y moves Z by up to 0.02."""
    assert cy.white_point(light) == pytest.approx([x, 100, z], abs=0.03)


def test_srgb_against_colour_science():
    rgb = np.random.default_rng(0).random((50, 3))
    expected = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(rgb), colour.CCS_ILLUMINANTS["cie_2_1931"]["D65"])
    assert np.linalg.norm(cy.srgb_to_lab(rgb) - expected, axis=-1).max() < 0.02


def test_the_curve_of_srgb_on_both_sides_of_its_seam():
    """IEC 61966-2-1: a line up to 0.0031308, a power above; near the seam the two differ in the sixth digit only."""
    linear = np.array([0.0, 0.0028, 0.0031, 0.0033, 0.0036, 0.18, 1.0])
    encoded = colour.models.eotf_inverse_sRGB(linear)
    assert cy.srgb_encode(linear) == pytest.approx(encoded, abs=1e-12)
    assert cy.srgb_decode(encoded) == pytest.approx(linear, abs=1e-12)


def test_difference_against_colour_science():
    rng = np.random.default_rng(1)
    one, two = (rng.random((500, 3)) * [100, 120, 120] - [0, 60, 60] for _ in range(2))
    np.testing.assert_allclose(delta_e_2000(one, two), colour.delta_E(one, two, method="CIE 2000"), atol=1e-10)


def test_the_chart_is_the_standards():
    table = read_table("chart24.csv")
    assert len(table.rows) == 24
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        spectra = [spectrum.copy().align(colour.SpectralShape(400, 700, 10)).values for spectrum in PATCHES.values()]
    np.testing.assert_allclose(table.numbers(), spectra, atol=1e-6)


@pytest.mark.parametrize("edition", EDITIONS)
def test_the_editions_of_the_chart_are_their_makers(edition):
    """Brought from D50 to D65 by Bradford's transform, as ICC profiles do."""
    named = f"24 - {edition[0].upper()}{edition[1:]}"
    published = next(each for name, each in colour.CCS_COLOURCHECKERS.items() if name.endswith(named))
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    xyz = colour.xyY_to_XYZ(list(published.data.values()))
    adapted = colour.chromatic_adaptation(
        xyz, colour.xy_to_XYZ(published.illuminant), colour.xy_to_XYZ(white), method="Von Kries", transform="Bradford"
    )
    np.testing.assert_allclose(edition_lab(edition), colour.XYZ_to_Lab(adapted, white), atol=6e-4)
    assert delta_e_2000(edition_lab(edition), chart_lab()).mean() < 1.4


@pytest.mark.parametrize(
    ("row", "lab"),
    [
        (0, (37.82, 15.47, 16.47)),
        (1, (66.73, 17.38, 18.18)),
        (12, (29.18, 17.03, -52.06)),
        (14, (42.56, 56.06, 28.46)),
        (18, (95.47, -0.19, 0.65)),
        (23, (21.40, -0.17, -0.95)),
    ],
)
def test_patches_of_iso_17321_under_d50(row, lab):
    """CIELAB, D50, 2 degree, of the standard's spectra; 0.1 for the 10 nm grid and the tail beyond 700 nm."""
    reflectance = read_table("chart24.csv").numbers()[row]
    assert cy.reflectance_to_lab(reflectance, "D50") == pytest.approx(lab, abs=0.1)


def test_dark_skin_under_d65():
    reflectance = read_table("chart24.csv").numbers()[0]
    assert cy.reflectance_to_xyz(reflectance) == pytest.approx([10.971, 9.703, 6.056], abs=0.02)


def test_metamerism_example():
    """ISO 18314-4, additive correction; inputs as in colour-science's docstring, dE00 2.46542."""
    index = metamerism_index(
        [39.0908, -21.3269, 22.6657],
        [38.17781, -17.4939, 21.0618],
        [38.83253, -19.8787, 20.0453],
        [37.9013, -19.56327, 16.9346],
    )
    assert index == pytest.approx(2.46542, abs=1e-4)


@pytest.mark.parametrize(("y", "lightness"), [(0.18, 49.4961), (0.20, 51.8372), (0.50, 76.0693), (0.008, 7.2264)])
def test_lightness_anchors(y, lightness):
    """CIE 15: L* = 116 (Y/Yn)^(1/3) - 16, and 903.3 Y/Yn in the dark."""
    assert cy.xyz_to_lab(y * cy.white_point())[0] == pytest.approx(lightness, abs=6e-5)
