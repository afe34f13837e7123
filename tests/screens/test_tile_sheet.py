"""A sheet of tiles with each reference there is: what is wrong is said at once, and the shades are right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from colormatch.library import CameraProfileRecord, ShadeRecord, TileRecord
from colormatch.photo import measure_photo
from colormatch.screens.measuring import BOARD, GREY, NOTHING, WHITE
from colormatch.workshop.materials import add_bag, add_jar
from colormatch.workshop.shelf import shelf
from colormatch.workshop.tile_board import own_board
from colormatch.workshop.tile_list import added
from tests.screens.driven import press
from tests.worlds.camera import Scene, photograph
from tests.worlds.scenes import board_corners, cement_spectra, chart24, chart_corners, grey_card, tile, tile_board

pytestmark = pytest.mark.slow  # real photographs, each with its decode and its fit
SPECTRA = cement_spectra(4, 15)
TILES = tuple(tile(f"tile {n}", (720, 150 * n - 60, 840, 150 * n + 60), SPECTRA[11 + n]) for n in (1, 2, 3))
CARD = (60, 60, 300, 200)


@pytest.fixture
def listed(own_library: Any) -> Any:
    """Three tiles to measure; the doses tell which is which."""
    base, red = add_bag(own_library, "White", like="white-cement").uid, add_jar(own_library, "Red").uid
    on = None
    for place in range(3):
        on = added(own_library, on, base, {red: place + 1.0})
    assert [each.uid for each in shelf(own_library).cements] == [base]
    return own_library


def labelled(elements: Any, label: str) -> Any:
    return next(each for each in elements if each.label == label)


def sheet(open_page: Callable[..., Any], content: bytes, reference: str) -> Any:
    page = open_page("tiles", library="own", address={"view": "Measure"})
    page.file_uploader[0].set_value(("tiles.jpg", content, "image/jpeg")).run()
    labelled(page.button_group, "Tiles in a row").set_value(1).run()
    return labelled(page.selectbox, "Beside them").set_value(reference).run()


def marked(page: Any, facts: Any, card: tuple[float, ...] | None = None) -> Any:
    """The corners of the block of tiles, and the card, as numbers."""
    width, height = facts.size
    corners = [(705, 15), (855, 15), (855, 585), (705, 585)]
    values = [value / of for x, y in corners for value, of in ((x, width), (y, height))]
    if card:
        values += [value / of for value, of in zip(card, (width, height, width, height), strict=True)]
    names = [f"{axis}{n}" for n in range(1, 5) for axis in "xy"] + ["left", "top", "right", "bottom"]
    fields = [each for each in page.text_input if each.label in names]
    for field, value in zip(fields, values, strict=True):
        field.set_value(f"{100 * value:.3f}".replace(".", ","))
    return press(page, "Use these numbers")


def measured_right(library: Any, facts: Any) -> None:
    tiles = {each.uid: each for each in library.list(TileRecord)}
    shades = library.list(ShadeRecord)
    assert len(shades) == 3
    for shade in shades:
        (load,) = tiles[shade.tile_uid].loads.values()
        truth = facts.lab[f"tile {round(100 * load)}"]
        assert float(delta_e_2000(np.array(shade.lab), truth)) < 3 * max(shade.shade().sd, 1.0)


def kept_right(page: Any, library: Any, facts: Any, reference: str) -> None:
    """Measured, kept and learned as a maker does it, and near the truth."""
    press(page, "Measure the tiles")
    assert not page.error
    press(page, "Keep 3 tiles and learn")
    measured_right(library, facts)
    assert {each.provenance["reference"] for each in library.list(ShadeRecord)} == {reference}


SHEET_OF_PAPER = tile("white sheet", CARD, np.full(31, 0.85), texture=0.005, pits=0)


@pytest.mark.parametrize(("reference", "thing"), [(GREY, grey_card(CARD)), (WHITE, SHEET_OF_PAPER)])
def test_a_card_or_a_sheet_of_paper_tells_the_light(
    open_page: Callable[..., Any], listed: Any, reference: str, thing: Any
) -> None:
    content, facts = photograph(Scene((900, 700), (*TILES, thing)), "camera-a", "daylight", 6)
    page = marked(sheet(open_page, content, reference), facts, facts.regions[thing.name])
    kept_right(page, listed, facts, reference)


def test_an_earlier_chart_of_the_same_camera_serves_alone(open_page: Callable[..., Any], listed: Any) -> None:
    chart = chart24(chart_corners((390, 150), 330))
    earlier, before = photograph(Scene((900, 700), (*TILES, *chart)), "camera-a", "daylight", 5)
    learned = measure_photo(earlier, region=before.regions["tile 1"]).profile
    assert learned is not None
    listed.save(CameraProfileRecord(name=learned.model, content=learned.to_dict()))
    content, facts = photograph(Scene((900, 700), TILES), "camera-a", "daylight", 6)
    kept_right(marked(sheet(open_page, content, NOTHING), facts), listed, facts, NOTHING)


def test_the_board_is_measured_on_the_place_of_tiles_and_tells_the_light_there(
    open_page: Callable[..., Any], listed: Any
) -> None:
    board = tile_board(board_corners((390, 480), 500), SPECTRA[:12])
    chart = chart24(chart_corners((390, 150), 330))
    content, facts = photograph(Scene((900, 700), (*TILES, *board, *chart)), "camera-c", "window", 5)
    page = sheet(open_page, content, BOARD)
    press(page, "Measure the board in this photograph")
    assert own_board(listed) is not None
    press(marked(page, facts), "Measure the tiles")
    assert not page.error
    press(page, "Keep 3 tiles and learn")
    measured_right(listed, facts)


def test_without_a_chart_in_it_the_photograph_says_so_before_anything_is_marked(
    open_page: Callable[..., Any], listed: Any
) -> None:
    content, _ = photograph(Scene((900, 700), (*TILES, grey_card(CARD))), "camera-a", "daylight", 6)
    page = open_page("tiles", library="own", address={"view": "Measure"})
    page.file_uploader[0].set_value(("tiles.jpg", content, "image/jpeg")).run()
    assert any("chart" in each.value for each in page.error)
    labelled(page.selectbox, "Beside them").set_value(BOARD).run()
    press(page, "Measure the board in this photograph")
    assert any("chart" in each.value for each in page.error)
    assert own_board(listed) is None
    assert not page.file_uploader
    press(page, "Take another")  # a photograph that will not do is no dead end
    assert page.file_uploader
