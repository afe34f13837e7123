"""Round trips, neutral points and derivatives of the colour conversions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch import colorimetry as cy
from colormatch.errors import InputError, UnknownNameError

labs = st.tuples(st.floats(1, 100), st.floats(-60, 60), st.floats(-60, 60)).map(np.array)


@given(labs)
def test_lab_and_xyz_invert(lab):
    np.testing.assert_allclose(cy.xyz_to_lab(cy.lab_to_xyz(lab)), lab, atol=1e-9)


@given(st.tuples(*[st.floats(0, 1)] * 3).map(np.array))
def test_srgb_and_lab_invert(rgb):
    np.testing.assert_allclose(cy.lab_to_srgb(cy.srgb_to_lab(rgb)), rgb, atol=1e-4)


@pytest.mark.parametrize("illuminant", cy.ILLUMINANTS)
def test_the_perfect_reflector_is_white_under_every_light(illuminant):
    np.testing.assert_allclose(cy.reflectance_to_lab(np.ones(31), illuminant), [100, 0, 0], atol=1e-6)


@pytest.mark.parametrize("illuminant", cy.ILLUMINANTS)
def test_a_flat_reflector_is_grey_under_every_light(illuminant):
    lab = cy.reflectance_to_lab(np.full(31, 0.18), illuminant)
    np.testing.assert_allclose(lab, [49.4961, 0, 0], atol=1e-3)


def test_equal_rgb_is_neutral():
    grey = cy.srgb_to_lab(np.full((5, 3), np.linspace(0.05, 1, 5)[:, None]))
    np.testing.assert_allclose(grey[:, 1:], 0, atol=1e-6)


@given(labs)
def test_the_jacobian_is_the_derivative(lab):
    xyz, step = cy.lab_to_xyz(lab), 1e-5
    ahead, behind = (cy.xyz_to_lab(xyz + sign * step * np.eye(3)) for sign in (1, -1))
    np.testing.assert_allclose(cy.lab_jacobian(xyz), ((ahead - behind) / (2 * step)).T, rtol=1e-4, atol=1e-4)


def test_hex_there_and_back():
    assert cy.lab_to_hex(cy.hex_to_lab("#b0603a")) == "#b0603a"
    assert cy.lab_to_hex(cy.hex_to_lab("B0603A")) == "#b0603a"


@pytest.mark.parametrize("text", ["", "#12", "red", "#gggggg", "#1234567", "#-1-1-1"])
def test_a_bad_hex_is_refused(text):
    with pytest.raises(InputError, match="screen colour"):
        cy.hex_to_lab(text)


def test_an_unknown_illuminant_is_answered_with_the_known_ones():
    with pytest.raises(UnknownNameError, match="LED-B3"):
        cy.weights("candle")


def test_a_colour_no_screen_shows_is_known_as_such():
    assert not cy.in_srgb_gamut([50, 0, -90])
    assert cy.in_srgb_gamut([50, 10, 10])


def test_hue_angle_runs_from_0_to_360():
    np.testing.assert_allclose(cy.lab_to_lch([50, 0, -10]), [50, 10, 270])
