"""Match: a photograph or numbers to a shade, the shade to recipes from her jars; all of it found again later."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from colormatch.bench.batch import round_to
from colormatch.colorimetry import hex_to_lab
from colormatch.library import (
    BatchRecord,
    Cement,
    Mould,
    PigmentLot,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
    draft,
    save_draft,
)
from colormatch.recipes import find_recipes
from colormatch.shade import Shade
from colormatch.studio import studio_palette, studio_tiles
from colormatch.workshop.keeping import PREDICTED
from colormatch.workshop.plans import plan_of
from colormatch.workshop.shelf import limits, offer
from tests.screens.tapped import lab_field

WANTED = Shade((55.0, 15.0, 18.0))
JARS = ("red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "titanium-white")
HOSTILE = "Brick <img src=x onerror=alert(1)> *red* ![x](http://example.invalid/x.png)"
FIELD = "work|own|match||field|"


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


def in_hand(page: Any, library: str = "own") -> Any:
    return page.session_state[f"in hand|{library}"]


def wants(library: Any, shade: Shade, **more: Any) -> None:
    """The work in hand as the page keeps it, with a shade that was typed."""
    given = {"lab": shade.lab.tolist(), "covariance": shade.covariance.tolist(), "origin": "typed as CIELAB"}
    save_draft(library, "match", content={"given": given, **more}, seen=draft(library, "match"))


@pytest.fixture
def shelf(own_library: Any) -> Any:
    """Her own library with a bag and four jars."""
    own_library.save(Cement(uid="white-cement", name="White", tone="white-cement"))
    for name in JARS:
        own_library.save(PigmentRecord(uid=name, name=name.replace("-", " "), like=name))
    return own_library


@pytest.fixture
def found(open_page: Callable[..., Any], shelf: Any) -> Any:
    wants(shelf, WANTED)
    return open_page("match", library="own")


def recipes(page: Any) -> Any:
    return in_hand(page).found.recipes


# -- the shade ---------------------------------------------------------------------------------------------------


def test_typed_lab_becomes_the_wanted_shade(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("match", library="own")
    for name, value in {"L*": 61.5, "a*": -3.0, "b*": 12.5, "±": 0.7}.items():
        lab_field(page, name).set_value(f"{value:g}".replace(".", ","))
    press(page, "Take this shade")
    wanted = in_hand(page).wanted
    np.testing.assert_allclose(wanted.shade.lab, [61.5, -3.0, 12.5])
    assert wanted.shade.sd == pytest.approx(0.7)


def test_a_typed_screen_colour_is_there_in_the_next_session(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("match", library="own")
    lab_field(page, "Six hexadecimal digits").set_value("#3366cc")
    press(page, "Take this colour")
    again = open_page("match", library="own")
    np.testing.assert_allclose(in_hand(again).wanted.shade.lab, hex_to_lab("#3366cc"))


@pytest.mark.parametrize("text", ["", "blue", "#12345", "#gggggg", "<script>"])
def test_a_wrong_screen_colour_is_a_sentence_and_stays_typed(
    open_page: Callable[..., Any], own_library: Any, text: str
) -> None:
    page = open_page("match", library="own")
    lab_field(page, "Six hexadecimal digits").set_value(text)
    press(page, "Take this colour")
    assert "is not a screen colour" in page.error[0].value
    assert lab_field(page, "Six hexadecimal digits").value == text
    assert in_hand(page).wanted is None


# -- recipes -----------------------------------------------------------------------------------------------------


def test_the_page_finds_what_the_call_on_her_shelf_finds(found: Any, shelf: Any) -> None:
    offered = offer(shelf, studio_palette(shelf))
    expected = find_recipes(offered, WANTED, base="white-cement", limits=limits(shelf, offered))
    assert [dict(each.grams) for each in recipes(found)] == [dict(each.grams) for each in expected]
    shown = " ".join(each.value for each in found.html)
    for grams in expected[0].grams.values():
        assert f">{grams:.1f} g<" in shown  # the places of a scale of 0.1 g


def test_only_what_is_on_the_shelf_is_offered(found: Any) -> None:
    assert {name for each in recipes(found) for name in each.loads} <= set(JARS)


def test_an_empty_shelf_leads_to_filling_it(open_page: Callable[..., Any], own_library: Any) -> None:
    wants(own_library, WANTED)
    page = open_page("match", library="own")
    assert not page.error
    assert any("Nothing is on your shelf yet" in each.value for each in page.html)
    assert in_hand(page).found is None


@pytest.mark.slow
def test_what_she_asks_for_is_kept_to_and_found_again(found: Any, shelf: Any, open_page: Callable[..., Any]) -> None:
    lab_field(found, "Most pigment in all, % of the cement").set_value("1,0").run()
    lab_field(found, "Most pigments").set_value("2").run()
    found.multiselect(key=f"{FIELD}never").set_value(["titanium-white"]).run()
    for page in (found, open_page("match", library="own")):
        assert all(each.total_load <= 0.01 + 1e-9 for each in recipes(page))
        assert all(len(each.loads) <= 2 and "titanium-white" not in each.loads for each in recipes(page))


def test_a_number_that_is_refused_says_why_at_once_and_the_one_before_stays(found: Any, shelf: Any) -> None:
    lab_field(found, "Most pigments").set_value("9").run()
    assert any("Most pigments is 9" in each.value for each in found.error)
    lab_field(found, "Most pigments").set_value("2,5").run()
    assert any("whole number from 1 to 5" in each.value for each in found.error)
    assert "most" not in draft(shelf, "match").content
    lab_field(found, "Most pigments").set_value("3").run()
    assert not found.error
    assert draft(shelf, "match").content["most"] == 3


def test_what_must_be_used_cannot_be_barred(found: Any) -> None:
    for name in ("never", "must"):
        found.multiselect(key=f"{FIELD}{name}").set_value(["red-iron-oxide"]).run()
    assert not found.error
    assert found.multiselect(key=f"{FIELD}never").value == []
    assert len(found.multiselect(key=f"{FIELD}never").options) == len(JARS) - 1
    assert all("red-iron-oxide" in each.loads for each in recipes(found))


def test_limits_that_contradict_are_a_sentence_and_stay(found: Any) -> None:
    found.text_input(key="kept|own|number.match.most").set_value("1").run()
    found.multiselect(key=f"{FIELD}must").set_value(list(JARS[:2])).run()
    assert "2 pigments must be used" in found.error[0].value
    found.multiselect(key=f"{FIELD}must").set_value([]).run()  # the way out is still there
    assert not found.error


def test_out_of_reach_says_why_and_what_is_worth_buying(open_page: Callable[..., Any], shelf: Any) -> None:
    wants(shelf, Shade((45.0, 0.0, -35.0)))
    page = open_page("match", library="own")
    assert any("do not reach this shade" in each.value for each in page.html)
    assert in_hand(page).found.reach.obstacles
    assert any("blue" in words for words in in_hand(page).found.buy)
    assert not any(" g " in words for words in in_hand(page).found.buy)


def test_the_recipe_that_was_tapped_is_shown_again_later(open_page: Callable[..., Any], shelf: Any, found: Any) -> None:
    second = recipes(found)[1]
    wants(shelf, WANTED, chosen=dict(second.loads))
    page = open_page("match", library="own")
    shown = next(each.value for each in page.html if "<table><tbody>" in each.value)
    for grams in second.grams.values():
        assert f">{grams:.1f} g<" in shown  # the places of a scale of 0.1 g


def keep(page: Any, name: str) -> Any:
    page.text_input(key=f"{FIELD}name").set_value(name).run()
    page.button(key="match.keep").click().run()
    return page


def test_kept_as_a_swatch_with_every_predicted_state(found: Any, shelf: Any) -> None:
    found.text_input(key=f"{FIELD}tags").set_value("warm, cup,, warm").run()
    keep(found, HOSTILE)
    assert not found.error
    (swatch,) = shelf.list(Swatch)
    assert (swatch.name, swatch.tags) == (HOSTILE, ("warm", "cup"))
    (recipe,) = shelf.list(RecipeRecord)
    assert dict(recipe.loads) == pytest.approx(dict(recipes(found)[0].loads))
    np.testing.assert_allclose(recipe.wanted_lab, WANTED.lab)
    shades = shelf.list(ShadeRecord, swatch_uid=swatch.uid)
    assert {each.state for each in shades} == {"dry", "wet", "demould", "sealed"}
    assert all(each.provenance["kind"] == PREDICTED for each in shades)
    assert studio_tiles(shelf) == []  # what was only predicted must never teach the palette
    assert not any("<img src=x" in each.value for each in found.html)


def test_a_recipe_of_every_jar_is_kept(open_page: Callable[..., Any], shelf: Any) -> None:
    """However many pigments: what tells its recipe from others has room in the work in hand."""
    wants(shelf, WANTED, fixed=dict.fromkeys(JARS, 0.00123456789), most=5)
    page = keep(open_page("match", library="own"), "All of them")
    assert not page.error
    (recipe,) = shelf.list(RecipeRecord)
    assert set(recipe.loads) == set(JARS)
    assert draft(shelf, "match").content["kept"] != {}


def test_notes_half_typed_are_there_in_the_next_session(found: Any, open_page: Callable[..., Any]) -> None:
    found.text_area(key=f"{FIELD}notes").set_value("for the window sill").run()
    assert open_page("match", library="own").text_area(key=f"{FIELD}notes").value == "for the window sill"


@pytest.mark.parametrize(("name", "words"), [(" ", "needs a name"), ("x" * 300, "at most 200")])
def test_a_name_that_will_not_do_is_refused_in_a_sentence(found: Any, shelf: Any, name: str, words: str) -> None:
    keep(found, name)
    assert words in found.error[0].value.replace("\\", "")
    assert shelf.count(Swatch) == 0


def test_a_name_that_is_taken_is_refused(found: Any, shelf: Any) -> None:
    keep(keep(found, "Brick"), "Brick")
    assert "kept already" in found.error[0].value
    assert shelf.count(Swatch) == shelf.count(RecipeRecord) == 1


def test_no_more_than_is_in_the_jar(open_page: Callable[..., Any], shelf: Any) -> None:
    shelf.save(PigmentLot(pigment_uid="red-iron-oxide", stock_g=3.0))
    wants(shelf, WANTED)
    page = open_page("match", library="own")
    assert all(each.grams.get("red-iron-oxide", 0) <= 3.0 + 1e-9 for each in recipes(page))


def test_doses_too_small_are_offered_as_a_preblend(open_page: Callable[..., Any], shelf: Any) -> None:
    wants(shelf, Shade((85.0, 3.0, 8.0)), cement_g=120.0)
    page = open_page("match", library="own")
    best = recipes(page)[0]
    assert best.small_doses
    said = " ".join(each.value for each in page.markdown).replace("\\", "")
    for name in best.small_doses:
        blend = round(10 * round_to(best.loads[name] * 120, 0.01), 6)  # a tenth of it is pigment
        assert f"Weigh {blend:g} g of a pre-blend of 1 part {best.palette.label(name)}" in said
    assert "less of the cement" in said


def test_a_dose_decided_already_is_in_every_recipe(open_page: Callable[..., Any], shelf: Any) -> None:
    wants(shelf, WANTED, fixed={"black-iron-oxide": 0.004})
    page = open_page("match", library="own")
    assert all(each.loads["black-iron-oxide"] == pytest.approx(0.004, abs=1e-4) for each in recipes(page))
    press(page, "Let it be chosen")
    assert in_hand(page).found.recipes[0].limits.fixed_loads == {}


def test_another_device_is_never_overwritten(found: Any, shelf: Any) -> None:
    """The phone changes the shade while the laptop still shows the old one."""
    wants(shelf, Shade((70.0, 2.0, 8.0)))
    lab_field(found, "Most pigments").set_value("2").run()
    assert any("another device" in each.value for each in found.warning)
    assert draft(shelf, "match").content["given"]["lab"] == [70.0, 2.0, 8.0]
    np.testing.assert_allclose(in_hand(found).wanted.shade.lab, [70.0, 2.0, 8.0])


def test_undo_takes_back_one_step_and_says_which(found: Any, shelf: Any) -> None:
    wants(shelf, WANTED, chosen=dict(recipes(found)[1].loads))
    found.run()
    press(found, "Undo: the way tapped")
    assert "chosen" not in draft(shelf, "match").content
    assert any("Undone: the way tapped" in each.value.replace("\\", "") for each in found.success)


@pytest.mark.slow
def test_the_first_recipe_that_the_readme_tells_is_the_pages(open_page: Callable[..., Any]) -> None:
    told = " ".join((Path(__file__).parents[2] / "README.md").read_text("utf-8").split())
    cement, doses, total = re.search(r"For (\d+) g of white cement: (.+?), ([\d.]+) % of the cement", told).groups()
    page = open_page("match")
    card = next(each.value for each in page.html if "<table><tbody>" in each.value)
    weighed = dict(reversed(dose.split(" g ")) for dose in re.split(", | and ", doses))
    assert re.findall(r"<td>(.+?)</td><td>(.+?) g</td>", card) == [(n.capitalize(), g) for n, g in weighed.items()]
    assert f"for {cement} g of White cement, pigment {total} % of cement" in card
    name, blend = re.search(
        r"one part of (.+?) into nine parts of the cement, and of that mixture weigh ([\d.]+) g", told
    ).groups()
    offered = next(each.value for each in page.markdown if "pre\\-blend" in each.value).replace("\\", "")
    assert f"Weigh {blend} g of a pre-blend of 1 part {name.capitalize()}" in offered


def test_the_grams_on_the_card_are_those_of_the_sheet(found: Any, shelf: Any) -> None:
    shelf.save(Mould(name="Cup", fill_weight_g=420.0))
    found.run()
    shown = next(each.value for each in found.html if "<table><tbody>" in each.value)
    press(found, "Weigh it")
    (batch,) = shelf.list(BatchRecord)
    (bowl,) = plan_of(batch).batch.bowls
    assert bowl.pigments_g
    for grams in bowl.pigments_g.values():
        assert f">{grams:.1f} g<" in shown  # the places of a scale of 0.1 g
