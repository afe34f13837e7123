"""Find the printed border of the tile board: a closed dark ring of four straight sides, with its white squares.

Any turn, perspective and part shadow: what is dark is told against the light of the neighbourhood.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..errors import ReferenceNotFound
from .board import BAND, HEIGHT, HOLE, HOLES, WIDTH, on_board
from .picture import Picture

_DARK = 0.4  # of the lightest nearby, in linear light: ink is below 0.15, even with glare; a shadow on paper above 0.5
_NEARBY = 24  # blocks of the preview a side
_SMALLEST = 0.15  # of the picture's longer side, that a ring must span
_MOST_RINGS = 6  # dark shapes looked at, the largest first; a judgement
_AGREE = 0.9  # share of looked-at points of the border that must be as printed
_STEP = 4.0  # mm between points looked at along the border
_HOLLOW = 0.6  # most of its box that a ring fills: two bands at its narrowest, with room for a turn
_NEAR = 3.0  # pixels of the preview from a side
_FEWEST_POINTS = 12  # to lay a straight line through a side that others may cover in part; a judgement
_CORNER = 0.12  # of a side, left out at its ends where lines are fitted


def find_board(picture: Picture) -> FloatArray:
    """Corners (4, 2) in pixels of the border's outer edge, clockwise from window 1's; raises ReferenceNotFound."""
    preview = picture.preview()
    factor = picture.preview_factor()
    light = picture.linear(preview).mean(axis=-1)
    dark = light < _DARK * _lightest_nearby(light)
    seen = False
    for ring in _rings(dark):
        corners = _quadrilateral(ring)
        if corners is None:
            continue
        seen = True
        turned = [np.roll(corners, -turn, axis=0) for turn in range(4)]
        agreement = [_agreement(dark, each) for each in turned]
        if max(agreement) >= _AGREE:
            return np.asarray(turned[int(np.argmax(agreement))] * factor)
    why = "a dark frame was seen, but not with the board's white squares" if seen else "no closed dark border was seen"
    raise ReferenceNotFound(
        f"The tile board was not found: {why}. Lay it flat, with all of its border and some white paper around it in "
        "the picture, or mark its four corners, clockwise from the corner at window 1."
    )


def _lightest_nearby(light: FloatArray) -> FloatArray:
    """What is nearly the lightest around each pixel (rows, columns)."""
    from scipy.ndimage import maximum_filter, uniform_filter, zoom

    side = max(2, max(light.shape) // _NEARBY)
    rows, columns = -(-light.shape[0] // side), -(-light.shape[1] // side)
    padded = np.pad(light, ((0, rows * side - light.shape[0]), (0, columns * side - light.shape[1])), mode="edge")
    blocks = np.percentile(padded.reshape(rows, side, columns, side), 90, axis=(1, 3))
    around = uniform_filter(maximum_filter(blocks, 3), 3)
    return np.asarray(zoom(around, side, order=1, grid_mode=True, mode="nearest")[: light.shape[0], : light.shape[1]])


def _rings(dark: NDArray[np.bool_]) -> Iterator[FloatArray]:
    """Outermost points (n, 2) of connected dark areas that span enough and are mostly hollow, widest first."""
    from scipy.ndimage import binary_dilation, find_objects, label

    # A little thicker, so that a blurred white square does not cut the ring in two.
    labels, _ = label(binary_dilation(dark, np.ones((3, 3), dtype=np.bool_)), structure=np.ones((3, 3)))
    boxes = [(box, number) for number, box in enumerate(find_objects(labels), start=1)]
    span = [max(rows.stop - rows.start, columns.stop - columns.start) for (rows, columns), _ in boxes]
    for place in np.argsort(span)[::-1][:_MOST_RINGS]:
        (rows, columns), number = boxes[place]
        part = (labels[rows, columns] == number) & dark[rows, columns]
        if span[place] >= _SMALLEST * max(dark.shape) and part.mean() < _HOLLOW:
            yield _outermost(part) + np.array([columns.start, rows.start])


def _outermost(part: NDArray[np.bool_]) -> FloatArray:
    """First and last edge (n, 2) of each row and each column."""
    height, width = part.shape
    y, x = np.arange(height) + 0.5, np.arange(width) + 0.5
    left, right = part.argmax(axis=1), width - part[:, ::-1].argmax(axis=1)
    top, bottom = part.argmax(axis=0), height - part[::-1].argmax(axis=0)
    across = np.concatenate([np.column_stack([left, y]), np.column_stack([right, y])])[np.tile(part.any(axis=1), 2)]
    down = np.concatenate([np.column_stack([x, top]), np.column_stack([x, bottom])])[np.tile(part.any(axis=0), 2)]
    return np.concatenate([across, down]).astype(np.float64)


def _quadrilateral(points: FloatArray) -> FloatArray | None:
    """Corners (4, 2), clockwise as seen, of the four-sided shape around points (n, 2); None where there is none."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        hull = points[ConvexHull(points).vertices]
    except QhullError:
        return None
    while len(hull) > 4:  # drop the side whose neighbours, carried on, meet with least added
        added = [_added(hull, i) for i in range(len(hull))]
        least = int(np.argmin([area for area, _ in added]))
        if not np.isfinite(added[least][0]):
            return None
        hull[least] = added[least][1]
        hull = np.delete(hull, (least + 1) % len(hull), axis=0)
    if len(hull) < 4:
        return None
    lines = [_line(points, hull[i], hull[(i + 1) % 4]) for i in range(4)]
    if any(line is None for line in lines):
        return None
    corners = np.array([_meeting(lines[i - 1], lines[i]) for i in range(4)])  # type: ignore[arg-type]
    area = _cross(corners[2] - corners[0], corners[3] - corners[1])
    return corners if area > 0 else corners[::-1]


def _added(hull: FloatArray, i: int) -> tuple[float, FloatArray]:
    """Area added when the side from corner i is dropped, and where its neighbours meet."""
    before, start, end, after = (hull[(i + k) % len(hull)] for k in (-1, 0, 1, 2))
    turn = _cross(start - before, after - end)
    if turn <= 1e-9 * np.linalg.norm(start - before) * np.linalg.norm(after - end):
        return np.inf, start
    meeting = start + (start - before) * _cross(end - start, after - end) / turn
    return float(abs(_cross(end - start, meeting - start))) / 2, np.asarray(meeting)


def _line(points: FloatArray, start: FloatArray, end: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """A point and direction (2,) fitted to the points near a side, its ends left out."""
    along = (end - start) / np.linalg.norm(end - start)
    offset = points - start
    share, apart = offset @ along / np.linalg.norm(end - start), np.abs(_cross(along, offset))
    near = points[(share > _CORNER) & (share < 1 - _CORNER) & (apart < _NEAR)]
    if len(near) < _FEWEST_POINTS:
        return None
    middle = np.median(near, axis=0)
    for _ in range(3):  # a pixel in or out of the dark must not turn the line
        middle, direction = near.mean(axis=0), np.linalg.svd(near - near.mean(axis=0), full_matrices=False)[2][0]
        off = np.abs(_cross(direction, near - middle))
        near = near[off <= max(2 * float(np.median(off)), 0.5)]
    return middle, direction


def _meeting(one: tuple[FloatArray, FloatArray], two: tuple[FloatArray, FloatArray]) -> FloatArray:
    (p, along), (q, other) = one, two
    return np.asarray(p + along * _cross(q - p, other) / _cross(along, other))


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _agreement(dark: NDArray[np.bool_], corners: FloatArray) -> float:
    """Share of looked-at points that are as printed: the border, its white squares, and the paper inside and out."""
    points, black = _printed()
    seen = np.nan_to_num(on_board(corners, points), nan=-1.0)
    x, y = seen.astype(np.intp).T
    within = (seen >= 0).all(axis=1) & (x < dark.shape[1]) & (y < dark.shape[0])
    right = dark[np.clip(y, 0, dark.shape[0] - 1), np.clip(x, 0, dark.shape[1] - 1)] == black
    holes = len(HOLES)  # which come first, and must all be there: they alone tell the turn
    return float((right & within).mean()) if (right & within)[:holes].all() else 0.0


@cache
def _printed() -> tuple[FloatArray, NDArray[np.bool_]]:
    """Points (n, 2) in mm, and whether black is printed there."""
    middle, inner = BAND / 2, BAND + 4.0
    rings = []
    for inset in (middle, inner):
        x, y = np.arange(inset, WIDTH - inset, _STEP), np.arange(inset, HEIGHT - inset, _STEP)
        rings.append(
            np.concatenate(
                [np.column_stack([x, np.full(len(x), each)]) for each in (inset, HEIGHT - inset)]
                + [np.column_stack([np.full(len(y), each), y]) for each in (inset, WIDTH - inset)]
            )
        )
    border = rings[0][np.abs(rings[0][:, None] - HOLES).max(axis=-1).min(axis=1) > HOLE]
    black = np.repeat([False, True, False], [len(HOLES), len(border), len(rings[1])])
    return np.concatenate([HOLES, border, rings[1]]), black
