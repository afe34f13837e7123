"""The 24-patch chart: where its patches lie between four corners, their colours, and whether they were hit.

Corners go clockwise from the dark-skin patch's outer corner, at the outer corners of the 6 x 4 grid.
"""

from __future__ import annotations

import re
from functools import cache
from os import PathLike
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import FloatArray, finite_array, read_only
from ..colorimetry import reflectance_to_lab
from ..data import read_table
from ..difference import delta_e_2000
from ..errors import PhotoError
from .picture import Encoded, Picture
from .regions import apply_homography, homography
from .sampling import Sample, summarise

EDITIONS = ("before November 2014", "after November 2014")  # when the chart's maker changed the colours
ROWS, COLUMNS = 4, 6
GAP = 0.14  # between patches, as a share of a patch; common make, measured on photographs
SMALLEST_PATCH = 8.0  # pixels
_RIM = 0.4  # around the patches, as a share of a patch; common make
_ANOTHER_PATCH = 15.0  # dE00: no faded or dirty chart is so far off, neighbouring patches are farther
_THREE_NUMBERS = re.compile(r"(-?\d+(?:\.\d+)?)[\s,;]+(-?\d+(?:\.\d+)?)[\s,;]+(-?\d+(?:\.\d+)?)[\s,;]*$")
_STRIP = 16  # pixels either side
_INNER = 0.5  # share of a patch that is sampled
_POINTS = 20  # along each side of that, at most


@cache
def patch_names() -> tuple[str, ...]:
    """The 24 names, row by row."""
    return tuple(row[0] for row in read_table("chart24.csv").rows)


@cache
def chart_lab() -> FloatArray:
    """CIELAB (24, 3) of the patches, D65 / 2 degrees, from the ISO 17321-1 reflectances."""
    return read_only(reflectance_to_lab(chart_reflectance()))


@cache
def chart_reflectance() -> FloatArray:
    """Reflectances (24, 31) of the patches, ISO 17321-1."""
    return read_only(read_table("chart24.csv").numbers())


@cache
def edition_lab(edition: str) -> FloatArray:
    """CIELAB (24, 3), D65, of an edition of the chart as its maker publishes it; raises PhotoError for any other."""
    if edition not in EDITIONS:
        raise PhotoError(f"There is no edition {edition[:60]!r} of the chart. There are: {', '.join(EDITIONS)}.")
    columns = [f"{edition} {letter}" for letter in "Lab"]
    return read_only(read_table("chart24_editions.csv").numbers(*columns))


def read_chart(source: str | PathLike[str] | bytes) -> FloatArray:
    """CIELAB (24, 3) of a chart as measured: a text file of 24 lines in the chart's order, each ending in L*, a*, b*.

    source: its place or its bytes. Commas, semicolons, tabs or spaces between; names before the numbers and a heading
    are passed over. D65, 2 degrees. Raises PhotoError.
    """
    try:
        content = source if isinstance(source, bytes) else Path(source).read_bytes()
        lines = content.decode("utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not a text file"
        name = "" if isinstance(source, bytes) else f" {Path(source).name!r}"
        raise PhotoError(f"The chart's values{name} could not be read: {reason}.") from None
    found = [re.search(_THREE_NUMBERS, line) for line in lines]
    return checked_chart([[float(part) for part in match.groups()] for match in found if match])


def checked_chart(values: ArrayLike) -> FloatArray:
    """Measured CIELAB (24, 3), each within 15 dE00 of the published patch; raises PhotoError."""
    lab = finite_array(values, name="The chart's own values", shape=(24, 3))
    off = delta_e_2000(lab, chart_lab())
    far = [name for name, each in zip(patch_names(), off, strict=True) if each > _ANOTHER_PATCH]
    if far:
        raise PhotoError(
            f"The chart's own values are far from the published ones at {', '.join(far[:4])} ({off.max():.0f} dE00). "
            "Give CIELAB for D65 and 2 degrees in the chart's order, from dark skin row by row."
        )
    return lab


@cache
def patch_centres() -> FloatArray:
    """(24, 2) centres in the unit square of the grid."""
    wide, high = COLUMNS + (COLUMNS - 1) * GAP, ROWS + (ROWS - 1) * GAP
    x = (0.5 + np.arange(COLUMNS) * (1 + GAP)) / wide
    y = (0.5 + np.arange(ROWS) * (1 + GAP)) / high
    return read_only(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))


def patch_outlines(corners: FloatArray, share: float = 1.0) -> FloatArray:
    """(24, 4, 2) outlines in pixels, each shrunk to a share of its patch."""
    return _in_patches(corners, share / 2 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]))


def _in_patches(corners: FloatArray, offsets: FloatArray) -> FloatArray:
    """(24, n, 2) pixels of points at offsets (n, 2) from each patch's middle, in sides of a patch."""
    sides = np.array([COLUMNS + (COLUMNS - 1) * GAP, ROWS + (ROWS - 1) * GAP])
    return apply_homography(homography(corners), patch_centres()[:, None] + offsets / sides)


def with_frame(corners: FloatArray) -> FloatArray:
    """Outline (4, 2) in pixels of the chart with the dark rim around its patches."""
    x, y = _RIM / (COLUMNS + (COLUMNS - 1) * GAP), _RIM / (ROWS + (ROWS - 1) * GAP)
    return apply_homography(homography(corners), np.array([[-x, -y], [1 + x, -y], [1 + x, 1 + y], [-x, 1 + y]]))


def tilt(corners: FloatArray) -> float:
    """Degrees by which the camera looks askance at the chart: the cosine is how much it is foreshortened."""
    to_picture, side = homography(corners), 1e-3
    around = np.array([[0.5, 0.5], [0.5 + side, 0.5], [0.5, 0.5 + side]])
    middle, right, down = apply_homography(to_picture, around)
    wide, high = COLUMNS + (COLUMNS - 1) * GAP, ROWS + (ROWS - 1) * GAP
    long, short = np.linalg.svd(np.stack([(right - middle) / wide, (down - middle) / high]), compute_uv=False)
    return float(np.degrees(np.arccos(min(short / long, 1.0))))


def smallest_patch_side(corners: FloatArray) -> float:
    """Length in pixels of the shortest side of any patch."""
    outlines = patch_outlines(corners)
    return float(np.linalg.norm(np.roll(outlines, -1, axis=1) - outlines, axis=-1).min())


def edge_width(picture: Picture, corners: FloatArray) -> float:
    """How many pixels the edges of the patches take up, along a strip through the chart's middle."""
    low, high = np.floor(corners.min(axis=0)).astype(int), np.ceil(corners.max(axis=0)).astype(int)
    middle = int(corners[:, 1].mean())
    top, bottom = max(0, middle - _STRIP), min(picture.size[1], middle + _STRIP)
    left, right = max(0, int(low[0])), min(picture.size[0], int(high[0]))
    green = picture.pixels((left, top, right, bottom))[::4, :, 1].astype(np.int16)
    step = np.abs(np.diff(green, axis=1))
    contrast = float(np.percentile(green, 98) - np.percentile(green, 2))
    return contrast / max(float(np.percentile(step, 99.5)), 1.0)


def sample_chart(picture: Picture, corners: FloatArray) -> list[tuple[str, FloatArray, Sample]]:
    """Name, outline (4, 2) in pixels and colour of each patch, from a grid of points in its inner half carried
    through the perspective."""
    outlines = patch_outlines(corners)
    side = smallest_patch_side(corners)
    count = int(np.clip(side * _INNER, 3, _POINTS))
    steps = ((np.arange(count) + 0.5) / count - 0.5) * _INNER
    points = _in_patches(corners, np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2))
    boxes = patch_outlines(corners, _INNER)
    pixels = [_at(picture, *lot) for lot in zip(points, boxes.min(axis=1), boxes.max(axis=1), strict=True)]
    samples = summarise(picture, np.stack(pixels), points)
    return list(zip(patch_names(), outlines, samples, strict=True))


def _at(picture: Picture, points: FloatArray, low: FloatArray, high: FloatArray) -> Encoded:
    """Encoded values (n, 3) of the pixels at points (n, 2), which lie between low and high (2,)."""
    width, height = picture.size
    x0, y0 = min(max(int(low[0]), 0), width - 1), min(max(int(low[1]), 0), height - 1)
    x1, y1 = max(min(int(high[0]) + 1, width), x0 + 1), max(min(int(high[1]) + 1, height), y0 + 1)
    x, y = points.T.astype(np.intp)
    return np.asarray(picture.picked((x0, y0, x1, y1))[np.clip(y, y0, y1 - 1) - y0, np.clip(x, x0, x1 - 1) - x0])
