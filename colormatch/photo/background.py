"""The plain sheet behind the pieces: one surface seen all over the picture, so it shows how the light falls.

What colour it is need not be known. Cells of the picture that are even and of one colour, over a
smooth change of level, are taken as the background; a patterned table gives none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from .picture import Picture
from .sampling import summarise

_CELLS = 32  # along the longer side
_EVEN = 0.05  # largest relative spread within a cell
_LIKE = 0.08  # log chromaticity, from one cell to the next of a background
_LEVEL = 0.5  # log level about the middle one
_FEWEST = 40  # cells
_ROUGH = 0.03  # log level left over from a smooth surface: more, and it is not one even surface
_DARKEST, _BRIGHTEST = 25, 245  # encoded: below is a dark frame or cloth, above is clipped
_KEPT = 16  # cells handed on
_LOOK = 12  # pixels a side that are looked at one by one in each of them, more than a block of a JPEG


@dataclass(frozen=True, eq=False)
class Background:
    """Cells of the background: linear rgb (n, 3) and place (n, 2), offset from the middle over the longer side.

    roughness: sd of the log level about a smooth fall of the light.
    """

    rgb: FloatArray
    place: FloatArray
    roughness: float = 0.0

    def __len__(self) -> int:
        return len(self.rgb)

    def at(self, place: FloatArray) -> FloatArray:
        """Linear rgb (3,) that the background would show at a place (2,), by a plane through its cells."""
        plane = np.column_stack([np.ones(len(self.place)), self.place])
        fitted = np.linalg.lstsq(plane, np.log(np.maximum(self.rgb, 1e-4)), rcond=None)[0]
        return np.asarray(np.exp(np.array([1.0, *place]) @ fitted))


NO_BACKGROUND = Background(np.zeros((0, 3)), np.zeros((0, 2)))


def find_background(picture: Picture) -> Background:
    """Cells of the background; NO_BACKGROUND when there is none."""
    preview = picture.preview()
    if max(preview.shape[:2]) > _CELLS // 2 * min(preview.shape[:2]):
        return NO_BACKGROUND  # a strip too narrow for cells
    mean, spread, place = _cells(preview)
    level = mean.mean(axis=1)
    # 1.5: steps of rounding and noise that a dark cell has besides.
    even = (spread.max(axis=1) < _EVEN * level + 1.5) & (level > _DARKEST) & (mean.max(axis=1) < _BRIGHTEST)
    if even.sum() < _FEWEST:
        return NO_BACKGROUND
    rgb, place = picture.linear(mean[even]), place[even]
    log = np.log(np.maximum(rgb, 1e-4))
    member = _largest_likeness(log)
    for _ in range(4):
        if member.sum() < _FEWEST:
            return NO_BACKGROUND
        off = log[:, 1] - _smooth(place, log[:, 1], member)
        scale = 1.4826 * float(np.median(np.abs(off[member])))
        again = member & (np.abs(off) < max(3 * scale, 0.015))
        if (again == member).all():
            break
        member = again
    if scale > _ROUGH or np.ptp(place[member], axis=0).max() < 0.4:  # of the longer side: a judgement
        return NO_BACKGROUND
    chosen = np.flatnonzero(member)
    chosen = chosen[np.linspace(0, len(chosen) - 1, min(_KEPT, len(chosen))).astype(int)]
    return Background(_looked_at(picture, place[chosen]), place[chosen], scale)


def _looked_at(picture: Picture, place: FloatArray) -> FloatArray:
    """Linear rgb (n, 3) in the middle of cells, at full resolution, where rounding can be undone."""
    size = np.array(picture.size)
    look = min(_LOOK, int(size.min()))
    corner = np.floor(place * size.max() + size / 2 - look / 2).astype(int)
    corner = np.clip(corner, 0, size - look)
    pixels = np.stack([picture.picked((x, y, x + look, y + look)) for x, y in corner.tolist()])
    grid = np.stack(np.meshgrid(np.arange(look), np.arange(look)), axis=-1).reshape(-1, 2) + 0.5
    samples = summarise(picture, pixels.reshape(len(place), -1, 3), corner[:, None] + grid)
    return np.stack([sample.rgb for sample in samples])


def _cells(preview: NDArray[np.uint8]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean and spread (n, 3) of square cells, encoded, and their places (n, 2)."""
    height, width = preview.shape[:2]
    side = max(2, max(height, width) // _CELLS)
    rows, columns = height // side, width // side
    stride = max(1, side // 10)  # a hundred pixels of a cell tell enough
    cut = preview[: rows * side, : columns * side].reshape(rows, side, columns, side, 3)
    cut = cut[:, ::stride, :, ::stride].transpose(4, 0, 2, 1, 3).reshape(3, rows * columns, -1).astype(np.float32)
    mean, spread = cut.mean(axis=2).T, cut.std(axis=2).T
    y, x = np.divmod(np.arange(rows * columns), columns)
    middle = np.stack([(x + 0.5) * side - width / 2, (y + 0.5) * side - height / 2], axis=1)
    return mean.astype(np.float64), spread.astype(np.float64), middle / max(height, width)


def _largest_likeness(log: FloatArray) -> NDArray[np.bool_]:
    """Cells like the one, of every fifth tried, that has most others like it."""
    tried = slice(None, None, 5)
    red, level, blue = log[:, 0] - log[:, 1], log[:, 1], log[:, 2] - log[:, 1]
    like = np.abs(red[tried, None] - red) < _LIKE
    like &= np.abs(blue[tried, None] - blue) < _LIKE
    like &= np.abs(level[tried, None] - level) < _LEVEL
    return np.asarray(like[like.sum(axis=1).argmax()])


def _smooth(place: FloatArray, level: FloatArray, member: NDArray[np.bool_]) -> FloatArray:
    x, y = place.T
    basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    return np.asarray(basis @ np.linalg.lstsq(basis[member], level[member], rcond=None)[0])
