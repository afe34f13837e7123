"""Tiles: advised from the shelf, listed on any device, measured from one photograph, learned from, undone."""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from colormatch.library import Cement, LearnedPalette, ShadeRecord, TileRecord
from colormatch.shade import Shade
from colormatch.studio import studio_palette
from colormatch.workshop.lots import Question, accept
from colormatch.workshop.materials import add_bag, add_jar
from colormatch.workshop.shelf import shelf
from colormatch.workshop.tile_list import added, as_table, left_out, tile_list
from tests.screens.driven import labels, press
from tests.screens.tapped import lab_field

KEPT = "kept|own|"


def labelled(widgets: Any, label: str) -> Any:
    return next(each for each in widgets if each.label == label)


@pytest.fixture
def shelved(own_library: Any) -> Any:
    add_bag(own_library, "White, quick", like="white-cement")
    add_jar(own_library, "Brick red", like="red-iron-oxide")
    add_jar(own_library, "Ochre", like="yellow-iron-oxide")
    return own_library


def jar(library: Any, name: str) -> str:
    return next(each.uid for each in shelf(library).pigments if each.name == name)


def shown(page: Any) -> str:
    return " ".join(each.value for each in page.html)


def test_the_list_is_found_again_on_another_device(open_page: Callable[..., Any], shelved: Any) -> None:
    page = press(open_page("tiles", library="own"), "What to cast")
    listed = tile_list(shelved)
    assert listed is not None
    assert len(listed.tiles) == 5
    assert "5 tiles to cast" in shown(page)
    assert "5 tiles to cast" in shown(open_page("tiles", library="own"))


def test_a_list_that_was_emptied_by_hand_is_no_advice(open_page: Callable[..., Any], shelved: Any) -> None:
    press(open_page("tiles", library="own"), "What to cast")
    while (listed := tile_list(shelved)) is not None and listed.tiles:
        left_out(shelved, listed, 0)
    page = open_page("tiles", library="own")
    assert "No tile is worth casting" not in shown(page)
    assert "What to cast" in labels(page)


def test_a_jar_of_a_small_maximum_has_its_own_tint(open_page: Callable[..., Any], shelved: Any) -> None:
    add_jar(shelved, "Strong blue", like="cobalt-blue", maximum_load=0.002)
    page = open_page("tiles", library="own", address={"view": "How sure"})
    assert not page.error
    assert "0.2 %: " in shown(page)


def test_the_first_tiles_of_one_jar(open_page: Callable[..., Any], shelved: Any) -> None:
    page = open_page("tiles", library="own")
    page.selectbox(key=f"{KEPT}tiles.jar").set_value(jar(shelved, "Ochre")).run()
    page = press(page, "Plan its first tiles")
    listed = tile_list(shelved)
    assert listed is not None
    assert {name for tile in listed.tiles for name in tile.grams} == {jar(shelved, "Ochre")}
    assert "Ochre" in shown(page)


def test_what_was_weighed_otherwise_is_noted_and_text_refused(open_page: Callable[..., Any], shelved: Any) -> None:
    red = jar(shelved, "Brick red")
    added(shelved, None, shelf(shelved).cements[0].uid, {red: 2.0})
    page = open_page("tiles", library="own")
    field = next(each for each in page.text_input if each.label == "Brick red, g")
    assert field.value == "2"
    field.set_value("abc")
    press(page, "Weighed so")
    assert "is no number" in page.error[0].value
    next(each for each in page.text_input if each.label == "Brick red, g").set_value("2,4")
    press(page, "Weighed so")
    listed = tile_list(shelved)
    assert listed is not None
    assert listed.tiles[0].grams == {red: 2.4}


def test_a_table_filled_in_elsewhere_is_taken_and_learned_from(open_page: Callable[..., Any], shelved: Any) -> None:
    red = jar(shelved, "Brick red")
    listed = added(shelved, None, shelf(shelved).cements[0].uid, {red: 0.2})
    page = open_page("tiles", library="own")
    assert "2.0 g Brick red as a pre-blend 1:9" in shown(page)
    heading, row = csv.reader(as_table(listed.cast, studio_palette(shelved)).splitlines())
    at = heading.index("L")
    row[at : at + 3] = ["80", "6", "5"]
    content = "\n".join(";".join(each) for each in (heading, row)).encode()
    page.file_uploader(key="tiles.table").set_value(("tiles.csv", content, "text/csv")).run()
    press(page, "Take the table")
    assert "Learned from 1 measured shades" in page.success[0].value
    assert tile_list(shelved) is None


@pytest.mark.slow
def test_nine_tiles_in_one_photograph_are_kept_and_learned_from(
    open_page: Callable[..., Any], shelved: Any, photographed: tuple[bytes, Any]
) -> None:
    content, facts = photographed
    red = jar(shelved, "Brick red")
    listed = None
    for place in range(9):
        listed = added(shelved, listed, shelf(shelved).cements[0].uid, {red: place / 2})
    boxes = np.array([facts.regions[f"tile {n}"] for n in range(1, 10)])
    half_x, half_y = (boxes[1, 0] - boxes[0, 0]) / 2, (boxes[3, 1] - boxes[0, 1]) / 2
    centres = np.column_stack([boxes[:, [0, 2]].mean(axis=1), boxes[:, [1, 3]].mean(axis=1)])
    (x0, y0), (x1, y1) = centres[0] - (half_x, half_y), centres[8] + (half_x, half_y)
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) / facts.size
    page = open_page("tiles", library="own", address={"view": "Measure"})
    page.file_uploader[0].set_value(("tiles.jpg", content, "image/jpeg")).run()
    for field, value in zip([f for f in page.text_input if f.label[0] in "xy"], corners.ravel(), strict=True):
        field.set_value(f"{100 * np.clip(value, 0, 1):.4f}")
    press(page, "Use these numbers")
    press(page, "Measure the tiles")
    assert not page.error
    labelled(page.button_group, "Leave out").set_value([9]).run()
    press(page, "Keep 8 tiles and learn")
    assert "Learned from 8 measured shades" in page.success[0].value
    tiles = {each.uid: each for each in shelved.list(TileRecord)}
    assert len(tiles) == 8
    assert tile_list(shelved).tiles == listed.tiles[8:]  # waits to be measured
    assert shelved.count(LearnedPalette) == 1
    for shade in shelved.list(ShadeRecord):
        load = tiles[shade.tile_uid].loads.get(red, 0.0)
        truth = facts.lab[f"tile {1 + round(200 * load)}"]
        assert float(delta_e_2000(np.array(shade.lab), truth)) < 3 * max(shade.shade().sd, 1.0)
    press(page, "Undo this learning")
    assert studio_palette(shelved).tiles_learned == 0
    labelled(page.button_group, "View").set_value("How sure").run()
    assert "about 0." not in shown(page)  # nothing of it is left on the page either
    assert "What the learning found" not in [each.label for each in page.expander]
    assert shelved.count(TileRecord) == 8


@pytest.mark.slow
def test_a_new_bag_is_taken_back_in_one_press(open_page: Callable[..., Any], shelved: Any) -> None:
    (old,) = shelved.list(Cement)
    for day, lightness in ((1, 90.0), (2, 70.0)):
        blank = shelved.save(TileRecord(cement_uid=old.uid, cast_on=date(2026, 10, day)))
        shade = Shade((lightness, 0, 4), sd=0.3)
        shelved.save(ShadeRecord.of(shade, tile_uid=blank.uid, state="dry", provenance={"kind": "measured"}))
    new = accept(shelved, Question("bag", old.uid, (blank.uid,), ""))
    assert {each.cement_uid for each in shelved.list(TileRecord)} == {old.uid, new.uid}
    page = press(open_page("tiles", library="own", address={"view": "How sure"}), "Undo: it is the same")
    assert any("Undone: its tiles are White" in each.value.replace("\\", "") for each in page.success)
    assert [each.uid for each in shelved.list(Cement)] == [old.uid]
    assert {each.cement_uid for each in shelved.list(TileRecord)} == {old.uid}


@pytest.fixture
def adding(open_page: Callable[..., Any], shelved: Any) -> Any:
    return open_page("tiles", library="own", address={"view": "Measure"})


def add(page: Any, name: str, per_cent: str, lab: tuple[float, float, float], state: str = "dry") -> Any:
    labelled(page.multiselect, "Jars in it").set_value([name]).run()
    page.text_input(key=f"kept|own|number.tile.load.{name}").set_value(per_cent).run()
    labelled(page.selectbox, "It is").set_value(state).run()
    for axis, value in zip(("L*", "a*", "b*"), lab, strict=True):
        lab_field(page, axis).set_value(f"{value:g}")
    press(page, "Take this shade")
    return press(page, "Keep the tile and learn")


@pytest.mark.slow
def test_the_same_tile_in_another_state_is_one_tile(adding: Any, shelved: Any) -> None:
    red = jar(shelved, "Brick red")
    add(adding, red, "2", (48.0, 20.0, 15.0))
    add(adding, red, "2", (38.0, 22.0, 17.0), state="wet")
    (tile,) = shelved.list(TileRecord)
    assert dict(tile.loads) == pytest.approx({red: 0.02})
    assert {each.state for each in shelved.list(ShadeRecord, tile_uid=tile.uid)} == {"dry", "wet"}
    assert all(each.provenance["kind"] == "measured" for each in shelved.list(ShadeRecord))


def test_too_much_pigment_is_a_sentence_and_stays_typed(adding: Any, shelved: Any) -> None:
    red = jar(shelved, "Brick red")
    labelled(adding.multiselect, "Jars in it").set_value([red]).run()
    field = next(each for each in adding.text_input if each.label.startswith("Brick red"))
    field.set_value("25").run()
    assert "ASTM C979" in adding.error[0].value
    assert next(each for each in adding.text_input if each.label.startswith("Brick red")).value == "25"
    assert shelved.count(TileRecord) == 0


def test_a_measured_spectrum_is_a_tile(adding: Any, shelved: Any) -> None:
    nm = np.arange(400, 701, 10)
    lines = ["nm;R", *(f"{n};{0.2 + 0.001 * (n - 400):.4f}" for n in nm)]
    labelled(adding.button_group, "Measured was").set_value("its spectrum").run()
    adding.file_uploader(key="tile.spectrum").set_value(("s.csv", "\n".join(lines).encode(), "text/csv")).run()
    press(adding, "Keep the tile and learn")
    assert not adding.error
    (shade,) = shelved.list(ShadeRecord)
    assert shade.wavelength_nm == tuple(nm.astype(float))
    assert shade.reflectance[-1] == pytest.approx(0.5)


def test_a_file_without_a_spectrum_is_refused(adding: Any) -> None:
    labelled(adding.button_group, "Measured was").set_value("its spectrum").run()
    adding.file_uploader(key="tile.spectrum").set_value(("s.csv", b"\xff\xfe nothing here", "text/csv")).run()
    assert "holds no spectrum that can be read" in adding.error[0].value


@pytest.mark.slow
def test_the_demo_studio_is_learned_from(open_page: Callable[..., Any]) -> None:
    page = press(open_page("tiles", address={"view": "How sure"}), "Learn again from all tiles")
    report = page.session_state["in hand|demo"].report
    assert len(report.tiles) > 30
    assert f"{report.mean_delta_e:.1f}" in shown(page)
    assert "Learned from" in page.success[0].value
    assert "not tested yet" not in shown(page)


def test_two_jars_are_compared(open_page: Callable[..., Any]) -> None:
    typed = {"tiles.old": "red-iron-oxide", "tiles.new_lot": "brown-iron-oxide"}
    page = press(open_page("tiles", typed=typed, address={"view": "How sure"}), "Compare")
    assert not page.error
    assert any("Brown iron oxide is" in each.value.replace("\\", "") for each in page.markdown)


def test_every_tile_of_the_demo_studio_has_its_states(open_page: Callable[..., Any]) -> None:
    page = open_page("tiles", address={"view": "All"})
    assert "fresh from the mould" in shown(page)
    assert "1.8 % Red" in shown(page) or "Red iron oxide" in shown(page)


def test_an_empty_shelf_is_filled_first(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("tiles", library="own")
    assert "first a cement and a jar" in shown(page)
    assert not page.button_group
