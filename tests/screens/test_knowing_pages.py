"""Tiles and studio: tiles go in and are learned from; materials, moulds and the studio's numbers are kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.library import Cement, LearnedPalette, Mould, PigmentRecord, ShadeRecord, Studio, TileRecord
from colormatch.screens.measuring import NUMBERS
from colormatch.screens.tile_entry import read_spectrum

KEPT = "kept|own|"


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


@pytest.fixture
def adding(open_page: Callable[..., Any], own_library: Any) -> Any:
    page = open_page("tiles", library="own")
    page.radio(key=f"{KEPT}tiles.part").set_value("Add a tile").run()
    page.radio(key=f"{KEPT}tile.way").set_value(NUMBERS).run()
    return page


def add(page: Any, loads: dict[str, float], lab: tuple[float, float, float], state: str = "dry") -> Any:
    page.multiselect(key=f"{KEPT}tile.pigments").set_value(list(loads)).run()
    for name, load in loads.items():
        page.number_input(key=f"{KEPT}tile.load.{name}").set_value(100 * load)
    page.selectbox(key=f"{KEPT}tile.state").set_value(state).run()
    for name, value in zip(("L*", "a*", "b*"), lab, strict=True):
        page.number_input(key=f"{KEPT}tile.{name}").set_value(value)
    press(page, "Take this shade")
    page.button(key="tile.keep").click().run()
    return page


def test_a_tile_is_kept_with_its_shade(adding: Any, own_library: Any) -> None:
    add(adding, {"red-iron-oxide": 0.02}, (48.0, 20.0, 15.0))
    assert not adding.error
    (tile,) = own_library.list(TileRecord)
    assert dict(tile.loads) == pytest.approx({"red-iron-oxide": 0.02})
    (shade,) = own_library.list(ShadeRecord, tile_uid=tile.uid)
    assert shade.provenance["kind"] == "measured"


def test_the_same_tile_in_another_state_is_one_tile(adding: Any, own_library: Any) -> None:
    add(adding, {"red-iron-oxide": 0.02}, (48.0, 20.0, 15.0))
    add(adding, {"red-iron-oxide": 0.02}, (38.0, 22.0, 17.0), state="wet")
    assert own_library.count(TileRecord) == 1
    assert {each.state for each in own_library.list(ShadeRecord)} == {"dry", "wet"}


def test_too_much_pigment_is_a_sentence_and_stays_typed(adding: Any, own_library: Any) -> None:
    adding.multiselect(key=f"{KEPT}tile.pigments").set_value(["red-iron-oxide"]).run()
    adding.number_input(key=f"{KEPT}tile.load.red-iron-oxide").set_value(25.0).run()
    assert "ASTM C979" in adding.error[0].value
    assert adding.number_input(key=f"{KEPT}tile.load.red-iron-oxide").value == 25.0
    assert own_library.count(TileRecord) == 0


def test_a_measured_spectrum_is_a_tile(adding: Any, own_library: Any) -> None:
    nm = np.arange(400, 701, 10)
    lines = ["nm;R", *(f"{n};{0.2 + 0.001 * (n - 400):.4f}" for n in nm)]
    adding.radio(key=f"{KEPT}tile.what").set_value("its spectrum").run()
    adding.file_uploader(key="tile.spectrum").set_value(("s.csv", "\n".join(lines).encode(), "text/csv")).run()
    adding.button(key="tile.keep").click().run()
    assert not adding.error
    (shade,) = own_library.list(ShadeRecord)
    assert shade.wavelength_nm == tuple(nm.astype(float))
    assert shade.reflectance[-1] == pytest.approx(0.5)


@pytest.mark.parametrize(
    "text",
    [
        "nm,R\n400,0.1\n410,0.2\n",
        "400\t0.1\n410\t0.2",
        "\ufeff400;0.1\r\n410;0.2\r\n",
        "# made today\n400 0.1\n410 0.2",
        "400;0,1\n410;0,2",
    ],
)
def test_spectra_are_read_whatever_parts_the_columns(text: str) -> None:
    assert read_spectrum(text.encode()) == ([400.0, 410.0], [0.1, 0.2])


def test_a_file_without_numbers_is_refused() -> None:
    with pytest.raises(InputError, match="no two columns of numbers"):
        read_spectrum(b"\xff\xfe nothing here")


def test_the_demo_studio_is_learned_from(open_page: Callable[..., Any]) -> None:
    page = open_page("tiles")
    page.button(key="tiles.learn").click().run()
    assert not page.error
    report = page.session_state["in hand|demo"].report
    assert len(report.tiles) > 30
    shown = " ".join(each.value for each in page.html)
    assert f"{report.mean_delta_e:.2f}" in shown
    tile = next(each for each in report.tiles if each.tile.loads.get("red-iron-oxide") == 0.05)
    assert tile.title not in shown  # the library's uid of it means nothing to a maker
    assert "5 % Red iron oxide on White cement" in shown


def test_two_lots_are_compared(open_page: Callable[..., Any]) -> None:
    page = open_page("tiles", typed={"tiles.old": "red-iron-oxide", "tiles.new_lot": "brown-iron-oxide"})
    page.button(key="tiles.drift").click().run()
    assert not page.error
    assert any("Brown iron oxide is" in each.value.replace("\\", "") for each in page.markdown)


def test_what_to_cast_next(open_page: Callable[..., Any]) -> None:
    page = open_page("tiles")
    page.radio(key="kept|demo|tiles.part").set_value("Cast next").run()
    page.number_input(key="kept|demo|tiles.count").set_value(2)
    press(page, "Which to cast next")
    advice = page.session_state["in hand|demo"].advice
    assert len(advice) == 2
    assert advice[0].after <= advice[0].before
    page.button(key="tiles.plan").click().run()
    assert {each.kind for each in page.session_state["in hand|demo"].plan} >= {"blank", "ladder", "tint"}


def test_no_tiles_is_a_sentence(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("tiles", library="own")
    page.button(key="tiles.learn").click().run()
    assert page.error
    assert "fault of this program" not in page.error[0].value
    assert own_library.count(LearnedPalette) == 0


# --- studio -----------------------------------------------------------------------------------------


def test_the_starter_materials_go_on_the_shelf(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("studio", library="own")
    page.button(key="studio.starter").click().run()
    assert own_library.count(PigmentRecord) == 9
    assert own_library.count(Cement) == 2


def test_a_mould_is_kept_and_one_without_a_name_refused(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("studio", library="own")
    page.radio(key=f"{KEPT}studio.part").set_value("Moulds").run()
    press(page, "Keep")
    assert page.error
    next(each for each in page.text_input if each.label == "Name").set_value("Bowl")
    next(each for each in page.number_input if each.label.startswith("Wet mix")).set_value(655.0)
    press(page, "Keep")
    (mould,) = own_library.list(Mould)
    assert (mould.name, mould.fill_weight_g) == ("Bowl", 655.0)


def type_in(page: Any, label: str, value: Any) -> None:
    fields = [*page.text_input, *page.number_input, *page.selectbox]
    next(each for each in fields if each.label == label).set_value(value)


def test_a_new_lot_is_a_pigment_that_resembles_a_starter_pigment(
    open_page: Callable[..., Any], own_library: Any
) -> None:
    page = open_page("studio", library="own")
    type_in(page, "Name", "Red, second jar")
    type_in(page, "Taken to resemble", "red-iron-oxide")
    type_in(page, "Its own maximum, % of the cement", 4.0)
    press(page, "Keep")
    (pigment,) = own_library.list(PigmentRecord)
    assert (pigment.name, pigment.like, pigment.maximum_load) == ("Red, second jar", "red-iron-oxide", 0.04)
    assert "Kept: Red, second jar" in page.success[0].value.replace("\\", "")
    press(page, "Keep")  # the record just kept is the one in the form: no second one
    assert own_library.count(PigmentRecord) == 1
    page.selectbox(key=f"{KEPT}studio.pigment").set_value("").run()
    type_in(page, "Name", "red, SECOND jar")
    press(page, "Keep")
    assert "is there already" in page.error[0].value
    assert own_library.count(PigmentRecord) == 1


def test_what_was_entered_by_mistake_goes_to_the_bin(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("studio", library="own")
    type_in(page, "Name", "Mistake")
    press(page, "Keep")
    press(page, "Put it in the bin")
    assert not page.error
    assert own_library.count(PigmentRecord) == 0
    assert [each.record.name for each in own_library.bin()] == ["Mistake"]


def test_the_studio_numbers_are_where_the_other_pages_start(open_page: Callable[..., Any], own_library: Any) -> None:
    from colormatch.screens.state import Wanted
    from colormatch.shade import Shade

    page = open_page("studio", library="own")
    page.radio(key=f"{KEPT}studio.part").set_value("The studio").run()
    next(each for each in page.number_input if each.label.startswith("Cap")).set_value(3.0)
    press(page, "Keep")
    assert own_library.get(Studio, "studio").settings["load_cap"] == pytest.approx(0.03)
    recipe = open_page("recipe", library="own", wanted=Wanted(Shade((55, 10, 10)), "typed"))
    assert recipe.number_input(key=f"{KEPT}recipe.cap").value == pytest.approx(3.0)
