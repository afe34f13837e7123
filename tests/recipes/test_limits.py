"""Limits: what they accept, and one clear sentence for what they do not."""

import math

import pytest

import colormatch as cm
from colormatch.errors import InputError, LoadError, RecipeError


def test_the_defaults_are_those_of_a_small_studio():
    limits = cm.Limits()
    assert (limits.load_cap, limits.max_pigments, limits.cement_g, limits.scale_step_g) == (0.05, 4, 780.0, 0.1)
    assert limits.pigments is None
    assert limits.step_load == pytest.approx(0.1 / 780)


def test_they_cannot_be_changed():
    limits = cm.Limits(stock_g={"red-iron-oxide": 5})
    with pytest.raises(AttributeError, match="cannot assign to field 'load_cap'"):
        limits.load_cap = 0.08
    with pytest.raises(TypeError, match="does not support item assignment"):
        limits.stock_g["red-iron-oxide"] = 50


@pytest.mark.parametrize("cap", [0.0, 0.02, 0.10])
def test_the_cap_may_be_anything_up_to_ten_per_cent(cap):
    assert cm.Limits(load_cap=cap).load_cap == cap


@pytest.mark.parametrize("cap", [0.1001, 0.5, 5, -0.01, math.nan, math.inf, "much", None])
def test_a_cap_beyond_ten_per_cent_or_no_number_is_refused_with_the_range(cap):
    with pytest.raises(LoadError, match=r"0\.1"):
        cm.Limits(load_cap=cap)


@pytest.mark.parametrize("count", [0, 6, 2.5, math.nan, True, "four", None])
def test_one_to_five_pigments(count):
    with pytest.raises(InputError, match="from 1 to 5"):
        cm.Limits(max_pigments=count)


@pytest.mark.parametrize("name", ["cement_g", "scale_step_g"])
@pytest.mark.parametrize("value", [0, -1, math.nan, math.inf])
def test_weights_are_positive(name, value):
    with pytest.raises(InputError, match="must be more than 0"):
        cm.Limits(**{name: value})


@pytest.mark.parametrize(
    ("stock", "word"), [({"red-iron-oxide": -1}, "stock of red-iron-oxide"), ({"red-iron-oxide": math.nan}, "nan")]
)
def test_stock_is_not_negative(stock, word):
    with pytest.raises(InputError, match=word):
        cm.Limits(stock_g=stock)


@pytest.mark.parametrize("load", [0.0, -0.01, 0.2, math.nan, "much", None])
def test_fixed_loads_are_loads(load):
    with pytest.raises(LoadError, match="fixed load of red-iron-oxide"):
        cm.Limits(fixed_loads={"red-iron-oxide": load})


def test_fixed_loads_stay_under_the_cap_together():
    with pytest.raises(LoadError, match=r"6 % of the cement, over the cap of 5 %"):
        cm.Limits(fixed_loads={"red-iron-oxide": 0.03, "titanium-white": 0.03})


def test_lists_that_contradict_each_other_are_refused():
    with pytest.raises(RecipeError, match="both must-use and never-use"):
        cm.Limits(must_use=["red-iron-oxide"], never_use=["red-iron-oxide"])
    with pytest.raises(RecipeError, match="not among the allowed"):
        cm.Limits(must_use=["red-iron-oxide"], pigments=["titanium-white"])
    with pytest.raises(RecipeError, match="fixed load and is never-use"):
        cm.Limits(fixed_loads={"red-iron-oxide": 0.01}, never_use=["red-iron-oxide"])
    with pytest.raises(RecipeError, match="may have 1"):
        cm.Limits(max_pigments=1, must_use=["red-iron-oxide", "titanium-white"])


def test_one_name_instead_of_a_list_is_explained():
    with pytest.raises(InputError, match="give a list"):
        cm.Limits(pigments="red-iron-oxide")


@pytest.mark.parametrize("field", ["pigments", "must_use", "never_use"])
def test_unknown_pigments_are_named(palette, field):
    with pytest.raises(cm.ColormatchError, match="no pigment called 'no-such'"):
        cm.find_recipes(palette, cm.Shade((60, 5, 5)), limits=cm.Limits(**{field: ["no-such"]}))


@pytest.mark.parametrize("field", ["stock_g", "fixed_loads"])
def test_unknown_pigments_are_named_in_amounts_too(palette, field):
    with pytest.raises(cm.ColormatchError, match="no pigment called 'no-such'"):
        cm.find_recipes(palette, cm.Shade((60, 5, 5)), limits=cm.Limits(**{field: {"no-such": 0.01}}))


def test_a_must_that_the_stock_cannot_give_is_explained(palette):
    limits = cm.Limits(must_use=["red-iron-oxide"], stock_g={"red-iron-oxide": 0.05})
    with pytest.raises(LoadError, match=r"0\.05 g are in stock"):
        cm.find_recipes(palette, cm.Shade((60, 5, 5)), limits=limits)


def test_musts_that_cannot_meet_under_the_cap_are_explained(palette):
    limits = cm.Limits(load_cap=0.0, must_use=["red-iron-oxide"])
    with pytest.raises(RecipeError, match="No recipe fits"):
        cm.find_recipes(palette, cm.Shade((60, 5, 5)), limits=limits)
