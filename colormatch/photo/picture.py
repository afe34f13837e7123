"""A decoded photograph: its pixels in boxes, upright, as they were encoded and as linear light."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from . import bit_depth
from .icc import ColourProfile
from .jpeg_chroma import FineChroma, fine_chroma

if TYPE_CHECKING:
    from PIL.Image import Image

Box: TypeAlias = tuple[int, int, int, int]
Bytes: TypeAlias = NDArray[np.uint8]
Encoded: TypeAlias = NDArray[np.uint8 | np.float32]  # in steps of 8 bits, with fractions where a file has them

PREVIEW = 800  # pixels: enough to find a chart and to see how the light falls
_RGB_KINDS = ("PNG", "TIFF", "BMP", "GIF")
# EXIF orientation -> the turn that makes the stored picture upright (PIL.Image.Transpose).
_TURN = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}


@dataclass(frozen=True)
class PictureFacts:
    """What a picture's header says. width, height: pixels of the upright picture. flash: whether it fired."""

    width: int
    height: int
    kind: str
    model: str
    taken_on: str
    profile: str
    flash: bool = False


@dataclass(frozen=True, eq=False)
class Picture:
    """A decoded photograph. Coordinates are pixels of the upright picture, x to the right, y down."""

    facts: PictureFacts
    profile: ColourProfile
    grey: bool
    warnings: tuple[str, ...]
    bits: int  # a channel
    _image: Image = field(repr=False)
    _orientation: int
    _file: bytes = field(default=b"", repr=False)  # when more can be had of it than was decoded

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels, upright."""
        return self.facts.width, self.facts.height

    def pixels(self, box: Box | None = None, factor: int = 1) -> Bytes:
        """Encoded 8-bit values (rows, columns, 3) of a box, averaged over factor x factor pixels."""
        return self._upright(
            _reduced(self._image, _stored_box(box or (0, 0, *self.size), self._orientation, self.size), factor)
        )

    def _upright(self, image: Image) -> Bytes:
        turn = _TURN.get(self._orientation)
        if turn is not None:
            from PIL.Image import Transpose

            image = image.transpose(Transpose(turn))
        return np.asarray(image if image.mode == "RGB" else image.convert("RGB"))

    def picked(self, box: Box, step: int = 1) -> Encoded:
        """Encoded values of every step-th pixel of a box, both ways: as they are, where an average would be rounded."""
        if self._deep is not None:
            (x0, y0, x1, y1), first = box, step // 2
            rows, columns = max(1, (y1 - y0) // step), max(1, (x1 - x0) // step)
            return self._deep.picked(slice(y0 + first, y1, step), slice(x0 + first, x1, step))[:rows, :columns]
        return self._picked(box, step)

    def _picked(self, box: Box, step: int) -> Bytes:
        x0, y0, x1, y1 = box
        columns, rows = max(1, (x1 - x0) // step), max(1, (y1 - y0) // step)
        # What is left over is cut off in the upright picture: there the caller counts from the top left.
        whole = (x0, y0, min(x0 + columns * step, x1), min(y0 + rows * step, y1))
        within = _stored_box(whole, self._orientation, self.size)
        size = (columns, rows) if self._orientation < 5 else (rows, columns)  # from 5 on it lies on its side
        return self._upright(self._image.resize(size, 0, within))  # 0: the nearest pixel

    def preview(self, longest: int = PREVIEW) -> Bytes:
        """The whole picture reduced by a whole number to about `longest` pixels; the usual one is kept."""
        factor = max(1, round(max(self.size) / longest))
        return self._usual_preview if factor == self._usual_factor else self.pixels(factor=factor)

    @cached_property
    def _usual_preview(self) -> Bytes:
        return self.pixels(factor=self._usual_factor)

    @property
    def _usual_factor(self) -> int:
        return max(1, round(max(self.size) / PREVIEW))

    @property
    def in_planes(self) -> bool:
        """Whether the file keeps luma and colour differences instead of red, green and blue."""
        return self.facts.kind not in _RGB_KINDS

    @cached_property
    def _deep(self) -> bit_depth.Deep | None:
        width, height = self.size
        if self.bits <= 8 or width * height > bit_depth.MOST_PIXELS or self._orientation != 1:
            return None
        every = self._usual_factor
        eight = self._picked((0, 0, width, height), every)
        return bit_depth.deep_picture(self._file, self.facts.kind, self.bits, eight, every)

    @property
    def step(self) -> float:
        """How finely values are read, in steps of 8 bits."""
        return 1.0 if self._deep is None else self._deep.step

    @property
    def lost_depth(self) -> bool:
        """Whether the file holds more bits a channel than the 8 that are read."""
        return self.bits > 8 and self._deep is None

    @cached_property
    def finer(self) -> FineChroma | None:
        """The picture's colour finer than in steps of 8 bits, for a JPEG; decoded when first asked for."""
        return fine_chroma(self._file, _TURN.get(self._orientation))

    def linear(self, encoded: Encoded | FloatArray) -> FloatArray:
        """Linear sRGB (..., 3) of encoded values in steps of 8 bits, by the picture's own profile."""
        if encoded.dtype == np.uint8:
            return self.profile.linear(encoded.astype(np.uint8, copy=False))
        low = np.clip(np.floor(encoded), 0, 254).astype(np.uint8)
        share = encoded - low
        return np.asarray((1 - share) * self.profile.linear(low) + share * self.profile.linear(low + np.uint8(1)))


def _stored_box(box: Box, orientation: int, size: tuple[int, int]) -> Box:
    """A box of the upright picture in pixels of the stored one."""
    (x0, y0, x1, y1), (w, h) = box, size
    return {
        2: (w - x1, y0, w - x0, y1),
        3: (w - x1, h - y1, w - x0, h - y0),
        4: (x0, h - y1, x1, h - y0),
        5: (y0, x0, y1, x1),
        6: (y0, w - x1, y1, w - x0),
        7: (h - y1, w - x1, h - y0, w - x0),
        8: (h - y1, x0, h - y0, x1),
    }.get(orientation, box)


def _reduced(image: Image, box: Box, factor: int) -> Image:
    return image.crop(box) if factor == 1 else image.reduce(factor, box=box)
