"""What 8-bit decoding rounds away of a JPEG's colour, and how far rounding may have moved a mean.

A JPEG holds the mean of every block of 8 x 8 pixels several times finer than the whole steps it is decoded to
(ITU-T T.81, A.3.4: the DC term is eight times the mean). Where a surface is so even that all its pixels round
alike, no averaging brings that back: a step of the blue-difference plane is 1.8 steps of blue. So the file is
decoded once more, reduced, with the quantisation tables of its two colour planes multiplied (B.2.4.1):
colour comes out that many times as strong, and its rounding as much smaller.
"""

from __future__ import annotations

import io
import struct
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray, read_only
from .orientation import upright

if TYPE_CHECKING:
    from PIL.Image import Image

_TIMES = 3  # finer than the steps of 8 bits the colour is decoded; a judgement
_LONGEST = 500  # pixels, about: the second decoding is the more reduced the larger the picture
_REACH = 0.75  # steps: what is farther from the first decoding is not rounding, but an edge or a glint
_SOI, _SOS, _DQT = 0xD8, 0xDA, 0xDB
_FRAMES = {0xC0, 0xC1, 0xC2}  # baseline, extended and progressive, Huffman-coded

# Encoded RGB to luma and colour differences (ITU-T T.871, clause 7), and back.
TO_PLANES = read_only(
    np.array([[0.299, 0.587, 0.114], [-0.299 / 1.772, -0.587 / 1.772, 0.5], [0.5, -0.587 / 1.402, -0.114 / 1.402]])
)
FROM_PLANES = read_only(np.linalg.inv(TO_PLANES).astype(np.float64))


@dataclass(frozen=True, eq=False)
class FineChroma:
    """Planes (rows, columns, 3) of the upright picture, the colour differences times 3; factor: pixels a side."""

    planes: NDArray[np.uint8]
    factor: int

    def at(self, points: FloatArray) -> FloatArray:
        """Luma and colour differences (..., 3) at points (..., 2) in pixels; nan where a plane ran out of range."""
        place = np.floor(points / self.factor).astype(np.intp)
        x, y = (np.clip(place[..., i], 0, self.planes.shape[1 - i] - 1) for i in (0, 1))
        found = self.planes[y, x].astype(np.float64)
        colour = found[..., 1:]
        colour[(colour < 1) | (colour > 254)] = np.nan
        found[..., 1:] = (colour - 128) / _TIMES
        return found


def fine_chroma(data: bytes, orientation: int) -> FineChroma | None:
    """Decode a JPEG's colour finer, turned upright; None when it is no JPEG of three planes, or of an odd kind."""
    from PIL import Image

    changed = stronger_colour(data)
    if changed is None:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(changed), formats=["JPEG"]) as image:
                factor = times_smaller(image.size, _LONGEST)
                # Asked for in planes, Pillow leaves them unconverted; reduced by whole powers of two.
                image.draft("YCbCr", (image.width // factor, image.height // factor))
                image.load()
                if image.mode != "YCbCr":
                    return None
                return FineChroma(upright(np.asarray(image), orientation), factor)
    except Exception:  # the first decoding went well and stands
        return None


def times_smaller(size: tuple[int, int], enough: int) -> int:
    """How many times smaller a JPEG of that size can be decoded, by its blocks, to at least so many pixels a side."""
    return max(f for f in (1, 2, 4, 8) if f == 1 or (max(size) >= f * enough and min(size) >= f))


def stronger_colour(data: bytes) -> bytes | None:
    """The same JPEG with the tables of its colour planes times 3; None when it has no planes of their own."""
    if data[:2] != bytes((0xFF, _SOI)):
        return None
    place, tables, frame = 2, [], b""
    while place + 4 <= len(data) and data[place] == 0xFF:
        kind, (length,) = data[place + 1], struct.unpack_from(">H", data, place + 2)
        if kind == _SOS:
            break
        if kind == _DQT:
            tables.append((place, place + 2 + length))
        elif kind in _FRAMES:
            frame = data[place + 4 : place + 2 + length]
        place += 2 + length
    else:
        return None
    if len(frame) != 15 or frame[0] != 8 or frame[6:15:3] in (b"RGB", b"rgb"):
        return None
    luma, *colour = frame[8:15:3]
    if luma in colour:
        return None
    out, done = bytearray(), 0
    for start, end in tables:
        out += data[done:start] + _multiplied(data[start + 4 : end], set(colour))
        done = end
    return bytes(out + data[done:])


def _multiplied(segment: bytes, which: set[int]) -> bytes:
    """A segment of quantisation tables anew, those of `which` times 3, all of them with 16-bit entries."""
    body, place = b"", 0
    while place < len(segment):
        precision, name = divmod(segment[place], 16)
        size = 64 * (1 + (precision > 0))
        table = np.frombuffer(segment[place + 1 : place + 1 + size], ">u2" if precision else "u1")
        times = _TIMES if name in which else 1
        body += bytes((16 + name,)) + np.minimum(table.astype(np.int64) * times, 65535).astype(">u2").tobytes()
        place += 1 + size
    return struct.pack(">BBH", 0xFF, _DQT, 2 + len(body)) + body


def lost_in_rounding(finer: FineChroma, points: FloatArray, keep: NDArray[np.bool_], mean: FloatArray) -> FloatArray:
    """What to add (m, 3) to encoded means (m, 3) of kept points (m, n, 2) to undo the rounding of the decoder."""
    found = finer.at(points)
    count = np.maximum(keep.sum(axis=1), 1)
    planes = np.einsum("mn,mni->mi", keep, found) / count[:, None]  # nan where one of the points has none
    off = planes - mean @ TO_PLANES.T
    return np.asarray(np.where(np.abs(off) < _REACH, off, 0.0) @ FROM_PLANES.T)


def steps_of_means(image: Image) -> FloatArray:
    """In what steps an opened JPEG keeps the mean luma and colour differences of its blocks.

    (3,), in steps of 8 bits: an eighth of the first entry of its tables (ITU-T T.81, A.3.4); 0 for any other picture.
    """
    tables, layers = getattr(image, "quantization", {}), getattr(image, "layer", ())
    steps = [tables[layer[3]][0] / 8 for layer in layers if layer[3] in tables]
    return np.array(steps) if len(steps) == 3 else np.zeros(3)


def rounding_left(scatter: FloatArray, steps: FloatArray, *, planes: bool, finer: bool) -> FloatArray:
    """Covariance (m, 3, 3) of encoded RGB means that rounding leaves, for the sd (m, 3) of luma and differences.

    Rounding to whole steps has variance 1/12; in a mean it fades as the values scatter over the steps, by
    exp(-4 pi^2 sd^2) (Widrow & Kollar 2008, eq. 4.21, first term). A JPEG rounds RGB and planes when written, where
    the scatter of luma tells how much there was, keeps the means of blocks in `steps_of_means` (3,), and rounds the
    planes once more when decoded.
    """
    faded = np.exp(-((2 * np.pi * scatter) ** 2)) / 12
    kept = steps**2 * np.exp(-((2 * np.pi * scatter / np.maximum(steps, 1e-9)) ** 2)) / 12
    left = faded[:, :1, None] * np.eye(3) + np.einsum("ik,mk,jk->mij", FROM_PLANES, kept, FROM_PLANES)
    if planes:
        once = FROM_PLANES @ FROM_PLANES.T
        left = left + faded[:, :1, None] * once
        if not finer:
            left = left + np.einsum("ik,mk,jk->mij", FROM_PLANES, faded, FROM_PLANES)
    return np.asarray(left)
