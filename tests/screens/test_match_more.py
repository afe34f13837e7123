"""Further ways in and out of Match, Swatches and Two tones: bases, lights, spectra, many shades, colour names."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.colorimetry import reflectance_to_lab
from colormatch.library import RecipeRecord, Swatch, save_draft
from colormatch.science import colour_science
from colormatch.screens.match_limits import ANOTHER_LAMP
from colormatch.starter import starter_palette
from colormatch.workshop.lights import lights
from tests.screens.tapped import lab_field
from tests.screens.test_match import FIELD, WANTED, found, in_hand, recipes, shelf, wants  # noqa: F401 - fixtures

pytestmark = pytest.mark.slow
LAMP = "\n".join(["nm,power", *(f"{nm},{nm}" for nm in range(380, 781, 20))]).encode()


def shown(page: Any) -> str:
    return " ".join(each.value for each in (*page.html, *page.markdown)).replace("\\", "")


def test_amounts_stand_in_the_basis_she_chose(found: Any) -> None:  # noqa: F811
    assert "% of cement" in shown(found)
    found.selectbox(key=f"{FIELD}basis").set_value("g per kg dry mix").run()
    lab_field(found, "Sand or filler, parts for 1 of cement").set_value("2,0").run()
    recipe = recipes(found)[0]
    total = 1000 * recipe.total_load / (3 + recipe.total_load)
    assert f"{total:.3g} g per kg dry mix" in shown(found)


def test_a_lamp_of_hers_is_kept_and_recipes_are_held_against_it(found: Any, shelf: Any) -> None:  # noqa: F811
    before = recipes(found)[0].inconstancy
    found.file_uploader(key="lamp.file").set_value(("lamp.csv", LAMP, "text/csv")).run()
    found.text_input(key="work|own|form lamp||field|name").set_value("Over the bench").run()
    found.button(key="lamp.keep").click().run()
    assert not found.error
    assert lights(shelf)["Over the bench"] == "Over the bench"
    assert recipes(found)[0].inconstancy != before
    assert "from daylight to Over the bench" in shown(found)


def test_any_lamp_by_its_name_and_a_wrong_one_is_a_sentence(found: Any) -> None:  # noqa: F811
    found.selectbox(key=f"{FIELD}light").set_value(ANOTHER_LAMP).run()
    found.text_input(key=f"{FIELD}lamp").set_value("moon").run()
    assert "no lamp called" in found.error[0].value
    found.text_input(key=f"{FIELD}lamp").set_value("FL2").run()
    assert not found.error
    assert "from daylight to FL2" in shown(found)


def test_a_spectrum_is_a_wanted_shade(open_page: Callable[..., Any], shelf: Any) -> None:  # noqa: F811
    body = starter_palette().reflectance({"red-iron-oxide": 0.02}, "white-cement")
    table = "\n".join(["nm,rosy", *(f"{400 + 10 * i},{value:.6f}" for i, value in enumerate(body))]).encode()
    page = open_page("match", library="own")
    page.file_uploader(key="match.spectrum").set_value(("mine.csv", table, "text/csv")).run()
    page.button(key="match.spectrum.take").click().run()
    wanted = in_hand(page).wanted
    assert wanted.shade.lab == pytest.approx(reflectance_to_lab(body), abs=1e-3)
    assert recipes(page)[0].metamerism == pytest.approx(0, abs=0.3)
    assert "Against the spectrum that is wanted" in shown(page)
    again = open_page("match", library="own")
    assert in_hand(again).wanted.spectrum == pytest.approx(body, abs=1e-5)


def test_a_broken_spectrum_is_a_sentence(open_page: Callable[..., Any], shelf: Any) -> None:  # noqa: F811
    page = open_page("match", library="own")
    page.file_uploader(key="match.spectrum").set_value(("cut.txt", b"BEGIN_DATA_FORMAT\nnm400", "text/plain")).run()
    assert "cut short" in page.error[0].value.replace("\\", "")


def test_a_shade_card_becomes_one_table(open_page: Callable[..., Any], shelf: Any) -> None:  # noqa: F811
    wants(shelf, WANTED)
    page = open_page("match", library="own")
    card = b"name,L,a,b\nclay,55,15,18\npink,70,55,-5\n"
    page.file_uploader(key="many.file").set_value(("card.csv", card, "text/csv")).run()
    page.button(key="many.find").click().run()
    assert "1 of 2 shades are within reach" in shown(page)
    assert "Out of reach by" in shown(page)
    assert page.get("download_button")
    page.file_uploader(key="many.file").set_value(("card.csv", b"name,L\nclay,5\n", "text/csv")).run()
    page.button(key="many.find").click().run()
    assert "Line 2" in page.error[0].value


def test_a_recipe_from_elsewhere_becomes_a_swatch(open_page: Callable[..., Any], shelf: Any) -> None:  # noqa: F811
    page = open_page("swatches", library="own")
    key = "work|own|form elsewhere||field|"
    page.text_input(key=f"{key}name").set_value("From a book").run()
    page.selectbox(key=f"{key}basis").set_value("% of dry mix").run()
    page.multiselect(key=f"{key}jars").set_value(["red-iron-oxide"]).run()
    page.text_input(key="kept|own|number.elsewhere.sand").set_value("2").run()
    amount = "kept|own|number.elsewhere.amount.red-iron-oxide"
    page.text_input(key=amount).set_value("4").run()
    page.button(key="elsewhere.keep").click().run()
    assert "of cement" in page.error[0].value.replace("\\", "")  # 12.5 %
    page.text_input(key=amount).set_value("1,2").run()
    page.button(key="elsewhere.keep").click().run()
    assert [each.name for each in shelf.list(Swatch)] == ["From a book"]
    assert shelf.list(RecipeRecord)[0].loads["red-iron-oxide"] == pytest.approx(0.012 * 3 / 0.988)


def test_colour_names_and_colour_vision_stand_beside_the_numbers(
    open_page: Callable[..., Any], shelf: Any, found: Any  # noqa: F811
) -> None:  # fmt: skip
    colour_science()
    found.run().toggle(key="match.munsell").set_value(True).run()
    assert "Munsell " in shown(found)
    found.text_input(key=f"{FIELD}name").set_value("Rosy").run()
    found.button(key="match.keep").click().run()
    swatch = shelf.list(Swatch)[0]
    assert "Munsell " in shown(open_page("swatches", library="own", address={"swatch": swatch.uid}))
    tone = {"name": "Rosy", "base": "white-cement", "loads": {"red-iron-oxide": 0.02}}
    save_draft(shelf, "design", content={"first": tone, "second": {**tone, "name": "Pale", "loads": {}}})
    assert "colour-vision deficiencies" in shown(open_page("two_tones", library="own"))


def test_a_fresh_shade_says_how_it_will_look_dry_whatever_is_in_it(found: Any) -> None:  # noqa: F811
    assert "once it is dry" not in " ".join(each.value for each in found.subheader)
    found.selectbox(key=f"{FIELD}state").set_value("demould").run()
    assert "As it is wanted, once it is dry" in [each.value for each in found.subheader]
    found.toggle(key="match.dry").set_value(True).run()
    assert "Whatever is in it: about" in shown(found)
    assert "dry, about" in shown(found)
