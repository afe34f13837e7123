"""find_recipes: what may be asked, one shade or many, and the limits of a maker's shelf."""

import csv
import io

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import InputError, RecipeError, UnknownNameError
from colormatch.recipes import recipe_table, table_as_csv

from .palettes import targets_in_and_out_of_reach

TARGET = cm.Shade((62, 12, 18), sd=0.7)


def test_a_list_of_shades_gives_a_list_of_lists_with_the_same_recipes(palette):
    shades = [TARGET, cm.Shade((40, 10, -20)), cm.Shade((70, 5, 25))]
    together = cm.find_recipes(palette, shades)
    assert len(together) == 3
    for shade, recipes in zip(shades, together, strict=True):
        alone = cm.find_recipes(palette, shade)
        assert recipes[0].delta_e == pytest.approx(alone[0].delta_e, abs=0.02)
        assert all(recipe.target is shade for recipe in recipes)


def test_only_allowed_pigments_are_used_and_barred_ones_never(palette):
    allowed = ["red-iron-oxide", "yellow-iron-oxide", "titanium-white"]
    for recipe in cm.find_recipes(palette, TARGET, limits=cm.Limits(pigments=allowed)):
        assert set(recipe.loads) <= set(allowed)
    for recipe in cm.find_recipes(palette, TARGET, limits=cm.Limits(never_use=["red-iron-oxide"])):
        assert "red-iron-oxide" not in recipe.loads


def test_a_must_is_in_every_recipe(palette):
    for recipe in cm.find_recipes(palette, TARGET, limits=cm.Limits(must_use=["chromium-oxide-green"])):
        assert recipe.grams["chromium-oxide-green"] >= 0.1


def test_no_more_than_the_stock_is_used(palette):
    free = cm.find_recipes(palette, TARGET)[0]
    name = max(free.grams, key=free.grams.get)
    limits = cm.Limits(stock_g={name: free.grams[name] / 2})
    for recipe in cm.find_recipes(palette, TARGET, limits=limits):
        assert recipe.grams.get(name, 0) <= free.grams[name] / 2 + 1e-9


def test_a_fixed_pigment_keeps_its_load_and_the_rest_works_around_it(palette):
    limits = cm.Limits(fixed_loads={"titanium-white": 0.01})
    recipes = cm.find_recipes(palette, TARGET, limits=limits)
    for recipe in recipes:
        assert recipe.loads["titanium-white"] == pytest.approx(0.01, abs=limits.step_load / 2)
    assert recipes[0].delta_e < 0.3


def test_a_number_of_pigments_is_not_exceeded(palette):
    for most in (1, 2, 3):
        for recipe in cm.find_recipes(palette, TARGET, limits=cm.Limits(max_pigments=most)):
            assert len(recipe.loads) <= most


def test_a_measured_spectrum_makes_a_special_index(palette):
    spectrum = palette.reflectance({"brown-iron-oxide": 0.01, "yellow-iron-oxide": 0.01}, "white-cement")
    target = palette.predict({"brown-iron-oxide": 0.01, "yellow-iron-oxide": 0.01}, "white-cement")
    with_spectrum = cm.find_recipes(palette, target, spectrum=spectrum)
    same = [r for r in with_spectrum if set(r.loads) == {"brown-iron-oxide", "yellow-iron-oxide"}]
    assert same
    assert all(r.metamerism < 0.1 for r in same)
    assert all(r.inconstancy > 0.1 for r in same)  # which is something else
    assert cm.find_recipes(palette, target)[0].metamerism is None


@pytest.mark.parametrize("target", [(52, 18, 20), "brick", None, [], [(52, 18, 20)]])
def test_a_target_is_a_shade(palette, target):
    with pytest.raises(InputError, match="give a Shade"):
        cm.find_recipes(palette, target)


def test_unknown_base_and_state_are_named(palette):
    with pytest.raises(UnknownNameError, match="no base called 'lime'"):
        cm.find_recipes(palette, TARGET, base="lime")
    with pytest.raises(UnknownNameError, match="no state called 'damp'"):
        cm.find_recipes(palette, TARGET, state="damp")


def test_bad_spectra_and_counts_are_refused(palette):
    with pytest.raises(InputError, match="31"):
        cm.find_recipes(palette, TARGET, spectrum=np.ones(10))
    with pytest.raises(InputError, match="between 0 and 1"):
        cm.find_recipes(palette, TARGET, spectrum=np.full(31, 40.0))
    with pytest.raises(InputError, match="at least 1"):
        cm.find_recipes(palette, TARGET, count=0)


def test_every_error_is_one_sentence_of_this_package(palette):
    asked = [
        {"limits": cm.Limits(pigments=["no-such"])},
        {"base": "lime"},
        {"limits": cm.Limits(load_cap=0.0, must_use=["red-iron-oxide"])},
    ]
    for arguments in asked:
        with pytest.raises(cm.ColormatchError, match=r"\.$") as caught:
            cm.find_recipes(palette, TARGET, **arguments)
        assert "\n" not in str(caught.value)
        assert str(caught.value).endswith(".")


def test_a_palette_without_pigments_has_the_bare_base_to_offer(palette):
    recipes = cm.find_recipes(palette, TARGET, limits=cm.Limits(pigments=[]))
    assert [dict(recipe.grams) for recipe in recipes] == [{}]
    assert any("bare cement" in caution for caution in recipes[0].cautions)


def test_must_use_beyond_what_fits_is_a_recipe_error(palette):
    limits = cm.Limits(must_use=["carbon-black"], fixed_loads={"titanium-white": 0.03})
    with pytest.raises(RecipeError, match="No recipe fits"):  # carbon black's own maximum is 2 %
        cm.find_recipes(palette, TARGET, limits=limits)


def test_where_the_pigments_reach_no_further_the_verdict_does_not_blame_uncertainty(palette):
    assert "no tile will bring it nearer" in cm.find_recipes(palette, cm.Shade((5, 0, 0)))[0].verdict
    assert "cast a test tile first" in cm.find_recipes(cm.starter_palette(), cm.Shade((52, 18, 20)))[0].verdict


@pytest.mark.slow
def test_a_card_of_shades_with_progress_and_one_table(palette):
    targets = targets_in_and_out_of_reach(palette, "white-cement", 120)
    shades = {f"no. {i}": cm.Shade(lab, sd=0.5) for i, lab in enumerate(targets)}
    seen = []
    rows = recipe_table(palette, shades, progress=lambda done, of: seen.append((done, of)))
    assert [row.name for row in rows] == list(shades)
    assert seen == [(50, 120), (100, 120), (120, 120)]
    for row in rows[::25]:
        alone = cm.find_recipes(palette, row.wanted, count=1)[0]
        assert row.recipe.delta_e == pytest.approx(alone.delta_e, abs=0.02)

    table = list(csv.DictReader(io.StringIO(table_as_csv(rows))))
    assert len(table) == 120
    for line, row in zip(table, rows, strict=True):
        assert line["shade"] == row.name
        grams = {name[:-2]: float(g) for name, g in line.items() if name.endswith(" g") and g and name != "cement g"}
        assert grams == pytest.approx(dict(row.recipe.grams))
        assert float(line["dE00 expected"]) == pytest.approx(row.recipe.expected_delta_e, abs=0.006)


@pytest.mark.slow
def test_a_thousand_shades(palette):
    rng = np.random.default_rng(0)
    labs = np.column_stack([rng.uniform(30, 85, 1000), *rng.uniform(-15, 25, (2, 1000))])
    rows = recipe_table(palette, {str(i): cm.Shade(lab) for i, lab in enumerate(labs)})
    assert len(rows) == 1000
    assert all(row.recipe.total_load <= 0.05 + 1e-9 for row in rows)


def test_no_shades_no_rows(palette):
    assert recipe_table(palette, {}) == []
