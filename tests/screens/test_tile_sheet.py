"""A sheet of tiles: nine tiles of one simulated photograph, read in order and kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from colormatch.errors import ColormatchError, InputError, UnknownNameError
from colormatch.library import ShadeRecord, TileRecord
from colormatch.screens.tile_sheet import make_ups
from colormatch.starter import starter_palette

LINES = ["blank", *(f"red-iron-oxide {n / 2}" for n in range(1, 8)), "-"]


def test_lines_are_read() -> None:
    palette = starter_palette()
    text = "blank\nred-iron-oxide 2, Titanium white = 1.5 %\n\n - \n"
    assert make_ups(text, 3, palette) == [
        {},
        {"red-iron-oxide": pytest.approx(0.02), "titanium-white": pytest.approx(0.015)},
        None,
    ]


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("blank", InputError, "2 tiles and 1 lines"),
        ("blank\nred-iron-oxide", InputError, "Line 2"),
        ("blank\nmagenta 2", UnknownNameError, "magenta"),
        ("blank\nred-iron-oxide 50", ColormatchError, "red-iron-oxide"),
    ],
)
def test_what_cannot_be_read_is_named(text: str, error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words):
        make_ups(text, 2, starter_palette())


def test_nine_tiles_in_one_photograph(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    content, facts = photographed
    boxes = np.array([facts.regions[f"tile {n}"] for n in range(1, 10)])
    half_x, half_y = (boxes[1, 0] - boxes[0, 0]) / 2, (boxes[3, 1] - boxes[0, 1]) / 2
    centres = np.column_stack([boxes[:, [0, 2]].mean(axis=1), boxes[:, [1, 3]].mean(axis=1)])
    (x0, y0), (x1, y1) = centres[0] - (half_x, half_y), centres[8] + (half_x, half_y)
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) / facts.size
    page = open_page("tiles", library="own")
    page.radio(key="kept|own|tiles.part").set_value("Add a sheet of tiles").run()
    page.file_uploader(key="sheet.file").set_value(("tiles.jpg", content, "image/jpeg")).run()
    for field, value in zip([f for f in page.number_input if f.label[0] in "xy"], corners.ravel(), strict=True):
        field.set_value(100 * float(np.clip(value, 0, 1)))
    next(each for each in page.button if each.label == "Use these numbers").click().run()
    page.number_input(key="kept|own|sheet.rows").set_value(3)
    page.text_area(key="kept|own|sheet.lines").set_value("\n".join(LINES)).run()
    page.button(key="sheet.measure").click().run()
    assert not page.error
    page.button(key="sheet.keep").click().run()
    assert own_library.count(TileRecord) == 8
    tiles = {each.uid: each for each in own_library.list(TileRecord)}
    for shade in own_library.list(ShadeRecord):
        load = tiles[shade.tile_uid].loads.get("red-iron-oxide", 0.0)
        truth = facts.lab[f"tile {1 + round(200 * load)}"]
        assert float(delta_e_2000(np.array(shade.lab), truth)) < 3 * max(shade.shade().sd, 1.0)
