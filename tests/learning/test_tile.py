"""What counts as a tile, and what is refused at once."""

import copy
import pickle

import numpy as np
import pytest

import colormatch as cm
from colormatch.colorimetry import reflectance_to_lab
from colormatch.errors import ColormatchError, InputError, LoadError
from colormatch.learning import describe

SHADE = cm.Shade((60, 10, 5), sd=0.7)


@pytest.mark.parametrize("load", [-0.01, np.nan, np.inf, 2.0, 0.11, "much"])
def test_an_impossible_load_is_refused(load):
    with pytest.raises(LoadError, match="red"):
        cm.Tile("white-cement", {"red": load}, SHADE)


def test_a_total_over_ten_per_cent_is_refused_with_the_total():
    with pytest.raises(LoadError, match=r"12 %"):
        cm.Tile("white-cement", {"a": 0.06, "b": 0.06}, SHADE)


@pytest.mark.parametrize(
    "changes",
    [
        {"state": "moist"},
        {"shade": (60, 10, 5)},
        {"spectrum": np.full(31, 60.0)},
        {"spectrum": np.full(30, 0.5)},
        {"state": "dry", "saturation": 0.5},
        {"state": "wet", "saturation": 1.5},
        {"state": "wet", "saturation": 0.5, "spectrum": np.full(31, 0.4)},
        {"load_sd": -1.0},
        {"loads": [0.02]},
        {"loads": {None: 0.02}},
        {"loads": {"": 0.02}},
        {"loads": {"red": True}},
        {"loads": {"red": np.True_}},
        {"base": ["x"]},
        {"base": None},
        {"base": {}},
        {"base": " "},
        {"name": []},
        {"name": 3},
        {"spectrum": "x"},
        {"spectrum": {}},
        {"spectrum": [None] * 31},
        {"spectrum_sd": None},
        {"spectrum_sd": True},
        {"load_sd": False},
        {"state": "wet", "saturation": True},
    ],
)
def test_other_nonsense_is_refused(changes):
    with pytest.raises(ColormatchError, match=r"\.$"):
        cm.Tile(**({"base": "white-cement", "loads": {"red": 0.02}, "shade": SHADE} | changes))


def test_loads_cannot_be_changed_afterwards():
    loads = {"red": 0.02}
    tile = cm.Tile("white-cement", loads, SHADE)
    loads["red"] = 0.05
    assert tile.loads["red"] == 0.02
    with pytest.raises(TypeError, match="does not support item assignment"):
        tile.loads["red"] = 0.05


@pytest.mark.parametrize("again", [copy.deepcopy, copy.copy, lambda tile: pickle.loads(pickle.dumps(tile))])
def test_a_tile_can_be_copied_and_pickled(again):
    loads = {"red": 0.02, "white": 0.0}
    for details in ({"spectrum": np.linspace(0.1, 0.6, 31), "name": "A3"}, {"state": "wet", "saturation": 0.5}):
        shade = cm.Shade(reflectance_to_lab(details["spectrum"]), sd=0.7) if "spectrum" in details else SHADE
        tile = cm.Tile("white-cement", loads, shade, load_sd=1e-4, **details)
        other = again(tile)
        assert (other.recipe, dict(other.loads), other.title) == (tile.recipe, loads, tile.title)
        assert (other.load_sd, other.saturation) == (tile.load_sd, tile.saturation)
        np.testing.assert_array_equal(other.shade.covariance, shade.covariance)
        assert (other.spectrum is None) == (tile.spectrum is None)
        if tile.spectrum is not None:
            np.testing.assert_array_equal(other.spectrum, tile.spectrum)
        with pytest.raises(TypeError, match="does not support item assignment"):
            other.loads["red"] = 0.05


def test_the_same_mixture_is_the_same_recipe_whatever_the_order():
    one = cm.Tile("white-cement", {"a": 0.01, "b": 0.02, "c": 0.0}, SHADE)
    other = cm.Tile("white-cement", {"b": 0.02, "a": 0.01}, SHADE)
    assert one.recipe == other.recipe
    assert one.recipe != cm.Tile("white-cement", {"b": 0.02, "a": 0.01}, SHADE, state="wet").recipe


def test_a_tile_says_what_it_is():
    assert describe({"red": 0.02, "white": 0.005}, "grey-cement", "wet") == "2 % red + 0.5 % white on grey-cement, wet"
    assert cm.Tile("white-cement", {}, SHADE).title == "blank on white-cement"
    assert cm.Tile("white-cement", {}, SHADE, name="A3").title == "A3"


def test_a_spectrum_of_any_step_gives_its_own_shade():
    nm = np.arange(380.0, 731.0, 5.0)
    tile = cm.Tile.from_spectrum("white-cement", {}, nm, np.full(nm.size, 0.184187), spectrum_sd=0.005)
    np.testing.assert_allclose(tile.shade.lab, (50.0, 0.0, 0.0), atol=0.01)  # CIE 1976: Y = 18.4187 is L* = 50
    assert 0.1 < tile.shade.sd < 1.0
    with pytest.raises(InputError, match="400 to 700"):
        cm.Tile.from_spectrum("white-cement", {}, nm[10:], np.full(nm.size - 10, 0.2))


def test_the_piece_is_kept_and_must_be_words():
    assert copy.deepcopy(cm.Tile("white-cement", {}, SHADE, piece="tile-7")).piece == "tile-7"
    with pytest.raises(InputError, match="piece must be words"):
        cm.Tile("white-cement", {}, SHADE, piece=7)


def test_a_spectral_distribution_of_colour_science_is_a_spectrum():
    distribution = cm.starter_palette().spectrum({"red-iron-oxide": 0.02}, base="white-cement")
    tile = cm.Tile.from_spectrum("white-cement", {"red-iron-oxide": 0.02}, distribution)
    assert tile.spectrum == pytest.approx(distribution.values)
    again = cm.Tile("white-cement", {"red-iron-oxide": 0.02}, tile.shade, spectrum=distribution)
    assert again.spectrum == pytest.approx(distribution.values)
    assert cm.find_recipes(cm.starter_palette(), tile.shade, spectrum=distribution)[0].metamerism < 0.5
