"""Colour differences: CIE 1976, CIEDE2000, and the special metamerism index."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, last_axis

_HUE_TIE_DEGREES = 1e-9  # rounding of arctan2; decides Sharma's pair 14 the same way on every platform
_POW25_7 = 25.0**7


def delta_e_1976(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """Euclidean distance in CIELAB, (..., 3) against (..., 3)."""
    difference = last_axis(first, name="The first colour", size=3) - last_axis(second, name="The second colour", size=3)
    return np.asarray(np.sqrt(np.sum(difference**2, axis=-1)), dtype=np.float64)


def delta_e_2000(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """CIEDE2000 colour difference, k_L = k_C = k_H = 1, (..., 3) against (..., 3), broadcasting.

    A colour with nan in it gives nan; what is no numbers raises InputError.

    Equation numbers of Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21-30.
    """
    one = last_axis(first, name="The first colour", size=3)
    two = last_axis(second, name="The second colour", size=3)
    dl, dc, dh, sl, sc, sh, rt = _terms(one, two)
    tl, tc, th = dl / sl, dc / sc, dh / sh
    squared = tl * tl + tc * tc + th * th + rt * tc * th  # eq. (22)
    return np.sqrt(np.maximum(squared, 0.0))


def delta_e_2000_parts(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """(..., 3) numbers whose squares add up to the square of `delta_e_2000`; for least squares.

    tL, tC + R_T tH / 2, tH sqrt(1 - R_T^2 / 4) with t = difference over weight: eq. (22), its cross
    term completed to a square. Signed as second minus first.
    """
    one = last_axis(first, name="The first colour", size=3)
    two = last_axis(second, name="The second colour", size=3)
    dl, dc, dh, sl, sc, sh, rt = _terms(one, two)
    tl, tc, th = dl / sl, dc / sc, dh / sh
    return np.stack([tl, tc + rt * th / 2, th * np.sqrt(np.maximum(1 - rt * rt / 4, 0.0))], axis=-1)


def _terms(one: FloatArray, two: FloatArray) -> tuple[FloatArray, ...]:
    """Differences in L', C', H' with their weights and the rotation term, eqs. (2)-(21)."""
    l1, a1, b1 = one[..., 0], one[..., 1], one[..., 2]
    l2, a2, b2 = two[..., 0], two[..., 1], two[..., 2]
    c_bar = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2  # eqs. (2), (3)
    g = 1.5 - 0.5 * _chroma_knee(c_bar)  # 1 + G, eq. (4)
    a1, a2 = g * a1, g * a2  # eq. (5)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)  # eq. (6)
    h1 = np.degrees(np.arctan2(b1, a1)) % 360  # eq. (7)
    h2 = np.degrees(np.arctan2(b2, a2)) % 360
    grey = c1 * c2 == 0

    step = h2 - h1
    turn = np.where(step > 180 + _HUE_TIE_DEGREES, -360.0, np.where(step < -180 - _HUE_TIE_DEGREES, 360.0, 0))
    step = np.where(grey, 0.0, step + turn)  # eq. (10)
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(step) / 2)  # eq. (11)

    total = h1 + h2
    far = np.abs(h1 - h2) > 180 + _HUE_TIE_DEGREES
    h_bar = np.where(far, np.where(total < 360, total + 360, total - 360), total) / 2
    h_bar = np.where(grey, total, h_bar)  # eq. (14)
    l_bar, c_bar = (l1 + l2) / 2, (c1 + c2) / 2  # eqs. (12), (13)
    hue = np.radians(h_bar)
    t = (
        1
        - 0.17 * np.cos(hue - np.radians(30))
        + 0.24 * np.cos(2 * hue)
        + 0.32 * np.cos(3 * hue + np.radians(6))
        - 0.20 * np.cos(4 * hue - np.radians(63))
    )  # eq. (15)
    off = (l_bar - 50) ** 2
    sl = 1 + 0.015 * off / np.sqrt(20 + off)  # eq. (18)
    sc = 1 + 0.045 * c_bar  # eq. (19)
    sh = 1 + 0.015 * c_bar * t  # eq. (20)
    twist = 30 * np.exp(-(((h_bar - 275) / 25) ** 2))  # eq. (16)
    rt = -np.sin(np.radians(2 * twist)) * 2 * _chroma_knee(c_bar)  # eqs. (17), (21)
    return l2 - l1, c2 - c1, dh, sl, sc, sh, rt


def _chroma_knee(chroma: FloatArray) -> FloatArray:
    power = chroma**7
    return np.sqrt(power / (power + _POW25_7))


def metamerism_index(
    standard_reference: ArrayLike,
    standard_test: ArrayLike,
    sample_reference: ArrayLike,
    sample_test: ArrayLike,
) -> FloatArray:
    """Special metamerism index: CIEDE2000 under a test light once the mismatch left under the
    reference light has been taken off, by the additive correction in CIELAB of ISO 18314-4.

    All (..., 3). The corrected sample is sample_test - (sample_reference - standard_reference).
    """
    standard_reference, sample_reference = np.asarray(standard_reference), np.asarray(sample_reference)
    corrected = np.asarray(sample_test, dtype=np.float64) - (sample_reference - standard_reference)
    return delta_e_2000(standard_test, corrected)
