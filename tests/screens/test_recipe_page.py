"""Recipe: the wanted shade to grams on the page, kept as a swatch, taken to the batch."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from colormatch.bench.batch import round_to
from colormatch.library import PigmentLot, PigmentRecord, RecipeRecord, ShadeRecord, Swatch, open_library
from colormatch.recipes import Limits, find_recipes
from colormatch.screens.keeping import PREDICTED
from colormatch.screens.state import Wanted
from colormatch.shade import Shade
from colormatch.starter import starter_palette

WANTED = Wanted(Shade((55.0, 15.0, 18.0)), "typed as CIELAB")
HOSTILE = "Brick <img src=x onerror=alert(1)> *red* ![x](http://example.invalid/x.png)"


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


@pytest.fixture
def found(open_page: Callable[..., Any], own_library: Any) -> Any:
    page = open_page("recipe", library="own", wanted=WANTED)
    return press(page, "Find recipes")


def test_without_a_wanted_shade_it_points_to_the_first_page(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("recipe", library="own")
    assert "which shade you want" in page.info[0].value


def test_the_page_finds_what_the_library_call_finds(found: Any) -> None:
    expected = find_recipes(starter_palette(), WANTED.shade, base="white-cement", limits=Limits())
    recipes = found.session_state["in hand|own"].found.recipes
    assert [dict(each.grams) for each in recipes] == [dict(each.grams) for each in expected]
    shown = " ".join(each.value for each in found.html)
    for name, grams in expected[0].grams.items():
        assert f">{grams:g}<" in shown, name


def test_limits_typed_are_kept_to(found: Any) -> None:
    kept = "kept|own|recipe."
    found.number_input(key=f"{kept}cap").set_value(1.0)
    found.number_input(key=f"{kept}most").set_value(2)
    found.multiselect(key=f"{kept}never").set_value(["ultramarine-blue"])
    press(found, "Find recipes")
    recipes = found.session_state["in hand|own"].found.recipes
    assert all(each.total_load <= 0.01 + 1e-9 for each in recipes)
    assert all(len(each.loads) <= 2 and "ultramarine-blue" not in each.loads for each in recipes)


def test_limits_that_contradict_are_a_sentence_and_stay_typed(found: Any) -> None:
    before = found.session_state["in hand|own"].found
    for name in ("must", "never"):
        found.multiselect(key=f"kept|own|recipe.{name}").set_value(["red-iron-oxide"])
    press(found, "Find recipes")
    assert "red-iron-oxide" in found.error[0].value.replace("\\", "")
    assert found.session_state["in hand|own"].found is before
    assert found.multiselect(key="kept|own|recipe.must").value == ["red-iron-oxide"]


def test_out_of_reach_says_how_far_and_why(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("recipe", library="own", wanted=Wanted(Shade((50.0, 70.0, 60.0)), "typed"))
    press(page, "Find recipes")
    assert any(each.value == "Out of reach" for each in page.subheader)
    assert page.session_state["in hand|own"].found.reach.obstacles


def test_kept_as_a_swatch_with_every_predicted_state(found: Any, own_library: Any) -> None:
    found.text_input(key="kept|own|recipe.name").set_value(HOSTILE)
    found.text_input(key="kept|own|recipe.tags").set_value("warm, cup,, warm")
    found.button(key="recipe.keep").click().run()
    assert not found.error
    (swatch,) = own_library.list(Swatch)
    assert swatch.name == HOSTILE
    assert swatch.tags == ("warm", "cup")
    (recipe,) = own_library.list(RecipeRecord)
    best = found.session_state["in hand|own"].found.recipes[0]
    assert dict(recipe.loads) == pytest.approx(dict(best.loads))
    np.testing.assert_allclose(recipe.wanted_lab, WANTED.shade.lab)
    shades = own_library.list(ShadeRecord, swatch_uid=swatch.uid)
    assert {each.state for each in shades} == {"dry", "wet", "demould", "sealed"}
    assert all(each.provenance["kind"] == PREDICTED for each in shades)


def test_a_swatch_without_a_name_is_refused_in_a_sentence(found: Any, own_library: Any) -> None:
    found.text_area(key="kept|own|recipe.notes").set_value("for the shelf").run()
    found.button(key="recipe.keep").click().run()
    assert "needs a name" in found.error[0].value
    assert own_library.count(Swatch) == 0
    assert found.text_area(key="kept|own|recipe.notes").value == "for the shelf"


def test_a_name_too_long_is_refused_in_a_sentence(found: Any, own_library: Any) -> None:
    found.text_input(key="kept|own|recipe.name").set_value("x" * 300).run()
    found.button(key="recipe.keep").click().run()
    assert found.error[0].value.replace("\\", "") == "The name has 300 characters; at most 200 are kept. Shorten it."
    assert own_library.count(Swatch) == 0


def test_hostile_names_are_shown_as_they_stand(found: Any, own_library: Any, open_page: Callable[..., Any]) -> None:
    found.text_input(key="kept|own|recipe.name").set_value(HOSTILE)
    found.button(key="recipe.keep").click().run()
    page = open_page("swatches", library="own")
    assert not page.exception
    assert page.subheader[0].value.replace("\\", "") == HOSTILE
    assert "![" not in page.subheader[0].value
    assert not any("<img" in each.value for each in page.html)


def test_taken_to_the_batch(found: Any, open_page: Callable[..., Any]) -> None:
    hand = found.session_state["in hand|own"]
    found.button(key="recipe.batch").click().run()
    assert found.title[0].value == "Batch"
    assert dict(hand.casting.tones[0].mix.loads) == dict(hand.found.recipes[0].loads)
    assert hand.casting.cement_g == 780.0


def test_the_wanted_shade_goes_along_to_the_batch_and_into_its_record(found: Any, own_library: Any) -> None:
    """Without it the next batch could not be corrected."""
    found.button(key="recipe.batch").click().run()
    found.switch_page("colormatch/screens/batch.py").run()
    press(found, "Work out the weigh sheet")
    found.radio(key="kept|own|batch.part").set_value("At the bowl").run()
    while any(each.key == "bowl.next" for each in found.button):
        found.button(key="bowl.next").click().run()
    found.button(key="bowl.keep").click().run()
    assert not found.error
    (recipe,) = own_library.list(RecipeRecord)
    np.testing.assert_allclose(recipe.wanted_lab, WANTED.shade.lab)


def test_a_recipe_kept_and_cast_is_one_recipe(found: Any, own_library: Any) -> None:
    found.text_input(key="kept|own|recipe.name").set_value("Brick").run()
    found.button(key="recipe.keep").click().run()
    found.button(key="recipe.batch").click().run()
    (recipe,) = own_library.list(RecipeRecord)
    assert found.session_state["in hand|own"].casting.recipe_uid == recipe.uid


def test_a_swatch_of_a_name_that_is_taken_is_refused(found: Any, own_library: Any) -> None:
    found.text_input(key="kept|own|recipe.name").set_value("Brick").run()
    found.button(key="recipe.keep").click().run()
    found.button(key="recipe.keep").click().run()
    assert "kept already" in found.error[0].value
    assert own_library.count(Swatch) == own_library.count(RecipeRecord) == 1


def test_a_kept_swatch_is_no_tile_for_learning(found: Any, own_library: Any) -> None:
    """What was only predicted must never teach the palette."""
    from colormatch.studio import studio_tiles

    found.text_input(key="kept|own|recipe.name").set_value("Brick")
    found.button(key="recipe.keep").click().run()
    with open_library(own_library.folder) as library:
        assert studio_tiles(library) == []


def test_no_more_than_is_in_stock(open_page: Callable[..., Any], own_library: Any) -> None:
    own_library.save(PigmentRecord(uid="red-iron-oxide", name="Red", like="red-iron-oxide"))
    own_library.save(PigmentLot(pigment_uid="red-iron-oxide", stock_g=3.0))
    page = open_page("recipe", library="own", wanted=WANTED)
    page.checkbox(key="kept|own|recipe.stock").set_value(True)
    press(page, "Find recipes")
    assert not page.error
    recipes = page.session_state["in hand|own"].found.recipes
    assert all(each.grams.get("red-iron-oxide", 0) <= 3.0 + 1e-9 for each in recipes)


def test_doses_too_small_are_offered_as_a_preblend(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("recipe", library="own", wanted=Wanted(Shade((85.0, 3.0, 8.0)), "typed"))
    page.number_input(key="kept|own|recipe.cement_g").set_value(120.0)
    press(page, "Find recipes")
    best = page.session_state["in hand|own"].found.recipes[0]
    assert best.small_doses
    shown = " ".join(each.value for each in page.html)
    for _, grams in best.preblended.weighing():  # as the scale shows them
        assert f">{round_to(grams, best.limits.scale_step_g):g}<" in shown


def test_a_dose_decided_already_is_in_every_recipe(found: Any) -> None:
    found.selectbox(key="kept|own|recipe.fixed").set_value("black-iron-oxide")
    found.number_input(key="kept|own|recipe.fixed_load").set_value(0.4)
    press(found, "Find recipes")
    assert not found.error
    recipes = found.session_state["in hand|own"].found.recipes
    assert recipes
    assert all(each.loads["black-iron-oxide"] == pytest.approx(0.004, abs=1e-4) for each in recipes)
