"""Where in the picture: boxes and polygons, fractions of the picture, a grid of tiles, the four corners' map."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import FloatArray, finite_array
from ..errors import PhotoError

Region: TypeAlias = Sequence[float] | Sequence[Sequence[float]] | FloatArray
SMALLEST_SIDE = 4  # pixels


def region_outline(region: Region, size: tuple[int, int], *, name: str = "The region") -> FloatArray:
    """Corners (n, 2) in pixels of a region: (x0, y0, x1, y1) in any order, or 3 or more (x, y) corners.

    Raises PhotoError when it is not within the picture (half a pixel of slack) or too small.
    """
    try:
        marks = np.asarray(region, dtype=np.float64)
    except (TypeError, ValueError):
        raise PhotoError(f"{name} must be four numbers (x0, y0, x1, y1) in pixels, or a list of corners.") from None
    if marks.shape == (4,):
        x0, x1 = sorted((marks[0], marks[2]))
        y0, y1 = sorted((marks[1], marks[3]))
        outline = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    elif marks.ndim == 2 and marks.shape[1] == 2 and len(marks) >= 3:
        outline = marks
    else:
        raise PhotoError(
            f"{name} has shape {marks.shape}; give (x0, y0, x1, y1) in pixels, or three or more (x, y) corners."
        )
    if not np.isfinite(outline).all():
        raise PhotoError(f"{name} holds a value that is not a number; mark it again.")
    low, high = outline.min(axis=0), outline.max(axis=0)
    if (low < -0.5).any() or (high > np.array(size) + 0.5).any():
        raise PhotoError(
            f"{name} runs from ({low[0]:.0f}, {low[1]:.0f}) to ({high[0]:.0f}, {high[1]:.0f}), outside the picture "
            f"of {size[0]} x {size[1]} pixels. Mark it again, within the picture."
        )
    if (high - low).min() < SMALLEST_SIDE:
        raise PhotoError(
            f"{name} is {high[0] - low[0]:.0f} x {high[1] - low[1]:.0f} pixels; it must be at least "
            f"{SMALLEST_SIDE} on each side. Mark a larger part, or move closer."
        )
    return np.asarray(np.clip(outline, 0, np.array(size, dtype=np.float64)))


def from_fractions(region: ArrayLike, size: tuple[int, int]) -> FloatArray:
    """Pixels of a region, or of corners (n, 2), given in fractions 0..1 of width and height."""
    marks = np.asarray(region, dtype=np.float64)
    scale = np.array(size, dtype=np.float64)
    return marks * (scale if marks.ndim == 2 else np.tile(scale, marks.size // 2))


def to_fractions(region: ArrayLike, size: tuple[int, int]) -> FloatArray:
    """The inverse of `from_fractions`."""
    marks = np.asarray(region, dtype=np.float64)
    scale = np.array(size, dtype=np.float64)
    return marks / (scale if marks.ndim == 2 else np.tile(scale, marks.size // 2))


def tile_sheet_regions(corners: ArrayLike, rows: int, columns: int, *, share: float = 0.6) -> list[FloatArray]:
    """Outlines (4, 2) of a sheet of tiles, in reading order: left to right, then the next row.

    corners (4, 2): the sheet's, clockwise from its first tile's outer corner. share: how much of each
    tile's width and height is measured, 0.1..0.95. Raises PhotoError.
    """
    if rows < 1 or columns < 1 or rows * columns > 400:
        raise PhotoError(f"A sheet of {rows} x {columns} tiles cannot be read; it must have 1 to 400 tiles.")
    if not 0.1 <= share <= 0.95:
        raise PhotoError(f"The share of each tile to measure is {share:g}; it must be from 0.1 to 0.95.")
    to_picture = homography(quadrilateral(corners, name="The sheet"))
    half = share / 2
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    cells = [square + np.array([column + 0.5, row + 0.5]) for row in range(rows) for column in range(columns)]
    return [apply_homography(to_picture, cell / (columns, rows)) for cell in cells]


def quadrilateral(corners: ArrayLike, *, name: str) -> FloatArray:
    """Four corners (4, 2) of a convex, clockwise (as seen) quadrilateral; raises PhotoError otherwise."""
    marks = finite_array(corners, name=f"The corners of {name[:1].lower() + name[1:]}", shape=(4, 2))
    sides = np.roll(marks, -1, axis=0) - marks
    following = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    if (turns <= 0).any():
        raise PhotoError(
            f"The four corners of {name[:1].lower() + name[1:]} do not go round clockwise; mark them in order, "
            "clockwise from the first one."
        )
    return marks


def homography(corners: FloatArray) -> FloatArray:
    """(3, 3) map of the unit square to four corners (Hartley & Zisserman 2004, section 4.1)."""
    return fit_homography(np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]]), corners)


def fit_homography(source: FloatArray, target: FloatArray) -> FloatArray:
    """(3, 3) least-squares map of points (n, 2) to points (n, 2), n >= 4, by the normalised direct linear transform."""
    a, b = _normaliser(source), _normaliser(target)
    s, t = apply_homography(a, source), apply_homography(b, target)
    zero, one = np.zeros(len(s)), np.ones(len(s))
    x, y, u, v = s[:, 0], s[:, 1], t[:, 0], t[:, 1]
    rows = np.concatenate(
        [
            np.stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u], axis=1),
            np.stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v], axis=1),
        ]
    )
    matrix = np.linalg.svd(rows, full_matrices=True)[2][-1].reshape(3, 3)
    whole = np.linalg.inv(b) @ matrix @ a
    return np.asarray(whole / whole[2, 2])


def apply_homography(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """Carry points (..., 2) by a (3, 3) map; a point on its horizon comes out not finite."""
    mapped = points @ matrix[:, :2].T + matrix[:, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(mapped[..., :2] / mapped[..., 2:])


def inside(outline: FloatArray, points: FloatArray) -> NDArray[np.bool_]:
    """Whether points (n, 2) lie in a polygon (even-odd rule)."""
    x, y = points[:, 0], points[:, 1]
    odd = np.zeros(len(points), dtype=np.bool_)
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 == y1:
            continue
        crosses = (y0 > y) != (y1 > y)
        odd ^= crosses & (x < x0 + (y - y0) * (x1 - x0) / (y1 - y0))
    return odd


def _normaliser(points: FloatArray) -> FloatArray:
    middle = points.mean(axis=0)
    scale = 1 / max(float(np.sqrt(((points - middle) ** 2).sum(axis=1)).mean()), 1e-12)
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1]])
