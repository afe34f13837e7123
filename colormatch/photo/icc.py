"""Colour profiles inside picture files: from encoded values to linear sRGB, in floats.

Matrix-and-curve profiles (ICC.1:2022, clauses 8.3.3, 10.6 `curv`, 10.18 `para`) are read here, so
that Display P3 of many phones loses nothing to 8 bits. Other kinds are named, not guessed at.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..colorimetry import srgb_decode

# sRGB primaries on the profile connection space's D50 white (columns R, G, B), as in the sRGB
# profile of the ICC: a profile's own columns are carried to linear sRGB by its inverse.
_SRGB_COLUMNS = np.array(
    [[0.4360747, 0.3850649, 0.1430804], [0.2225045, 0.7168786, 0.0606169], [0.0139322, 0.0971045, 0.7141733]]
)
_STEPS = 4096  # of a tone curve: far finer than 8 bits of a picture


@dataclass(frozen=True, eq=False)
class ColourProfile:
    """Encoded 0..1 to linear sRGB: three curves sampled evenly, then a matrix that keeps white."""

    name: str
    curves: FloatArray | None  # (3, 4096); None: the sRGB curve
    matrix: FloatArray  # (3, 3)
    understood: bool = True

    def linear(self, encoded: NDArray[np.uint8]) -> FloatArray:
        """Linear sRGB (..., 3) of encoded 8-bit values (..., 3); may leave 0..1 for a wide gamut."""
        table = self._table
        decoded = np.stack([table[i].take(encoded[..., i]) for i in range(3)], axis=-1)
        return decoded if self.curves is None else decoded @ self.matrix.T

    @cached_property
    def _table(self) -> FloatArray:
        """(3, 256) decoded values of each channel."""
        steps = np.arange(256) / 255
        if self.curves is None:
            return np.tile(srgb_decode(steps), (3, 1))
        return np.stack([np.interp(steps, np.linspace(0, 1, _STEPS), curve) for curve in self.curves])


SRGB = ColourProfile("sRGB", None, np.eye(3))


def read_profile(data: bytes | None) -> ColourProfile:
    """The profile embedded in a picture; none means sRGB; one not understood says so and acts as sRGB."""
    if not data:
        return SRGB
    name = "unnamed"
    try:
        tags = _tags(data)
        name = _description(tags.get(b"desc", b"")) or name
        columns = np.stack([_xyz(tags[key]) for key in (b"rXYZ", b"gXYZ", b"bXYZ")], axis=1)
        curves = np.stack([_curve(tags[key]) for key in (b"rTRC", b"gTRC", b"bTRC")])
        matrix = np.linalg.solve(_SRGB_COLUMNS, columns)
        matrix /= matrix.sum(axis=1, keepdims=True)
    except (KeyError, ValueError, IndexError, struct.error, np.linalg.LinAlgError, OverflowError):
        return ColourProfile(name, None, np.eye(3), understood=False)
    if not (np.isfinite(matrix).all() and np.isfinite(curves).all() and np.abs(matrix).max() < 10):
        return ColourProfile(name, None, np.eye(3), understood=False)
    return ColourProfile(name, curves, matrix)


def _tags(data: bytes) -> dict[bytes, bytes]:
    if len(data) < 132 or data[36:40] != b"acsp" or data[16:20] != b"RGB ":
        raise ValueError("not an RGB profile")
    (count,) = struct.unpack(">I", data[128:132])
    entries = [struct.unpack(">4sII", data[132 + 12 * i : 144 + 12 * i]) for i in range(min(count, 200))]
    return {key: data[start : start + size] for key, start, size in entries}


def _xyz(tag: bytes) -> FloatArray:
    return np.array(struct.unpack(">3i", tag[8:20])) / 65536


def _curve(tag: bytes) -> FloatArray:
    x = np.linspace(0, 1, _STEPS)
    if tag[:4] == b"para":
        return _parametric(tag, x)
    if tag[:4] != b"curv":
        raise ValueError("unknown curve")
    (count,) = struct.unpack(">I", tag[8:12])
    if count == 0:
        return x
    table = np.frombuffer(tag[12 : 12 + 2 * count], dtype=">u2").astype(np.float64)
    if count == 1:
        return np.asarray(x ** (table[0] / 256))
    if len(table) != count:
        raise ValueError("short curve")
    return np.interp(x, np.linspace(0, 1, count), table / 65535)


def _parametric(tag: bytes, x: FloatArray) -> FloatArray:
    (kind,) = struct.unpack(">H", tag[8:10])
    needed = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}[kind]
    g, a, b, c, d, e, f = (*(v / 65536 for v in struct.unpack(f">{needed}i", tag[12 : 12 + 4 * needed])),) + (0.0,) * (
        7 - needed
    )
    if kind == 0:
        return np.asarray(x**g)
    power: FloatArray = np.asarray(np.maximum(a * x + b, 0.0) ** g)
    if kind in (1, 2):
        low, offset, start = c if kind == 2 else 0.0, c if kind == 2 else 0.0, -b / a
        return np.where(x >= start, power + offset, low)
    return np.where(x >= d, power + (e if kind == 4 else 0.0), c * x + (f if kind == 4 else 0.0))


def _description(tag: bytes) -> str:
    if tag[:4] == b"desc":
        (length,) = struct.unpack(">I", tag[8:12])
        return tag[12 : 12 + min(length, 200)].split(b"\0")[0].decode("ascii", "replace")
    if tag[:4] == b"mluc" and len(tag) >= 28:
        length, start = struct.unpack(">II", tag[20:28])
        return tag[start : start + min(length, 400)].decode("utf-16-be", "replace").strip("\0")
    return ""
