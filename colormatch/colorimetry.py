"""From reflectance to XYZ, CIELAB and sRGB, and back where there is a way back.

CIE 1931 2 degree observer, Y of the perfect reflector = 100. D65 unless an illuminant is named.
Every function takes and returns arrays: bands (..., 31) or colours (..., 3).
"""

from __future__ import annotations

from functools import cache
from re import fullmatch
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, last_axis, read_only
from .data import read_table
from .errors import InputError, UnknownNameError
from .spectra import N_BANDS

Illuminant = Literal["D65", "A", "D50", "F11", "LED-B3"]
ILLUMINANTS: tuple[str, ...] = get_args(Illuminant)

# CIE 15: the exact fractions behind 0.008856 and 903.3.
_EPSILON = 216 / 24389
_KAPPA = 24389 / 27
_LAB_PER_F = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])  # the same standard's L*, a*, b* in f of X, Y, Z

# IEC 61966-2-1, linear sRGB from XYZ (Y = 1), D65 white.
_XYZ_TO_RGB = np.array(
    [
        [3.2406255, -1.5372080, -0.4986286],
        [-0.9689307, 1.8757561, 0.0415175],
        [0.0557101, -0.2040211, 1.0569959],
    ]
)
_RGB_TO_XYZ = np.linalg.inv(_XYZ_TO_RGB)

# CAT16, XYZ to sharpened cone responses; Li et al. (2017).
_CAT16 = np.array([[0.401288, 0.650173, -0.051461], [-0.250268, 1.204414, 0.045854], [-0.002079, 0.048952, 0.953127]])


@cache
def weights(illuminant: str = "D65") -> FloatArray:
    """(31, 3) weights that turn reflectance on the grid into XYZ; raises UnknownNameError.

    Made from the CIE tables in colour-science by the builder; see colormatch/data/README.md.
    """
    if illuminant not in ILLUMINANTS:
        raise UnknownNameError("illuminant", illuminant, ILLUMINANTS)
    return read_only(read_table("illuminant_weights.csv").numbers(*(f"{illuminant} {axis}" for axis in "XYZ")))


@cache
def white_point(illuminant: str = "D65") -> FloatArray:
    """(3,) XYZ of the perfect reflector under an illuminant."""
    return read_only(weights(illuminant).sum(axis=0))


def reflectance_to_xyz(reflectance: ArrayLike, illuminant: str = "D65") -> FloatArray:
    """XYZ (..., 3) of reflectance factors (..., 31)."""
    return last_axis(reflectance, name="The reflectance", size=N_BANDS) @ weights(illuminant)


def xyz_to_lab(xyz: ArrayLike, illuminant: str = "D65") -> FloatArray:
    """CIELAB (..., 3) from XYZ (..., 3), CIE 15:2018 eqs. (8.3)-(8.7)."""
    return lab_of_xyz(last_axis(xyz, name="XYZ", size=3), white_point(illuminant))


def lab_to_xyz(lab: ArrayLike, illuminant: str = "D65") -> FloatArray:
    """XYZ (..., 3) from CIELAB (..., 3); the inverse of `xyz_to_lab`."""
    lab = last_axis(lab, name="The colour", size=3)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    ratio = np.where(f**3 > _EPSILON, f**3, (116 * f - 16) / _KAPPA)
    return ratio * white_point(illuminant)


def reflectance_to_lab(reflectance: ArrayLike, illuminant: str = "D65") -> FloatArray:
    """CIELAB (..., 3) of reflectance factors (..., 31) under an illuminant."""
    return xyz_to_lab(reflectance_to_xyz(reflectance, illuminant), illuminant)


def lab_of_xyz(xyz: FloatArray, white: FloatArray) -> FloatArray:
    """CIELAB (..., 3) from XYZ (..., 3) under a light whose white (3,) is given."""
    return _lab_from_f(_f(xyz / white))


def adaptation(white: ArrayLike, other_white: ArrayLike) -> FloatArray:
    """(3, 3) XYZ under one white (3,) to the XYZ that looks the same under another, adaptation complete.

    CAT16: Li et al., Color Res. Appl. 42 (2017) 703-718.
    """
    gains = (_CAT16 @ np.asarray(other_white)) / (_CAT16 @ np.asarray(white))
    return np.asarray(np.linalg.inv(_CAT16) @ (gains[:, None] * _CAT16))


def lab_slopes(xyz: ArrayLike, illuminant: str = "D65") -> FloatArray:
    """(..., 3) derivatives of f(X/Xn), f(Y/Yn), f(Z/Zn) in XYZ."""
    white = white_point(illuminant)
    ratio = last_axis(xyz, name="XYZ", size=3) / white
    safe = np.maximum(ratio, _EPSILON)
    return np.where(ratio > _EPSILON, np.cbrt(safe) / (3 * safe), _KAPPA / 116) / white


def lab_jacobian(xyz: ArrayLike, illuminant: str = "D65") -> FloatArray:
    """(..., 3, 3) derivatives of L*, a*, b* (rows) in X, Y, Z (columns)."""
    return _LAB_PER_F * lab_slopes(xyz, illuminant)[..., None, :]


def lab_to_lch(lab: ArrayLike) -> FloatArray:
    """L*, chroma C*ab and hue angle h_ab in degrees 0..360, (..., 3)."""
    lab = last_axis(lab, name="The colour", size=3)
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360
    return np.stack([lab[..., 0], np.hypot(lab[..., 1], lab[..., 2]), hue], axis=-1)


def srgb_decode(encoded: ArrayLike) -> FloatArray:
    """Linear sRGB from encoded sRGB 0..1 (any shape), IEC 61966-2-1."""
    e = np.asarray(encoded, dtype=np.float64)
    return np.where(e <= 0.04045, e / 12.92, ((np.maximum(e, 0.04045) + 0.055) / 1.055) ** 2.4)


def srgb_encode(linear: ArrayLike) -> FloatArray:
    """Encoded sRGB from linear sRGB (any shape), IEC 61966-2-1; values outside 0..1 pass through."""
    v = np.asarray(linear, dtype=np.float64)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 0.0031308) ** (1 / 2.4) - 0.055)


def linear_rgb_to_xyz(rgb: ArrayLike) -> FloatArray:
    """XYZ (Y of white = 100) from linear sRGB (..., 3), carried onto this module's D65 white.

    The standard's four-digit white and the one of the weights differ by 0.02 in Z; the ratio keeps
    equal R = G = B at a* = b* = 0.
    """
    xyz = last_axis(rgb, name="The RGB colour", size=3) @ _RGB_TO_XYZ.T
    return np.asarray(xyz * (white_point() / _RGB_TO_XYZ.sum(axis=1)), dtype=np.float64)


def xyz_to_linear_rgb(xyz: ArrayLike) -> FloatArray:
    """Linear sRGB (..., 3) from XYZ; the inverse of `linear_rgb_to_xyz`, not clipped."""
    scaled = last_axis(xyz, name="XYZ", size=3) * (_RGB_TO_XYZ.sum(axis=1) / white_point())
    return np.asarray(scaled @ _XYZ_TO_RGB.T, dtype=np.float64)


def srgb_to_lab(srgb: ArrayLike) -> FloatArray:
    """CIELAB (..., 3) from encoded sRGB 0..1 (..., 3)."""
    return xyz_to_lab(linear_rgb_to_xyz(srgb_decode(last_axis(srgb, name="The sRGB colour", size=3))))


def lab_to_srgb(lab: ArrayLike) -> FloatArray:
    """Encoded sRGB (..., 3) clipped to 0..1 for display; ask `in_srgb_gamut` whether it was clipped."""
    return np.clip(srgb_encode(xyz_to_linear_rgb(lab_to_xyz(lab))), 0.0, 1.0)


def in_srgb_gamut(lab: ArrayLike) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Whether a colour (..., 3) can be shown on an sRGB screen without clipping."""
    linear = xyz_to_linear_rgb(lab_to_xyz(lab))
    return np.asarray(np.all((linear >= -1e-4) & (linear <= 1 + 1e-4), axis=-1), dtype=np.bool_)


def lab_to_hex(lab: ArrayLike) -> str:
    """The nearest screen colour of one CIELAB colour, as `#rrggbb`."""
    return lab_to_hexes(last_axis(lab, name="The colour", size=3)[None])[0]


def lab_to_hexes(labs: ArrayLike) -> list[str]:
    """The nearest screen colours of CIELAB colours (n, 3), each as `#rrggbb`."""
    levels = np.round(lab_to_srgb(labs) * 255).astype(int)
    return [f"#{r:02x}{g:02x}{b:02x}" for r, g, b in levels]


def hex_to_lab(text: str) -> FloatArray:
    """CIELAB (3,) of a screen colour written `#rrggbb`; raises InputError for anything else."""
    digits = text.strip().removeprefix("#")
    if not fullmatch("[0-9a-fA-F]{6}", digits):
        raise InputError(f"{text!r} is not a screen colour; write it like #b0603a (six hexadecimal digits).")
    return srgb_to_lab(np.array([int(digits[i : i + 2], 16) for i in (0, 2, 4)]) / 255)


def _f(ratio: FloatArray) -> FloatArray:
    return np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16) / 116)


def _lab_from_f(f: FloatArray) -> FloatArray:
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)
