"""Regions, corners and maps between them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.errors import PhotoError
from colormatch.photo import from_fractions, tile_sheet_regions, to_fractions
from colormatch.photo.regions import apply_homography, fit_homography, homography, inside, quadrilateral, region_outline

SIZE = (400, 300)
SLANTED = np.array([[40.0, 30], [300, 60], [280, 250], [60, 220]])


def test_a_box_may_be_dragged_from_any_corner() -> None:
    wanted = region_outline((10, 20, 110, 90), SIZE)
    for box in ((110, 90, 10, 20), (10, 90, 110, 20)):
        assert np.array_equal(region_outline(box, SIZE), wanted)


@pytest.mark.parametrize(
    ("region", "words"),
    [
        ((10, 10, 500, 90), "outside the picture"),
        ((-20, 10, 50, 90), "outside the picture"),
        ((10, 10, 12, 90), "at least"),
        ((10, 10, float("nan"), 90), "not a number"),
        ((1, 2, 3), "shape"),
        ("pot", "four numbers"),
    ],
)
def test_bad_regions_say_what_is_wrong(region: object, words: str) -> None:
    with pytest.raises(PhotoError, match=words):
        region_outline(region, SIZE)  # type: ignore[arg-type]


@given(st.lists(st.floats(0, 1), min_size=4, max_size=4))
@settings(max_examples=30)
def test_fractions_there_and_back(box: list[float]) -> None:
    assert np.allclose(to_fractions(from_fractions(box, SIZE), SIZE), box)


def test_homography_carries_the_corners_and_is_recovered_from_any_points() -> None:
    matrix = homography(SLANTED)
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    assert np.allclose(apply_homography(matrix, square), SLANTED)
    points = np.random.default_rng(2).uniform(0, 1, (12, 2))
    assert np.allclose(fit_homography(points, apply_homography(matrix, points)), matrix, atol=1e-9)


def test_corners_must_go_round_clockwise() -> None:
    quadrilateral(SLANTED, name="The chart")
    for wrong in (SLANTED[::-1], SLANTED[[0, 2, 1, 3]]):
        with pytest.raises(PhotoError, match="clockwise"):
            quadrilateral(wrong, name="The chart")


def test_inside_agrees_with_the_area() -> None:
    points = np.stack(np.meshgrid(np.arange(400) + 0.5, np.arange(300) + 0.5), axis=-1).reshape(-1, 2)
    x, y = SLANTED.T
    area = 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))  # shoelace
    assert abs(inside(SLANTED, points).sum() - area) < 0.01 * area


def test_a_sheet_is_read_in_reading_order_within_its_tiles() -> None:
    regions = tile_sheet_regions(SLANTED, rows=3, columns=4)
    assert len(regions) == 12
    middles = np.array([r.mean(axis=0) for r in regions])
    assert (np.diff(middles[:4, 0]) > 0).all()
    assert (middles[4:8, 1] > middles[:4, 1]).all()
    whole = homography(SLANTED)
    back = np.concatenate([apply_homography(np.linalg.inv(whole), r) for r in regions])
    assert back.min() > 0
    assert back.max() < 1
    first = apply_homography(np.linalg.inv(whole), regions[0])
    assert np.allclose(np.ptp(first, axis=0), [0.6 / 4, 0.6 / 3])


@pytest.mark.parametrize(
    "bad", [{"rows": 0, "columns": 3}, {"rows": 40, "columns": 30}, {"rows": 2, "columns": 2, "share": 1.2}]
)
def test_a_sheet_of_no_or_too_many_tiles_is_refused(bad: dict[str, float]) -> None:
    with pytest.raises(PhotoError, match=r"it must have 1 to 400 tiles|it must be from 0.1 to 0.95"):
        tile_sheet_regions(SLANTED, **bad)  # type: ignore[arg-type]
