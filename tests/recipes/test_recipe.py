"""One recipe: what it says of itself, and the pre-blends for doses too small to weigh."""

import numpy as np
import pytest

import colormatch as cm
from colormatch import delta_e_2000


@pytest.fixture(scope="module")
def recipe(palette):
    return cm.find_recipes(palette, cm.Shade((62, 12, 18), sd=0.7))[0]


@pytest.fixture(scope="module")
def pale(palette):
    """A pale tint in a small batch: doses of a few steps of the scale."""
    return cm.find_recipes(palette, cm.Shade((84, 3, 9)), limits=cm.Limits(cement_g=200.0))[0]


def test_the_distance_is_that_of_the_rounded_recipe(palette, recipe):
    shade = palette.predict(recipe.loads, "white-cement")
    assert recipe.delta_e == pytest.approx(float(delta_e_2000(recipe.target.lab, shade.lab)))
    assert recipe.predict() == shade


@pytest.mark.parametrize("state", ["dry", "wet", "sealed", "demould"])
def test_it_predicts_every_state(recipe, state):
    shade = recipe.predict(state)
    assert 0 < shade.lab[0] < 100
    assert shade.sd > 0


def test_it_is_darker_wet_than_dry(recipe):
    assert recipe.predict("wet").lab[0] < recipe.predict("dry").lab[0]


def test_a_shade_wanted_sealed_is_met_sealed(palette):
    target = cm.Shade((55, 12, 15))
    sealed = cm.find_recipes(palette, target, state="sealed")[0]
    assert float(delta_e_2000(target.lab, sealed.predict("sealed").lab)) == pytest.approx(sealed.delta_e)
    assert sealed.delta_e < 0.5
    assert sealed.predict("dry").lab[0] > 55


def test_it_cannot_be_changed(recipe):
    with pytest.raises(AttributeError, match="cannot assign to field 'delta_e'"):
        recipe.delta_e = 0.0
    with pytest.raises(TypeError, match="does not support item assignment"):
        recipe.grams["red-iron-oxide"] = 1.0


def test_the_verdict_is_plain_and_says_how_far_to_trust_it(recipe):
    assert "off on average, likely under" in recipe.verdict
    assert recipe.verdict.endswith(".")
    assert ". " not in recipe.verdict
    assert "test tile" in recipe.verdict  # the starter palette has seen no tile


def test_a_learned_palette_is_trusted_more(palette):
    learned = palette.with_posterior(palette.mean, 0.01 * palette.covariance, tiles_learned=20)
    assert "tile" not in cm.find_recipes(learned, cm.Shade((62, 12, 18)))[0].verdict


def test_large_doses_need_no_pre_blend(palette):
    big = cm.find_recipes(palette, cm.Shade((52, 18, 20)), limits=cm.Limits(cement_g=5000))[0]
    assert big.small_doses == ()
    assert big.preblend == ()
    assert big.preblended is big
    assert big.larger_batch_g is None


def test_small_doses_become_a_pre_blend_of_one_to_nine(pale):
    assert pale.small_doses
    assert all(pale.grams[name] < 2.0 for name in pale.small_doses)  # 20 steps of 0.1 g
    for blend in pale.preblend:
        assert blend.parts_cement == 9
        assert blend.blend_g == pytest.approx(10 * blend.pigment_g)
        assert blend.cement_g == pytest.approx(9 * blend.pigment_g)
        assert blend.blend_g / 0.1 == pytest.approx(round(blend.blend_g / 0.1), abs=1e-6)
        assert f"{blend.blend_g:g} g of a pre-blend of {blend.pigment} 1:9" in blend.line


def test_the_pre_blend_brings_cement_that_is_not_weighed_twice(pale):
    lines = dict(pale.preblended.weighing())
    total = sum(lines.values())
    assert total == pytest.approx(200.0 + sum(pale.preblended.grams.values()))
    brought = sum(blend.cement_g for blend in pale.preblended.preblend)
    assert lines["white-cement"] == pytest.approx(200.0 - brought)


def test_the_other_grams_stay_as_they_are(palette):
    for recipe in cm.find_recipes(palette, cm.Shade((70, 5, 25))):
        finer = recipe.preblended
        for name in set(recipe.grams) - set(recipe.small_doses):
            assert finer.grams[name] == pytest.approx(recipe.grams[name])
        assert finer.limits is recipe.limits
        assert set(finer.preblended_pigments) <= set(recipe.small_doses)


def test_a_fixed_small_dose_is_pre_blended_at_its_load(palette):
    limits = cm.Limits(fixed_loads={"carbon-black": 0.001})
    recipe = cm.find_recipes(palette, cm.Shade((60, 5, 10)), limits=limits)[0]
    assert "carbon-black" in recipe.small_doses
    assert recipe.preblended.grams["carbon-black"] == pytest.approx(recipe.grams["carbon-black"])
    assert any(blend.pigment == "carbon-black" for blend in recipe.preblend)


def test_the_pre_blended_recipe_is_closer_or_surer(palette, pale):
    finer = pale.preblended
    assert finer.delta_e <= pale.delta_e + 1e-9
    sure = palette.with_posterior(palette.mean, 0 * palette.covariance, cast_sd=0.0)
    coarse = cm.find_recipes(sure, cm.Shade((84, 3, 9)), limits=cm.Limits(cement_g=200.0))[0]
    assert coarse.preblended.expected_delta_e < coarse.expected_delta_e


def test_a_larger_batch_makes_the_doses_large_enough(palette):
    for recipe in cm.find_recipes(palette, cm.Shade((70, 5, 25))):
        if recipe.larger_batch_g is None:
            continue
        times = recipe.larger_batch_g / recipe.cement_g
        assert 1 < times <= 8.1
        assert min(recipe.grams.values()) * times >= 2.0 - 1e-9
        return
    pytest.fail("no recipe of this shade has a small dose; choose another shade for this test")


def test_cautions_name_what_the_maker_should_know(palette):
    at_cap = cm.find_recipes(palette, cm.Shade((30, 2, 3)))[0]
    assert any("At the cap of 2 %" in caution for caution in at_cap.cautions)  # carbon black's own
    blue = cm.find_recipes(palette, cm.Shade((70, 2, -18)), limits=cm.Limits(pigments=["ultramarine-blue"]))[0]
    assert any("alkali" in caution for caution in blue.cautions)


def test_the_bare_base_is_a_recipe_too(palette):
    bare = palette.predict({}, "white-cement")
    recipe = cm.find_recipes(palette, cm.Shade(bare.lab))[0]
    assert recipe.grams == {}
    assert recipe.delta_e == pytest.approx(0, abs=1e-9)
    assert recipe.cost == 0
    assert recipe.weighing() == (("white-cement", 780.0),)
    assert np.isfinite([recipe.inconstancy, recipe.slip_delta_e, recipe.expected_delta_e]).all()


@pytest.mark.parametrize("cement_g", [95.0, 200.0, 780.0])
def test_what_is_weighed_adds_up_to_the_recipe(palette, cement_g):
    """With pre-blends or without: the cement and each pigment that end up in the bowl are those of the recipe."""
    limits = cm.Limits(cement_g=cement_g)
    targets = [cm.Shade(lab) for lab in ((84, 3, 9), (62, 12, 18), (70, -8, 10), (45, 4, 6), (78, 2, 20))]
    blended = 0
    for recipe in (one for found in cm.find_recipes(palette, targets, limits=limits) for one in found):
        for weighed in (recipe, recipe.preblended):
            lines = dict(weighed.weighing())
            inside = {weighed.base: lines.pop(weighed.base)}
            for what, grams in lines.items():
                steps = grams / limits.scale_step_g
                assert steps == pytest.approx(round(steps), abs=1e-6)  # the scale can show it
                name, _, blend = what.partition(", pre-blend 1:9")
                blended += bool(blend)
                inside[name] = grams / 10 if blend else grams
                inside[weighed.base] += 9 * grams / 10 if blend else 0
            assert inside.pop(weighed.base) == pytest.approx(cement_g, abs=1e-6)
            assert inside == pytest.approx(dict(weighed.grams), abs=1e-9)
    assert blended or cement_g > 700


def test_a_scale_too_coarse_is_said_by_name(palette):
    coarse = cm.Limits(cement_g=780.0, scale_step_g=50.0)
    first = cm.find_recipes(palette, cm.Shade((62, 12, 18)), limits=coarse)[0]
    assert first.verdict == "A scale of 50 g cannot weigh any dose for 780 g of cement."
    rough = cm.Limits(cement_g=200.0, scale_step_g=5.0)
    assert (
        "A scale of 5 g is too coarse for 200 g"
        in cm.find_recipes(palette, cm.Shade((62, 12, 18)), limits=rough)[0].verdict
    )
