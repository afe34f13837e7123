"""colour-science at run time: quiet, late, and right: lamps, inconstancy, notation, colour vision."""

import subprocess
import sys

import numpy as np
import pytest

import colormatch as cm
from colormatch.colorimetry import reflectance_to_lab, reflectance_to_xyz, white_point
from colormatch.data import read_table
from colormatch.difference import delta_e_2000
from colormatch.errors import InputError, UnknownNameError
from colormatch.lamps import PLAIN_NAMES, Lamp, lamp
from colormatch.science import colour_science, munsell, seen_with, two_to_every_eye

# Munsell notations of the 24 chart patches: McCamy, Marcus & Davidson, J. Appl. Photogr. Eng. 2(3) (1976) 95-99,
# from memory.
CHART = (
    "3YR 3.7/3.2", "2.2YR 6.47/4.1", "4.3PB 4.95/5.5", "6.7GY 4.2/4.1", "9.7PB 5.47/6.7", "2.5BG 7/6",
    "5YR 6/11", "7.5PB 4/10.7", "2.5R 5/10", "5P 3/7", "5GY 7.1/9.1", "10YR 7/10.5",
    "7.5PB 2.9/12.7", "0.25G 5.4/8.65", "5R 4/12", "5Y 8/11.1", "2.5RP 5/12", "5B 5/8",
    "N9.5", "N8", "N6.5", "N5", "N3.5", "N2",
)  # fmt: skip
HUES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
MIXES = (
    {"red-iron-oxide": 0.02}, {"cobalt-blue": 0.02, "titanium-white": 0.02}, {"ultramarine-blue": 0.03},
    {"chromium-oxide-green": 0.02}, {"yellow-iron-oxide": 0.03, "black-iron-oxide": 0.004},
)  # fmt: skip


def steps(notation):
    """Hue in steps of 1..100 (None for a neutral), value, chroma."""
    if notation.startswith("N"):
        return None, float(notation[1:].rstrip("/")), 0.0
    hue, rest = notation.split(" ")
    value, chroma = rest.split("/")
    letters = hue.lstrip("0123456789.")
    return HUES.index(letters) * 10 + float(hue[: -len(letters)]), float(value), float(chroma)


@pytest.mark.slow
@pytest.mark.published(
    source="McCamy, Marcus & Davidson, J. Appl. Photogr. Eng. 2 (1976) 95: Munsell notation of 24 patches, from memory",
    covers=["munsell"],
)
def test_munsell_of_the_chart():
    patches = read_table("chart24.csv").numbers()
    for reflectance, published in zip(patches, CHART, strict=True):
        hue, value, chroma = steps(munsell(reflectance_to_lab(reflectance)))
        wanted_hue, wanted_value, wanted_chroma = steps(published)
        assert value == pytest.approx(wanted_value, abs=0.3), published
        assert chroma == pytest.approx(wanted_chroma, abs=1.0), published
        if wanted_hue is not None:
            assert abs((hue - wanted_hue + 50) % 100 - 50) <= 2.5, published


@pytest.mark.parametrize("lab", [(0.2, 0, 0), (99.5, 0, 0), (60, 100, -90)])
def test_no_notation_outside_the_renotation(lab):
    assert munsell(lab) is None


@pytest.mark.parametrize("light", ["A", "LED-B3", "D50"])
def test_inconstancy_against_colour_science_by_hand(light):
    colour, one = colour_science(), lamp(light)
    palette = cm.starter_palette()
    for loads in MIXES:
        body = palette.reflectance(loads, "white-cement")
        there = reflectance_to_xyz(body, light)
        adapted = colour.adaptation.chromatic_adaptation_VonKries(
            there, white_point(light), white_point(), transform="CAT16"
        )
        white = colour.XYZ_to_xy(white_point())
        labs = [colour.XYZ_to_Lab(xyz / 100, white) for xyz in (reflectance_to_xyz(body), adapted)]
        by_hand = colour.delta_E(labs[0], labs[1], method="CIE 2000")
        assert float(one.inconstancy(body)) == pytest.approx(float(by_hand), abs=1e-6)


@pytest.mark.parametrize(("light", "tolerance"), [("A", 0.02), ("D65", 0.02), ("FL11", 0.2), ("LED-B1", 0.05)])
def test_a_lamps_weights_against_colour_sciences_own_sum(light, tolerance):
    """Smooth lights 0.02; narrow peaks see how a spectrum is joined between its 10 nm points."""
    colour = colour_science()
    power = colour.SDS_ILLUMINANTS[light]
    own = lamp((power.wavelengths, power.values))
    palette, shape = cm.starter_palette(), colour.SpectralShape(360, 780, 1)
    for loads in MIXES:
        spectrum = palette.spectrum(loads, "white-cement")
        fine = spectrum.copy().align(shape)
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
        xyz = colour.sd_to_XYZ(fine, observer, power.copy().align(shape), method="Integration")
        white = colour.XYZ_to_xy(own.white)
        lab = colour.XYZ_to_Lab(xyz / 100, white)
        assert np.linalg.norm(own.lab(spectrum.values) - lab) < tolerance


def test_shipped_and_built_weights_are_the_same():
    colour = colour_science()
    built = lamp(colour.SDS_ILLUMINANTS["A"])
    np.testing.assert_allclose(built.white, lamp("bulb").white, atol=0.05)
    assert lamp("bulb").name == "A"
    assert lamp(built) is built


def test_every_plain_name_is_a_lamp_and_others_are_refused_in_a_sentence():
    assert all(isinstance(lamp(name), Lamp) for name in PLAIN_NAMES)
    with pytest.raises(UnknownNameError, match="no lamp called 'moon'"):
        lamp("moon")
    with pytest.raises(InputError, match=r"must cover 400 to 700 nm"):
        lamp(([450, 600], [1, 1]))
    with pytest.raises(InputError, match=r"must increase"):
        lamp(([450, 400], [1, 1]))
    with pytest.raises(InputError, match=r"give a name"):
        lamp(7)


def test_recipes_are_held_against_the_lights_asked_for():
    palette, target = cm.starter_palette(), cm.Shade((60, 8, 18))
    for recipe in cm.find_recipes(palette, target, lights=["bulb", "living room"]):
        body = palette.reflectance(recipe.loads, "white-cement")
        by_hand = max(float(lamp(name).inconstancy(body)) for name in ("bulb", "living room"))
        assert recipe.inconstancy == pytest.approx(by_hand)
        assert recipe.metamerism is None
    spectrum = palette.spectrum({"red-iron-oxide": 0.01, "yellow-iron-oxide": 0.01}, "white-cement")
    measured = palette.predict({"red-iron-oxide": 0.01, "yellow-iron-oxide": 0.01}, "white-cement")
    assert min(r.metamerism for r in cm.find_recipes(palette, measured, spectrum=spectrum)) < 0.2


def test_colour_vision():
    red, green = (50.0, 45, 30), (50.0, -35, 30)
    seen = seen_with(red, green)
    assert seen["deuteranopia"] < 0.5 * delta_e_2000(red, green)
    light, dark = (75.0, 5, 10), (35.0, 5, 10)
    assert min(seen_with(light, dark).values()) > 20
    assert "also with" in two_to_every_eye(light, dark)
    assert "pass for one at arm" in two_to_every_eye(light, light)
    assert "deuteranopia" in two_to_every_eye((55, 14, 20), (55, 2, 23))


def test_complete_deficiency_is_machados_matrix():
    """Machado et al. (2009), table of matrices, deuteranopia of severity 1, first row."""
    colour = colour_science()
    first = colour.matrix_cvd_Machado2009("Deuteranomaly", 1.0)[0]
    np.testing.assert_allclose(first, [0.367322, 0.860646, -0.227968], atol=1e-6)


@pytest.mark.slow
def test_it_is_imported_late_and_quietly():
    code = (
        "import sys, colormatch as cm; cm.find_recipes(cm.starter_palette(), cm.Shade((60, 8, 18)));"
        "assert 'colour' not in sys.modules;"
        "from colormatch.science import warm; warm().join(); assert 'colour' in sys.modules"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout + run.stderr == ""
