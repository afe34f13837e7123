"""Drawn pieces: exact where they say so, shares by volume, lit like a photograph, the same every time."""

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.errors import InputError
from colormatch.render import piece_picture
from colormatch.render.forms import FORMS, inside_points, surface
from colormatch.render.piece import NOT_ON_SCREEN
from colormatch.render.solid import PATTERNS, share_of_second

CLAY, ASH = (52.0, 18.0, 20.0), (70.0, 1.0, 3.0)


def pixels(picture):
    return np.asarray(picture, dtype=float)


def reference_bytes(lab):
    """8-bit sRGB by another library, from CIELAB under D65."""
    d65 = np.array([0.3127, 0.3290])
    return np.clip(colour.XYZ_to_sRGB(colour.Lab_to_XYZ(lab, d65), d65), 0, 1) * 255


@pytest.mark.slow
@pytest.mark.published
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("state", ["dry", "wet", "sealed:wax"])
def test_marked_places_have_the_exact_colour(form, state):
    picture = piece_picture(form, "split", CLAY, ASH, state=state, size=400, seed=2)
    assert set(picture.info["spots"]) == {"one", "two"}
    for name, lab in (("one", CLAY), ("two", ASH)):
        x, y = picture.info["spots"][name]
        disc = pixels(picture)[y - 2 : y + 3, x - 2 : x + 3]
        assert np.abs(disc - reference_bytes(lab)).max() <= 1.5
    patches = pixels(picture)[-20, [20, 20 + 400 // 11]]
    assert np.abs(patches - [reference_bytes(CLAY), reference_bytes(ASH)]).max() <= 1.0


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_the_pattern_takes_its_share_of_the_volume(form, pattern, share):
    """Measured on other points than those the boundary was set by."""
    shape = FORMS[form]
    mix = share_of_second(shape, pattern, inside_points(shape, 20000, seed=99), share, seed=5)
    assert mix.mean() == pytest.approx(share, abs=0.03)


@settings(max_examples=25)
@given(
    st.sampled_from(sorted(FORMS)),
    st.tuples(st.floats(35, 75), st.floats(-12, 20), st.floats(-15, 30)),
)
def test_the_mid_tone_is_the_given_colour(form, lab):
    picture = piece_picture(form, "split", lab, size=200)
    seen = surface(FORMS[form], 200)
    middle = np.median(pixels(picture).reshape(-1, 3)[seen.pixels], axis=0) / 255
    got = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(middle), np.array([0.3127, 0.3290]))
    assert colour.delta_E(lab, got, method="CIE 2000") < 3.5


def test_same_arguments_same_pixels_other_seed_other_pattern():
    draw = [piece_picture("bowl", "swirled", CLAY, ASH, seed=seed, size=160) for seed in (7, 7, 8)]
    assert (pixels(draw[0]) == pixels(draw[1])).all()
    assert np.abs(pixels(draw[0]) - pixels(draw[2])).mean() > 1


def test_surround_is_the_neutral_grey_of_lightness_60():
    corner = pixels(piece_picture("cup", "split", CLAY, size=200))[2:8, 2:8]
    assert np.abs(corner - reference_bytes((60, 0, 0))).max() <= 1


def test_the_lamp_is_on_the_left_and_throws_a_shadow_to_the_right():
    picture = pixels(piece_picture("cup", "split", (60, 0, 0), size=300)).mean(axis=2)
    row = picture[190]
    assert row[90:110].mean() > 1.25 * row[190:205].mean()
    assert row[240:260].mean() < 0.9 * row[5:30].mean()


@pytest.mark.parametrize("form", FORMS)
def test_wet_and_sealed_shine_and_dry_does_not(form):
    dry, wet, sealed = (
        pixels(piece_picture(form, "split", (45, 15, 15), state=s, size=200)).max(axis=2)
        for s in ("dry", "wet", "sealed")
    )
    assert (wet >= dry - 1).mean() > 0.995
    assert np.percentile(wet - dry, 99) > 4
    assert np.percentile(sealed - dry, 99) > 4


def test_edges_are_smoothed():
    """Down the lit side of a pale cup the outline slants: pixels of every mix between it and the surround."""
    picture = pixels(piece_picture("cup", "split", (80, 0, 0), size=300)).mean(axis=2)
    rows = picture[100:200, 60:110]
    inside, outside = rows[:, -1], rows[:, 0]
    share = ((rows - outside[:, None]) / (inside - outside)[:, None]).ravel()
    between = share[(share > 0.1) & (share < 0.8)]
    assert 50 <= len(between) <= 300  # one to three pixels a row
    assert np.histogram(between, bins=4)[0].min() >= 5


def test_a_colour_no_screen_has_is_said_in_words():
    vivid, plain = (piece_picture("tile", "split", lab, size=300) for lab in ((55, 85, 70), CLAY))
    assert vivid.info["note"] == NOT_ON_SCREEN
    assert plain.info["note"] == ""
    below = np.s_[280:296, 45:290]
    assert pixels(vivid)[below].min() < 60 < 120 < pixels(plain)[below].min()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"form": "vase"}, "no form called 'vase'"),
        ({"pattern": "striped"}, "no pattern called 'striped'"),
        ({"state": "damp"}, "no state called 'damp'"),
        ({"size": 5000}, "80 to 2000"),
        ({"share_two": 1.2}, "share"),
        ({"seed": -1}, "seed"),
        ({"lab_one": (50, float("nan"), 0)}, "must be finite numbers"),
    ],
)
def test_nonsense_is_refused_in_words(change, words):
    arguments = {"form": "cup", "pattern": "split", "lab_one": CLAY, "lab_two": ASH, **change}
    with pytest.raises(InputError, match=words):
        piece_picture(**arguments)
