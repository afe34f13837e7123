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
from .orientation import Box, stored_box, upright

if TYPE_CHECKING:
    from PIL.Image import Image

Bytes: TypeAlias = NDArray[np.uint8]
Encoded: TypeAlias = NDArray[np.uint8 | np.float32]  # in steps of 8 bits, with fractions where a file has them

PREVIEW = 800  # pixels: enough to find a chart and to see how the light falls
_NEAREST, _BOX = 0, 4  # PIL.Image.Resampling
_RGB_KINDS = ("PNG", "TIFF", "BMP", "GIF")


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
    _every: int  # pixels of the file a side that are one of those kept: a large JPEG is decoded reduced
    _orientation: int
    _file: bytes = field(default=b"", repr=False)  # when more can be had of it than was decoded
    plane_steps: FloatArray = field(default_factory=lambda: np.zeros(3), repr=False)  # as `steps_of_means`

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels, upright."""
        return self.facts.width, self.facts.height

    def pixels(self, box: Box | None = None, factor: int = 1) -> Bytes:
        """Encoded 8-bit values (rows, columns, 3) of a box, averaged over factor x factor pixels."""
        return self._cut(box or (0, 0, *self.size), factor, _BOX)

    def picked(self, box: Box, step: int = 1) -> Encoded:
        """Encoded values of every step-th pixel of a box, both ways: as they are, where an average would be rounded."""
        if self._deep is not None:
            (x0, y0, x1, y1), first = box, step // 2
            rows, columns = max(1, (y1 - y0) // step), max(1, (x1 - x0) // step)
            return self._deep.picked(slice(y0 + first, y1, step), slice(x0 + first, x1, step))[:rows, :columns]
        return self._cut(box, step, _NEAREST)

    def _cut(self, box: Box, step: int, how: int) -> Bytes:
        """A box made step times smaller, upright."""
        x0, y0, x1, y1 = box
        columns, rows = max(1, (x1 - x0) // step), max(1, (y1 - y0) // step)
        # What is left over is cut off in the upright picture: there the caller counts from the top left.
        whole = (x0, y0, min(x0 + columns * step, x1), min(y0 + rows * step, y1))
        left, top, right, bottom = (edge / self._every for edge in stored_box(whole, self._orientation, self.size))
        size = (columns, rows) if self._orientation < 5 else (rows, columns)  # from 5 on it lies on its side
        image = self._image.resize(size, how, (left, top, right, bottom), reducing_gap=1.0)
        return upright(np.asarray(image if image.mode == "RGB" else image.convert("RGB")), self._orientation)

    def preview(self, longest: int = PREVIEW) -> Bytes:
        """The whole picture reduced by `preview_factor`; the usual one is kept."""
        return self._usual_preview if longest == PREVIEW else self.pixels(factor=self.preview_factor(longest))

    @cached_property
    def _usual_preview(self) -> Bytes:
        return self.pixels(factor=self.preview_factor())

    def preview_factor(self, longest: int = PREVIEW) -> int:
        """The whole number by which the picture is reduced to about `longest` pixels."""
        return self._every * max(1, int(max(self.size) / (longest * self._every) + 0.5))

    @property
    def in_planes(self) -> bool:
        """Whether the file keeps luma and colour differences instead of red, green and blue."""
        return self.facts.kind not in _RGB_KINDS

    @cached_property
    def _deep(self) -> bit_depth.Deep | None:
        width, height = self.size
        if self.bits <= 8 or width * height > bit_depth.MOST_PIXELS:
            return None
        every = self.preview_factor()
        eight = self._cut((0, 0, width, height), every, _NEAREST)
        return bit_depth.deep_picture(self._file, self.facts.kind, self.bits, self._orientation, eight, every)

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
        return fine_chroma(self._file, self._orientation)

    def linear(self, encoded: Encoded | FloatArray) -> FloatArray:
        """Linear sRGB (..., 3) of encoded values in steps of 8 bits, by the picture's own profile."""
        if encoded.dtype == np.uint8:
            return self.profile.linear(encoded.astype(np.uint8, copy=False))
        low = np.clip(np.floor(encoded), 0, 254).astype(np.uint8)
        share = encoded - low
        return np.asarray((1 - share) * self.profile.linear(low) + share * self.profile.linear(low + np.uint8(1)))
