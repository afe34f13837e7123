"""A wrong tile is named, with the slip that explains it, and costs the others little."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.colorimetry import lab_to_xyz, weights, xyz_to_lab
from tests.learning.trial import PHOTO_SD, SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, training_loads

WORLD = World(1, pigments=SIX)
PALETTE = palette_for(SIX)
MIXTURES = training_loads(SIX)
TILES = tiles_from(WORLD, MIXTURES, np.random.default_rng(1))


def with_wrong_one(place, lab):
    tiles = list(TILES)
    tiles[place] = cm.Tile(WHITE, MIXTURES[place], cm.Shade(lab, sd=PHOTO_SD))
    return tiles


def place_of(loads):
    return MIXTURES.index(loads)


def test_no_tile_of_a_good_season_is_suspected():
    assert cm.learn(PALETTE, TILES)[1].suspects == ()


@pytest.mark.parametrize("factor", [0.4, 2.0])
def test_a_weighing_slip_is_told_with_its_load(factor):
    loads = {"red-iron-oxide": 0.02}
    lab = WORLD.lab({"red-iron-oxide": 0.02 * factor})
    _, report = cm.learn(PALETTE, with_wrong_one(place_of(loads), lab))
    (one,) = report.suspects
    assert (one.place, one.kind) == (place_of(loads), "weighing")
    assert one.loads["red-iron-oxide"] == pytest.approx(0.02 * factor, rel=0.3)
    assert "Red iron oxide instead of 2 %" in one.reason


def test_half_a_dose_at_the_top_of_a_ladder_is_told():
    loads = {"ultramarine-blue": 0.05}
    _, report = cm.learn(PALETTE, with_wrong_one(place_of(loads), WORLD.lab({"ultramarine-blue": 0.025})))
    (one,) = report.suspects
    assert (one.place, one.kind) == (place_of(loads), "weighing")
    assert one.loads["ultramarine-blue"] == pytest.approx(0.025, rel=0.3)


def test_of_two_tiles_that_contradict_each_other_neither_is_believed_alone():
    """Half a dose in a tint looks like a double dose at the top of the ladder, where these two are all there is."""
    few = [place for place in range(len(MIXTURES)) if place == 0 or place % 3 == 0 or place > 19][:11]
    tint = next(place for place in few if set(MIXTURES[place]) == {"ultramarine-blue", "titanium-white"})
    halved = {**MIXTURES[tint], "ultramarine-blue": 0.01}
    tiles = with_wrong_one(tint, WORLD.lab(halved))
    learned, report = cm.learn(PALETTE, [tiles[place] for place in few])
    top = few.index(place_of({"ultramarine-blue": 0.05}))
    either = [report.tiles[at].inlier_probability for at in (top, few.index(tint))]
    assert sum(either) == pytest.approx(1.0, abs=0.05)
    assert all(0.1 < one < 0.9 for one in either)
    (said,) = (warning for warning in report.warnings if "but not which" in warning)
    assert tiles[tint].title in said
    loads = [learned.load_vector({"ultramarine-blue": 0.05})]
    surely = cm.learn(PALETTE, [TILES[place] for place in few])[0]
    unsure, sure = (one.predict_with_covariance(np.array(loads), base=WHITE)[1][0] for one in (learned, surely))
    assert np.trace(unsure) > 2 * np.trace(sure)


def test_a_wrong_label_is_told_with_the_right_pigment():
    loads = {"ultramarine-blue": 0.02}
    _, report = cm.learn(PALETTE, with_wrong_one(place_of(loads), WORLD.lab({"yellow-iron-oxide": 0.02})))
    (one,) = report.suspects
    assert (one.place, one.kind) == (place_of(loads), "label")
    assert one.loads == {"yellow-iron-oxide": 0.02}
    assert one.explained_delta_e < 2 < one.delta_e


def test_two_tiles_swapped_are_both_named():
    first, second = place_of({"yellow-iron-oxide": 0.02}), place_of({"chromium-oxide-green": 0.02})
    tiles = with_wrong_one(first, TILES[second].shade.lab)
    tiles[second] = cm.Tile(WHITE, MIXTURES[second], TILES[first].shade)
    _, report = cm.learn(PALETTE, tiles)
    assert [one.place for one in report.suspects] == [first, second]
    assert all("Yellow iron oxide" in one.reason and "Chromium" in one.reason for one in report.suspects)


def test_glare_is_told_apart_from_a_slip():
    loads = {"ultramarine-blue": 0.05}
    xyz = lab_to_xyz(WORLD.lab(loads))
    lab = xyz_to_lab(0.8 * xyz + 0.2 * weights("D65").sum(axis=0))
    _, report = cm.learn(PALETTE, with_wrong_one(place_of(loads), lab))
    (one,) = report.suspects
    assert one.place == place_of(loads)
    assert one.kind == "glare"


def test_a_shade_nothing_explains_is_said_to_be_so():
    _, report = cm.learn(PALETTE, with_wrong_one(place_of({"titanium-white": 0.02}), (60, 70, -60)))
    (one,) = report.suspects
    assert one.kind == "unknown"
    assert "again" in one.reason


def test_the_report_says_it_in_words():
    loads = {"red-iron-oxide": 0.02}
    _, report = cm.learn(PALETTE, with_wrong_one(place_of(loads), WORLD.lab({"black-iron-oxide": 0.05})))
    text = report.text()
    assert "24 tiles learned" in text
    assert "Doubtful, and left aside: 2 % red-iron-oxide on white-cement" in text
    assert "Black iron oxide" in text.split("Doubtful")[1].splitlines()[0]
    assert "foret" not in text
    for column in ("dE00:", "predicted:", "expected dE00:", "tiles:"):
        assert column in text
    for pigment in SIX:
        assert pigment in text
    assert report.tiles[place_of(loads)].inlier_probability < 0.01
    words = {one.pigment: one.words for one in report.trust}
    assert words["red-iron-oxide"] in ("sure", "good")
    assert words["carbon-black"] == "a guess"
    assert all(one.tiles == 0 or one.delta_e < 3 for one in report.trust)


def test_the_report_counts_what_the_tiles_show():
    _, report = cm.learn(PALETTE, TILES)
    measured = np.array([one.tile.shade.lab for one in report.tiles])
    fitted = np.array([one.fitted for one in report.tiles])
    np.testing.assert_allclose(report.delta_e, cm.delta_e_2000(measured, fitted))
    assert report.mean_delta_e == pytest.approx(report.delta_e.mean())
    assert 0.75 <= report.coverage <= 1.0
    assert all(one.left_out_delta_e > 0 for one in report.tiles)
