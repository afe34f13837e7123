"""What is no recipe's input is answered in a sentence; what is one can be copied and sent elsewhere."""

import pickle
from copy import deepcopy

import numpy as np
import pytest

import colormatch as cm

PALETTE = cm.starter_palette()


@pytest.mark.parametrize("name", ["pigments", "must_use", "never_use", "stock_g", "fixed_loads"])
@pytest.mark.parametrize("value", [0, -1, 0.2, True, "red-iron-oxide", [None]])
def test_limits_that_are_no_limits(name, value):
    with pytest.raises(cm.ColormatchError, match=r"\.$"):
        cm.Limits(**{name: value})


@pytest.mark.parametrize("field", ["load_cap", "max_pigments", "cement_g", "scale_step_g"])
@pytest.mark.parametrize("value", [True, np.True_, 10**400, None, "x", [1, 2], np.array([1, 2]), 1j])
def test_limits_that_are_no_numbers(field, value):
    with pytest.raises(cm.ColormatchError, match=r"\.$"):
        cm.Limits(**{field: value})


def test_numbers_of_another_kind_are_numbers():
    limits = cm.Limits(load_cap=np.float64(0.05), max_pigments=np.int64(3), cement_g=500, scale_step_g=np.float64(0.1))
    assert limits == cm.Limits(max_pigments=3, cement_g=500.0)
    single = np.float32(0.1)
    assert cm.Limits(scale_step_g=single, load_cap=single) == cm.Limits(scale_step_g=0.1, load_cap=0.1)
    assert (
        cm.Tile("white-cement", {"red-iron-oxide": single}, cm.Shade((50, 0, 0), sd=1)).loads["red-iron-oxide"] == 0.1
    )
    red = [PALETTE.predict({"red-iron-oxide": load}, "white-cement").lab for load in (single, 0.1)]
    assert np.array_equal(*red)
    assert len(cm.find_recipes(PALETTE, cm.Shade((52, 18, 20)), limits=limits, count=np.int64(1))) == 1


NOTHING_LEFT = {
    "all barred": {"never_use": list(PALETTE.pigments)},
    "the one allowed is barred": {"pigments": ["cobalt-blue"], "never_use": ["cobalt-blue"]},
    "none in stock": {"stock_g": dict.fromkeys(PALETTE.pigments, 0.05)},
    "the one allowed is not in stock": {"pigments": ["cobalt-blue"], "stock_g": {"cobalt-blue": 0}},
}


@pytest.mark.parametrize("lists", NOTHING_LEFT.values(), ids=NOTHING_LEFT)
def test_bare_cement_is_not_offered_where_nothing_is_left_to_choose_from(lists):
    with pytest.raises(cm.ColormatchError, match="No pigment is left to choose from"):
        cm.find_recipes(PALETTE, cm.Shade((52, 18, 20)), limits=cm.Limits(**lists))


def test_a_fixed_load_is_enough_and_need_not_be_among_the_allowed():
    for lists in ({"pigments": []}, {"pigments": ["cobalt-blue"]}):
        limits = cm.Limits(fixed_loads={"red-iron-oxide": 0.02}, **lists)
        for recipe in cm.find_recipes(PALETTE, cm.Shade((52, 18, 20)), limits=limits):
            assert recipe.grams["red-iron-oxide"] == pytest.approx(15.6)
            assert set(recipe.grams) <= {"red-iron-oxide", *limits.pigments}


def test_a_batch_too_small_for_the_scale_is_said():
    limits = cm.Limits(cement_g=50, scale_step_g=5)
    recipes = cm.find_recipes(PALETTE, cm.Shade((52, 18, 20)), limits=limits)
    assert [dict(recipe.grams) for recipe in recipes] == [{}]
    assert any("larger batch" in caution and "2.5 g" in caution for caution in recipes[0].cautions)


@pytest.mark.parametrize("wrong", [{"limits": "x"}, {"limits": {}}, {"count": 1.5}, {"count": None}, {"count": 0}])
def test_calls_that_are_no_calls(wrong):
    with pytest.raises(cm.ColormatchError, match=r"\.$"):
        cm.find_recipes(PALETTE, cm.Shade((50, 5, 5)), **wrong)


@pytest.mark.parametrize("target", ["x", [None], 3])
def test_targets_that_are_no_shades(target):
    with pytest.raises(cm.ColormatchError, match=r"\.$"):
        cm.find_recipes(PALETTE, target)


def test_a_palette_is_asked_for():
    with pytest.raises(cm.ColormatchError, match="Palette"):
        cm.find_recipes(None, cm.Shade((50, 5, 5)))


def test_recipes_and_limits_can_be_copied_and_sent_elsewhere():
    limits = cm.Limits(stock_g={"cobalt-blue": 2.0}, never_use=["carbon-black"])
    recipe = cm.find_recipes(PALETTE, cm.Shade((52, 18, 20)), limits=limits, count=1)[0]
    for copy in (deepcopy(recipe), pickle.loads(pickle.dumps(recipe))):
        assert copy.grams == recipe.grams
        assert copy.limits == recipe.limits
        assert copy.predict("wet") == recipe.predict("wet")


def test_a_fixed_dose_below_the_scale_is_said():
    limits = cm.Limits(
        cement_g=5, scale_step_g=0.5, must_use=["titanium-white"], fixed_loads={"titanium-white": 0.0123}
    )
    with pytest.raises(cm.ColormatchError, match="one step"):
        cm.find_recipes(PALETTE, cm.Shade((80, 2, 5)), limits=limits)


@pytest.mark.parametrize(
    "wrong", [{"shades": "x"}, {"shades": [None]}, {"shades": (50, 0, 0)}, {"count": 1.5}, {"count": "x"}, {"count": 0}]
)
def test_advice_that_cannot_be_given(wrong):
    with pytest.raises(cm.ColormatchError, match=r"\.$"):
        cm.next_tiles(PALETTE, **{"shades": [cm.Shade((50, 5, 5))], **wrong})


@pytest.mark.parametrize("colour", ["red", {}, None, cm.Shade((50, 5, 5))])
def test_a_difference_is_between_numbers(colour):
    with pytest.raises(cm.ColormatchError, match=r"\.$"):
        cm.delta_e_2000(colour, (50, 0, 0))
