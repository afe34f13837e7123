"""Upright and back: a picture is stored as the camera held it, with a note of how to turn it (EXIF 2.32, 4.6.4)."""

from __future__ import annotations

from typing import Any, TypeAlias

from numpy.typing import NDArray

Box: TypeAlias = tuple[int, int, int, int]  # left, top, right, bottom


def _turns(orientation: int) -> tuple[bool, bool, bool]:
    """Whether rows and columns change places, and then whether columns and rows run backwards."""
    return orientation >= 5, orientation in (2, 3, 6, 7), orientation in (3, 4, 7, 8)


def upright(stored: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Stored pixels (rows, columns, ...) as they are to be seen; a view."""
    lying, mirrored, headlong = _turns(orientation)
    seen = stored.swapaxes(0, 1) if lying else stored
    return seen[:: -1 if headlong else 1, :: -1 if mirrored else 1]


def stored_box(box: Box, orientation: int, size: tuple[int, int]) -> Box:
    """A box of the upright picture, of that size, in pixels of the stored one."""
    (x0, y0, x1, y1), (width, height) = box, size
    lying, mirrored, headlong = _turns(orientation)
    if mirrored:
        x0, x1 = width - x1, width - x0
    if headlong:
        y0, y1 = height - y1, height - y0
    return (y0, x0, y1, x1) if lying else (x0, y0, x1, y1)
