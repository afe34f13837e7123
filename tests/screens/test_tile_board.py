"""The board of own tiles on the page: measured once beside the chart, then a reference without it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.difference import delta_e_2000
from colormatch.screens.measuring import BOARD
from colormatch.workshop.tile_board import own_board
from tests.screens.test_match import in_hand, press
from tests.screens.test_match_photograph import choose, marked, with_photograph
from tests.worlds.camera import Scene, photograph
from tests.worlds.scenes import board_corners, cement_spectra, chart24, chart_corners, tile, tile_board

SPECTRA = cement_spectra(4, 13)
BOARD_AND_PIECE = (
    *tile_board(board_corners((390, 480), 500), SPECTRA[:12]),
    tile("piece", (720, 420, 840, 540), SPECTRA[12]),
)


@pytest.mark.slow
def test_the_board_is_measured_beside_the_chart_and_then_stands_in_for_it(
    open_page: Callable[..., Any], own_library: Any
) -> None:
    chart = chart24(chart_corners((390, 150), 330))
    first = photograph(Scene((900, 700), (*BOARD_AND_PIECE, *chart)), "camera-c", "window", 5)
    page = choose(with_photograph(open_page, first), "reference", BOARD)
    page = marked(page, {"region": first[1].regions["piece"]}, first[1])
    assert any("no tile board yet" in each.value for each in page.error)
    page.button(key="match.board.measure").click().run()
    board = own_board(own_library)
    assert board is not None
    assert len(board.shades) == 12
    assert not page.error

    later = photograph(Scene((900, 700), BOARD_AND_PIECE), "camera-a", "daylight", 6)
    press(page, "Take another").file_uploader[0].set_value(("later.jpg", later[0], "image/jpeg")).run()
    page = choose(page.run(), "reference", BOARD)
    marked(page, {"region": later[1].regions["piece"]}, later[1])
    assert not page.error
    assert float(delta_e_2000(in_hand(page).wanted.shade.lab, later[1].lab["piece"])) < 2.0
