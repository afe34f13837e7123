"""The board of her own tiles: a printed frame with twelve windows, found by its border, whose tiles are the reference.

Only black is printed, so no printer's colours matter. Lengths in mm from the border's outer corner at window 1, in
the printed sheet's own sense: x to the right, y down.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..arrays import FloatArray, read_only, whole_number_between
from ..errors import PhotoError
from ..shade import Shade
from .regions import apply_homography, homography

WIDTH, HEIGHT = 246.0, 182.0  # outer edges of the border: fits A4 and Letter with 14 mm of paper around
BAND = 10.0  # width of the border
ROWS, COLUMNS = 3, 4
WINDOWS = ROWS * COLUMNS
WINDOW = 40.0  # side of a window
HOLE = 5.0  # side of a white square in the border
# Middles of those: no turn of the border looks like another.
HOLES = read_only(
    np.array([(34, BAND / 2), (56, BAND / 2), (150, BAND / 2), (WIDTH - BAND / 2, 50), (90, HEIGHT - BAND / 2)])
)
FEWEST_TILES = 6  # with fewer the camera's own colours stay open


def window_middles() -> FloatArray:
    """(12, 2) mm, in reading order."""
    free_x = (WIDTH - 2 * BAND - COLUMNS * WINDOW) / (COLUMNS + 1)
    free_y = (HEIGHT - 2 * BAND - ROWS * WINDOW) / (ROWS + 1)
    x = BAND + free_x + WINDOW / 2 + np.arange(COLUMNS) * (WINDOW + free_x)
    y = BAND + free_y + WINDOW / 2 + np.arange(ROWS) * (WINDOW + free_y)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def window_outlines(corners: FloatArray, share: float = 1.0) -> FloatArray:
    """(12, 4, 2) outlines of the windows in pixels, each shrunk to a share of it, for the border's corners (4, 2)."""
    half = share * WINDOW / 2
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    return on_board(corners, window_middles()[:, None] + square)


def paper_patches(corners: FloatArray, side: float = 6.0) -> FloatArray:
    """(8, 4, 2) outlines in pixels of bare paper between the windows, in mm a side."""
    middles = window_middles().reshape(ROWS, COLUMNS, 2)
    between = (middles[:, :-1] + middles[:, 1:]) / 2
    half = side / 2
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    return on_board(corners, between.reshape(-1, 2)[:, None] + square)


def on_board(corners: FloatArray, points: FloatArray) -> FloatArray:
    """Pixels (..., 2) of points (..., 2) in mm."""
    return apply_homography(homography(corners), points / (WIDTH, HEIGHT))


def tiles_for_board(shades: Sequence[Shade], count: int = WINDOWS) -> list[int]:
    """Which of her shades to lay on the board, so that they spread over all of them: places in `shades`.

    First the one nearest the middle, then each time the one farthest in CIELAB from those taken. Raises PhotoError.
    """
    whole_number_between(count, name="The number of tiles on the board", low=FEWEST_TILES, high=WINDOWS)
    if len(shades) < count:
        raise PhotoError(f"There are {len(shades)} shades to choose from; a board of {count} tiles needs as many.")
    lab = np.array([shade.lab for shade in shades])
    taken = [int(np.linalg.norm(lab - lab.mean(axis=0), axis=1).argmin())]
    while len(taken) < count:
        apart = np.linalg.norm(lab[:, None] - lab[taken], axis=-1).min(axis=1)
        apart[taken] = -1
        taken.append(int(apart.argmax()))
    return taken
