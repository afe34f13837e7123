"""More than 8 bits a channel, where a file holds them and a library that gives them is installed."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .orientation import upright

MOST_PIXELS = 32_000_000  # beside the 8 bits that are read first, it keeps within 1 GB


@dataclass(frozen=True, eq=False)
class Deep:
    """Values (rows, columns, 3) of a picture, of which the lowest bits are empty; a step in steps of 8 bits."""

    values: NDArray[np.uint16]
    empty: int
    step: float

    def picked(self, rows: slice, columns: slice) -> NDArray[np.float32]:
        """Some of the pixels, in steps of 8 bits."""
        return (self.values[rows, columns] >> self.empty).astype(np.float32) * np.float32(self.step)


def deep_picture(
    file: bytes, kind: str, bits: int, orientation: int, eight: NDArray[np.uint8], every: int
) -> Deep | None:
    """Decode a file of 10 to 16 bits in full depth, upright; None when no library gives just that picture.

    eight: every so many pixels of it, from the middle of each lot, at 8 bits: what they must agree with.
    """
    values = None
    with suppress(Exception):  # the first decoding went well and stands
        values = _heif(file) if kind == "HEIF" else _opencv(file)
    if values is None or values.dtype != np.uint16 or values.ndim != 3:
        return None
    lots = slice(every // 2, None, every)
    for turn in (orientation, 1):  # some decoders turn the picture themselves
        deep = Deep(upright(values[..., :3], turn), 16 - bits, 255 / (2**bits - 1))
        same = deep.picked(lots, lots)[: len(eight), : eight.shape[1]]
        if same.shape == eight.shape and np.abs(same - eight).max() < 2:
            return deep
    return None


def _heif(file: bytes) -> NDArray[Any]:
    import pillow_heif

    return np.asarray(pillow_heif.open_heif(file, convert_hdr_to_8bit=False))


def _opencv(file: bytes) -> NDArray[Any]:
    import cv2

    blue_first = cv2.imdecode(np.frombuffer(file, np.uint8), cv2.IMREAD_UNCHANGED)
    return np.asarray(blue_first)[..., 2::-1]
