"""Finding the 24-patch chart: any turn, perspective, part shadow; and refusing with the reason."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from colormatch.difference import delta_e_2000
from colormatch.errors import ReferenceNotFound
from colormatch.photo import Chart24, load_picture, measure_photo
from colormatch.photo.find_chart import find_chart
from tests.worlds.camera import Scene, photograph
from tests.worlds.scenes import cement_spectra, chart24, chart_corners, patch_outlines, studio_scene, tile

GREY_SHEET = np.full(31, 0.55)


def patch_width(corners: np.ndarray) -> float:
    sides = patch_outlines(corners)
    return float(np.linalg.norm(np.roll(sides, -1, axis=1) - sides, axis=-1).min())


def off(found: np.ndarray, true: np.ndarray) -> float:
    """Largest distance of a corner from where it is, in patches."""
    return float(np.linalg.norm(found - true, axis=1).max() / patch_width(true))


@pytest.mark.parametrize("turn", [0, 45, 90, 135, 180, 250, 270, 315])
def test_found_at_any_turn(turn: float) -> None:
    data, facts = photograph(studio_scene(cement_spectra(1, 3), size=(800, 600), turn=turn), seed=int(turn))
    assert off(find_chart(load_picture(data)), facts.chart_corners) < 0.15


def test_found_in_perspective_and_part_shadow() -> None:
    corners = chart_corners((400, 300), 420, turn=-25, tilt=30, tilt_axis=60)
    half = np.array([[0, 0], [430, 0], [330, 600], [0, 600]], dtype=float)
    scene = Scene((800, 600), chart24(corners), chart_corners=corners, shadow=half, shadow_depth=0.45)
    data, facts = photograph(scene, "camera-c", "window", 5)
    assert off(find_chart(load_picture(data)), facts.chart_corners) < 0.15


def test_found_without_a_dark_frame() -> None:
    corners = chart_corners((400, 300), 420, turn=15)
    scene = Scene((800, 600), chart24(corners)[1:], chart_corners=corners)
    data, facts = photograph(scene, seed=5)
    assert off(find_chart(load_picture(data)), facts.chart_corners) < 0.15


def rows_of_tiles(spectra: np.ndarray) -> Scene:
    tiles = [
        tile(f"{i}", (90 + 105 * (i % 6), 90 + 105 * (i // 6), 180 + 105 * (i % 6), 180 + 105 * (i // 6)), s, pits=0)
        for i, s in enumerate(spectra)
    ]
    return Scene((800, 600), tuple(tiles))


@pytest.mark.slow
def test_a_board_of_other_swatches_is_not_taken_for_the_chart() -> None:
    for seed in range(3):
        data, _ = photograph(rows_of_tiles(cement_spectra(seed, 24)), seed=seed)
        with pytest.raises(ReferenceNotFound, match="not those of the chart"):
            find_chart(load_picture(data))


def test_an_empty_table_is_refused_with_the_reason() -> None:
    data, _ = photograph(Scene((640, 480), ()), seed=1)
    with pytest.raises(ReferenceNotFound, match="no regular pattern"):
        find_chart(load_picture(data))


@pytest.mark.slow
def test_random_pictures_hold_no_chart() -> None:
    rng = np.random.default_rng(4)
    for blocks in (12, 30, 60):
        small = Image.fromarray(rng.integers(0, 255, (blocks, blocks, 3), dtype=np.uint8))
        buffer = io.BytesIO()
        small.resize((720, 720), Image.Resampling.NEAREST).save(buffer, "PNG")
        with pytest.raises(ReferenceNotFound, match="Mark its four corners by hand"):
            find_chart(load_picture(buffer.getvalue()))


def test_a_chart_cut_off_by_the_edge_is_refused() -> None:
    corners = chart_corners((180, 300), 500)
    data, _ = photograph(Scene((800, 600), chart24(corners)), seed=2)
    with pytest.raises(ReferenceNotFound, match="their colours are not those of the chart"):
        find_chart(load_picture(data))


def wrong_corners(true: np.ndarray) -> dict[str, np.ndarray]:
    shift = (true[1] - true[0]) * 1.14 / 6.7
    return {
        "turned by a half": np.roll(true, 2, axis=0),
        "turned by a quarter": np.roll(true, 1, axis=0),
        "a column off": true + shift,
        "a row off": true + (true[3] - true[0]) * 1.14 / 4.42,
        "half a patch off": true + shift / 2,
        "one corner far in": true + np.array([[0, 0], [0, 0], [-90.0, -60], [0, 0]]),
        "far too large": true.mean(axis=0) + 1.4 * (true - true.mean(axis=0)),
    }


@pytest.mark.slow
@pytest.mark.parametrize("mistake", list(wrong_corners(np.array([[0.0, 0], [6, 0], [6, 4], [0, 4]]))))
def test_wrong_corners_are_reported_never_used(mistake: str) -> None:
    corners = chart_corners((430, 300), 400, turn=8)
    scene = Scene((860, 600), (*chart24(corners), tile("tile", (20, 20, 90, 90), GREY_SHEET)), chart_corners=corners)
    data, facts = photograph(scene, seed=3)
    marked = Chart24(wrong_corners(corners)[mistake])
    if mistake != "one corner far in":
        with pytest.raises(ReferenceNotFound, match="not sampled rightly"):
            measure_photo(data, region=facts.regions["tile"], reference=marked)
        return
    # Most patches are still hit: those missed are named and not used.
    photo = measure_photo(data, region=facts.regions["tile"], reference=marked)
    assert any("left out" in note and "black 2" in note for note in photo.warnings)
    assert "black 2" not in [r.name for r in photo.references]
    assert delta_e_2000(photo.shade.lab, facts.lab["tile"]) < 1.5


def test_a_covered_patch_is_left_out_and_named() -> None:
    corners = chart_corners((400, 300), 420)
    cover = tile("cover", tuple(patch_outlines(corners)[7][[0, 2]].ravel()), np.full(31, 0.4), pits=0)
    pot = tile("pot", (20, 20, 90, 90), cement_spectra(5, 1)[0])
    data, facts = photograph(Scene((800, 600), (*chart24(corners), cover, pot)), seed=3)
    photo = measure_photo(data, region=facts.regions["pot"])
    assert any("left out: purplish blue" in note for note in photo.warnings)
    assert "purplish blue" not in [r.name for r in photo.references]
