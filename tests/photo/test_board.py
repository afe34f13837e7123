"""A board of own tiles: found, read window by window, and refused when it is not what it should be."""

from __future__ import annotations

import io
import shutil
import subprocess

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

import colormatch as cm
from colormatch.colorimetry import reflectance_to_lab
from colormatch.errors import InputError, PhotoError, ReferenceNotFound
from colormatch.photo import board, load_picture
from colormatch.photo.find_board import find_board
from colormatch.shade import Shade
from tests.photo.test_load import saved
from tests.worlds.camera import Facts, Scene, photograph
from tests.worlds.scenes import board_corners, cement_spectra, chart24, chart_corners, tile, tile_board

SPECTRA = cement_spectra(4, 15)
SHADES = [Shade(lab, sd=0.5) for lab in reflectance_to_lab(SPECTRA)]
CORNERS = board_corners((390, 370), 560, turn=200, tilt=20, tilt_axis=70)
PIECE = tile("piece", (760, 200, 880, 320), SPECTRA[12])


def photographed(laid: np.ndarray = SPECTRA[:12], missing: tuple[int, ...] = ()) -> tuple[bytes, Facts]:
    return photograph(Scene((1000, 750), (*tile_board(CORNERS, laid, missing=missing), PIECE)), "camera-c", "window", 3)


def test_the_board_is_the_reference_found_or_marked() -> None:
    data, facts = photographed()
    found = cm.measure_photo(data, region=facts.regions["piece"], reference=cm.TileBoard(SHADES[:12]))
    marked = cm.measure_photo(data, region=facts.regions["piece"], reference=cm.TileBoard(SHADES[:12], CORNERS))
    assert cm.delta_e_2000(found.shade.lab, facts.lab["piece"]) < 1.2
    assert cm.delta_e_2000(found.shade.lab, marked.shade.lab) < 0.2
    assert [patch.name for patch in found.references] == [f"window {i}" for i in range(1, 13)]
    assert found.warnings == ()
    assert found.profile is None  # her tiles' reflectances are not known well enough to teach of the camera


def test_an_empty_window_is_named_and_one_that_should_be_is_not() -> None:
    data, facts = photographed(missing=(4, 7))
    shades = [*SHADES[:7], None, *SHADES[8:12]]
    photo = cm.measure_photo(data, region=facts.regions["piece"], reference=cm.TileBoard(shades))
    assert any("No tile in window 5 of the board" in note for note in photo.warnings)
    assert len(photo.references) == 10


def test_a_tile_in_anothers_window_is_named_and_left_out() -> None:
    laid = SPECTRA[:12].copy()
    laid[8] = SPECTRA[13]
    data, facts = photographed(laid)
    photo = cm.measure_photo(data, region=facts.regions["piece"], reference=cm.TileBoard(SHADES[:12]))
    assert any("left out: window 9." in note for note in photo.warnings)
    assert "window 9" not in [patch.name for patch in photo.references]
    assert cm.delta_e_2000(photo.shade.lab, facts.lab["piece"]) < 1.2


def test_another_board_and_a_bare_one_are_refused() -> None:
    data, facts = photographed(SPECTRA[:12][::-1])
    with pytest.raises(ReferenceNotFound, match="not read rightly"):
        cm.measure_photo(data, region=facts.regions["piece"], reference=cm.TileBoard(SHADES[:12]))
    data, facts = photographed(missing=tuple(range(7)))
    with pytest.raises(ReferenceNotFound, match="Only 5 tiles lie on the board"):
        cm.measure_photo(data, region=facts.regions["piece"], reference=cm.TileBoard(SHADES[:12]))
    with pytest.raises(PhotoError, match="12 windows; 3 shades were given"):
        cm.measure_photo(data, region=facts.regions["piece"], reference=cm.TileBoard(SHADES[:3]))


def test_what_is_no_board_is_not_taken_for_one() -> None:
    chart, _ = photograph(Scene((800, 600), chart24(chart_corners((400, 300), 500))), seed=2)
    with pytest.raises(ReferenceNotFound, match="The tile board was not found"):
        find_board(load_picture(chart))
    with pytest.raises(ReferenceNotFound, match="no closed dark border"):
        find_board(load_picture(saved(Image.new("RGB", (300, 200), (200, 200, 200)), "PNG")))


def test_the_board_is_measured_once_with_a_chart() -> None:
    things = (*tile_board(board_corners((390, 480), 500), SPECTRA[:12]), *chart24(chart_corners((390, 150), 330)))
    data, _ = photograph(Scene((800, 700), things), "camera-a", "daylight", 5)
    photos = cm.measure_board(data)
    off = cm.delta_e_2000([p.shade.lab for p in photos], reflectance_to_lab(SPECTRA[:12]))
    assert off.mean() < 1.0


def test_tiles_for_the_board_are_spread_over_her_shades() -> None:
    lab = np.concatenate(
        [np.random.default_rng(1).normal((60, 5, 10), 1, (30, 3)), [(30, 0, 0), (50, 40, 20), (80, 0, 40)]]
    )
    chosen = cm.tiles_for_board([Shade(each) for each in lab], count=8)
    assert {30, 31, 32} <= set(chosen)
    assert len(set(chosen)) == 8
    with pytest.raises(PhotoError, match="There are 3 shades to choose from"):
        cm.tiles_for_board(SHADES[:3])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_frame_fits_its_paper_and_is_found_as_printed(paper: str) -> None:
    page = PdfReader(io.BytesIO(cm.board_pdf(paper))).pages[0]
    size = np.array([float(v) for v in page.mediabox[2:]]) / 72 * 25.4
    assert size == pytest.approx({"A4": (297, 210), "Letter": (279.4, 215.9)}[paper], abs=0.1)
    assert (size - (board.WIDTH, board.HEIGHT)).min() > 20  # of paper, both sides together
    assert all(str(number) in page.extract_text() for number in range(1, 13))
    assert (shutil.which("pdftoppm") or "") != "", "pdftoppm (poppler-utils) draws the page"
    drawn = subprocess.run(
        ["pdftoppm", "-r", "100", "-png"], input=cm.board_pdf(paper), capture_output=True, check=True
    )
    corners = find_board(load_picture(drawn.stdout))
    first = (size - (board.WIDTH, board.HEIGHT)) / 2
    wanted = first + np.array([[0, 0], [board.WIDTH, 0], [board.WIDTH, board.HEIGHT], [0, board.HEIGHT]])
    assert corners / 100 * 25.4 == pytest.approx(wanted, abs=0.5)


def test_another_paper_is_refused() -> None:
    with pytest.raises(InputError, match="choose one of: A4, Letter"):
        cm.board_pdf("A3")
