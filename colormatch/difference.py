"""Colour differences: CIE 1976, CIEDE2000 with its slopes, metric and expectation, the special metamerism index.

Equation numbers of Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21-30; k_L = k_C = k_H = 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .arrays import FloatArray, last_axis

ComplexArray: TypeAlias = NDArray[np.complex128]

JUST_SEEN = 1.0  # CIEDE2000, side by side; common practice, no source
_HUE_TIE_DEGREES = 1e-9  # rounding of arctan2; decides Sharma's pair 14 the same way on every platform
_POW25_7 = 25.0**7  # of G and R_C (Sharma et al. 2005)
# CIELAB units. Hue has no slope at a grey: in slopes, not in differences, a chroma counts as no less than this.
_LEAST_CHROMA = 0.01
# Eq. (15) as waves over the mean hue: the real part of c exp(i n hue), n = 1..4.
_T_WAVES: ComplexArray = np.array([-0.17, 0.24, 0.32, -0.20]) * np.exp(1j * np.radians([-30.0, 0.0, 6.0, -63.0]))
_T_WAVE_SLOPES: ComplexArray = _T_WAVES * np.array([1, 2, 3, 4], dtype=complex)
_NINE_IN_TEN = 1.34  # see expected_and_likely
_ROWS_AT_ONCE = 32  # keeps the working arrays within the processor's cache
_NUDGE = 0.05  # CIELAB units, for second derivatives: below it rounding counts, above it the third ones
_PAIRS = ((0, 1), (0, 2), (1, 2))
_AHEAD = _NUDGE * np.concatenate([np.eye(3), [np.eye(3)[i] + np.eye(3)[j] for i, j in _PAIRS]])
_STENCIL = np.concatenate([np.zeros((1, 3)), _AHEAD, -_AHEAD])


def delta_e_2000(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """CIEDE2000 colour difference, k_L = k_C = k_H = 1, (..., 3) against (..., 3), broadcasting.

    A colour with nan in it gives nan; what is no numbers raises InputError.

    Equation numbers of Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21-30; their first pair:

    >>> print(f"{delta_e_2000((50, 2.6772, -79.7751), (50, 0, -82.7485)):.4f}")
    2.0425
    """
    t = _terms(*_colours(first, second))
    tl, tc, th = t.dl / t.sl, t.dc / t.sc, t.dh / t.sh
    return np.sqrt(np.maximum(tl * tl + tc * tc + th * th + t.rt * tc * th, 0.0))  # eq. (22)


def parts(first: ArrayLike, second: ArrayLike) -> FloatArray:
    """(..., 3) numbers whose squares add up to the square of `delta_e_2000`: lightness, chroma, hue.

    tL, tC + R_T tH / 2, tH sqrt(1 - R_T^2 / 4) with t = difference over weight: eq. (22), its cross
    term completed to a square. Signed as second minus first.
    """
    return _parts(_terms(*_colours(first, second)))


def slopes(first: ArrayLike, second: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """`parts` (..., 3) and their derivatives (..., part, 3) in the second colour, for least squares.

    At a grey, where the parts have no derivative, one whose squares still add up to the metric.
    """
    one, two = _colours(first, second)
    terms = _terms(one, two)
    return _parts(terms), _slopes(one, two, terms)


def metric(lab: ArrayLike) -> FloatArray:
    """(..., 3, 3) matrices G with CIEDE2000^2 = e' G e for a small difference e at the colours (..., 3).

    At a grey diag(1 / S_L^2, 2.25, 1): eqs. (4)-(5) stretch a* by 1.5 there and leave b* alone.
    """
    _, by_lab = slopes(lab, lab)
    return np.asarray(np.swapaxes(by_lab, -1, -2) @ by_lab)


def curvature(first: ArrayLike, second: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """CIEDE2000 squared (...), its gradient (..., 3) and second derivatives (..., 3, 3) in the second colour.

    By central differences of the difference itself: half the time of differences of the exact gradient.
    """
    one, two = _colours(first, second)
    square = delta_e_2000(one[..., None, :], two[..., None, :] + _STENCIL) ** 2  # (..., 13)
    here, ahead, behind = square[..., :1], square[..., 1:7], square[..., 7:]
    bend = (ahead + behind - 2 * here) / _NUDGE**2
    second_slopes = np.empty((*square.shape[:-1], 3, 3))
    for i in range(3):
        second_slopes[..., i, i] = bend[..., i]
    for place, (i, j) in enumerate(_PAIRS, start=3):
        mixed = (bend[..., place] - bend[..., i] - bend[..., j]) / 2
        second_slopes[..., i, j] = second_slopes[..., j, i] = mixed
    return here[..., 0], (ahead[..., :3] - behind[..., :3]) / (2 * _NUDGE), second_slopes


def expected_delta_e(first: ArrayLike, second: ArrayLike, covariance: ArrayLike) -> FloatArray:
    """(...) mean CIEDE2000 from `first` (..., 3) to a colour normal around `second` (..., 3), (..., 3, 3).

    The mean over 6 x 6 x 6 Gauss-Hermite nodes; within 5 % of sampling (tests/test_difference.py).
    """
    return expected_and_likely(first, second, covariance)[0]


def expected_and_likely(first: ArrayLike, second: ArrayLike, covariance: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """`expected_delta_e`, and the CIEDE2000 that nine such colours in ten stay under.

    The second as mean + 1.34 sd: 1.34 for the length of a normal error of three dimensions, 1.41 of one, 1.28 of
    many; within 6 % of sampling.
    """
    one, two = np.broadcast_arrays(*_colours(first, second))
    nodes, node_weights = _normal_nodes()
    value, vectors = np.linalg.eigh(np.broadcast_to(covariance, (*two.shape, 3)).reshape(-1, 3, 3))
    spread = np.swapaxes(vectors * np.sqrt(np.maximum(value, 0.0))[:, None, :], 1, 2)
    flat_one, flat_two, count = one.reshape(-1, 1, 3), two.reshape(-1, 1, 3), len(spread)
    mean, square = np.empty(count), np.empty(count)
    for start in range(0, count, _ROWS_AT_ONCE):
        rows = slice(start, start + _ROWS_AT_ONCE)
        distances = delta_e_2000(flat_one[rows], flat_two[rows] + nodes @ spread[rows])
        np.matmul(distances, node_weights, out=mean[rows])
        np.matmul(distances * distances, node_weights, out=square[rows])
    likely = mean + _NINE_IN_TEN * np.sqrt(np.maximum(square - mean * mean, 0.0))
    return mean.reshape(two.shape[:-1]), likely.reshape(two.shape[:-1])


@cache
def _normal_nodes() -> tuple[FloatArray, FloatArray]:
    """(216, 3) nodes and (216,) weights for the mean over a standard normal in three dimensions."""
    x, w = np.polynomial.hermite_e.hermegauss(6)
    w = w / w.sum()
    grid = np.stack(np.meshgrid(x, x, x, indexing="ij"), axis=-1).reshape(-1, 3)
    return grid, (w[:, None, None] * w[:, None] * w).reshape(-1)


@dataclass(frozen=True, slots=True)
class _Terms:
    """What eq. (22) is made of, and what its slopes need besides; angles in radians."""

    dl: FloatArray
    dc: FloatArray
    dh: FloatArray
    sl: FloatArray
    sc: FloatArray
    sh: FloatArray
    rt: FloatArray
    g: FloatArray  # 1 + G
    star: FloatArray  # C* of the second colour
    mean_star: FloatArray
    star_knee: FloatArray
    first: ComplexArray  # a' + i b
    second: ComplexArray
    c1: FloatArray
    c2: FloatArray
    c_bar: FloatArray
    knee: FloatArray
    half_step: FloatArray  # half the difference of the hues
    hue: FloatArray  # their mean
    turned: ComplexArray  # exp(i hue)
    t: FloatArray
    twist: FloatArray  # twice delta theta of eq. (16)


def _terms(one: FloatArray, two: FloatArray) -> _Terms:
    l1, a1, b1 = one[..., 0], one[..., 1], one[..., 2]
    l2, a2, b2 = two[..., 0], two[..., 1], two[..., 2]
    star = np.sqrt(a2 * a2 + b2 * b2)  # eq. (2); np.hypot takes eight times as long
    mean_star = (np.sqrt(a1 * a1 + b1 * b1) + star) / 2  # eq. (3)
    star_knee = _knee(mean_star)
    g = 1.5 - 0.5 * star_knee  # 1 + G, eq. (4)
    first, second = g * a1 + 1j * b1, g * a2 + 1j * b2  # eq. (5)
    c1, c2 = np.abs(first), np.abs(second)  # eq. (6)
    h1, h2 = _hue(first), _hue(second)  # eq. (7)
    grey = c1 * c2 == 0

    step, total = h2 - h1, h1 + h2
    far = np.abs(step) > 180 + _HUE_TIE_DEGREES
    step = np.where(grey, 0.0, step - np.where(far, np.copysign(360.0, step), 0.0))  # eq. (10)
    mean = np.where(far, np.where(total < 360, total + 360, total - 360), total) / 2
    mean = np.where(grey, total, mean)  # eq. (14)
    half_step, hue = np.radians(step) / 2, np.radians(mean)
    off, c_bar = ((l1 + l2) / 2 - 50) ** 2, (c1 + c2) / 2  # eqs. (12), (13)
    knee = _knee(c_bar)
    turned = np.cos(hue) + 1j * np.sin(hue)
    t = 1 + _polynomial(_T_WAVES, turned).real  # eq. (15)
    twist = np.radians(60) * np.exp(-(((mean - 275) / 25) ** 2))  # twice eq. (16)
    return _Terms(
        dl=l2 - l1,
        dc=c2 - c1,
        dh=2 * np.sqrt(c1 * c2) * np.sin(half_step),  # eq. (11)
        sl=1 + 0.015 * off / np.sqrt(20 + off),  # eq. (18)
        sc=1 + 0.045 * c_bar,  # eq. (19)
        sh=1 + 0.015 * c_bar * t,  # eq. (20)
        rt=-np.sin(twist) * 2 * knee,  # eqs. (17), (21)
        g=g,
        star=star,
        mean_star=mean_star,
        star_knee=star_knee,
        first=first,
        second=second,
        c1=c1,
        c2=c2,
        c_bar=c_bar,
        knee=knee,
        half_step=half_step,
        hue=hue,
        turned=turned,
        t=t,
        twist=twist,
    )


def _parts(t: _Terms) -> FloatArray:
    th = t.dh / t.sh
    return np.stack([t.dl / t.sl, t.dc / t.sc + t.rt * th / 2, th * np.sqrt(1 - t.rt * t.rt / 4)], axis=-1)


def _slopes(one: FloatArray, two: FloatArray, t: _Terms) -> FloatArray:
    """(..., part, 3) by the chain rule through `_terms`; d_x is the derivative of x in a* and b*, (2, ...)."""
    d_g = (
        -0.25
        * _knee_slope(t.mean_star, t.star_knee)
        / np.maximum(t.star, _LEAST_CHROMA)
        * np.moveaxis(two[..., 1:], -1, 0)
    )
    d_first, d_second = one[..., 1] * d_g, (two[..., 1] * d_g).astype(np.complex128)
    d_second[0] += t.g
    d_second[1] += 1j
    # Relative change of each colour in the plane: along its own hue the real part, across it the imaginary one.
    c1, c2 = np.maximum(t.c1, _LEAST_CHROMA), np.maximum(t.c2, _LEAST_CHROMA)
    turn1, turn2 = _unit(t.first, t.c1) / c1 * d_first, _unit(t.second, t.c2) / c2 * d_second
    both = turn1 + turn2
    d_c1, d_c2 = c1 * turn1.real, c2 * turn2.real
    d_c, d_hue = (d_c1 + d_c2) / 2, both.imag / 2
    d_dh = np.sqrt(c1 * c2) * (np.sin(t.half_step) * both.real + np.cos(t.half_step) * (turn2 - turn1).imag)

    t_slope = -_polynomial(_T_WAVE_SLOPES, t.turned).imag
    d_sh = 0.015 * t.t * d_c + 0.015 * t.c_bar * t_slope * d_hue
    twist_slope = -2 * t.twist * (t.hue - np.radians(275)) / np.radians(25) ** 2
    d_rt = -2 * np.cos(t.twist) * twist_slope * t.knee * d_hue
    d_rt -= 2 * np.sin(t.twist) * _knee_slope(t.c_bar, t.knee) * d_c
    tc, th, rest = t.dc / t.sc, t.dh / t.sh, np.sqrt(1 - t.rt * t.rt / 4)
    d_tc, d_th = (d_c2 - d_c1 - 0.045 * tc * d_c) / t.sc, (d_dh - th * d_sh) / t.sh
    middle = (one[..., 0] + two[..., 0]) / 2 - 50
    s_slope = 0.015 * middle * (40 + middle**2) / (20 + middle**2) ** 1.5
    by_lab = np.zeros((3, 3, *t.dl.shape))
    by_lab[0, 0] = (1 - t.dl / t.sl * s_slope / 2) / t.sl
    by_lab[1, 1:] = d_tc + t.rt / 2 * d_th + th / 2 * d_rt
    by_lab[2, 1:] = rest * d_th - th * t.rt / (4 * rest) * d_rt
    return np.moveaxis(by_lab, (0, 1), (-2, -1))


_NO_CHROMA = 1e-100  # below, a division by the chroma may overflow; no colour differs from grey there


def _unit(colour: ComplexArray, chroma: FloatArray) -> ComplexArray:
    """The conjugate of the colour's direction in the plane; a grey's is taken to be that of a*."""
    grey = chroma < _NO_CHROMA
    if grey.any():
        colour, chroma = np.where(grey, 1.0, colour), np.where(grey, 1.0, chroma)
    return np.asarray(colour.conj() / chroma, dtype=np.complex128)


def _polynomial(coefficients: ComplexArray, z: ComplexArray) -> ComplexArray:
    """c1 z + c2 z^2 + c3 z^3 + c4 z^4."""
    c1, c2, c3, c4 = coefficients
    return np.asarray((((c4 * z + c3) * z + c2) * z + c1) * z)


def _hue(colour: ComplexArray) -> FloatArray:
    """In degrees, 0 to 360."""
    angle = np.degrees(np.angle(colour))
    return np.where(angle < 0, angle + 360, angle)


def _knee(chroma: FloatArray) -> FloatArray:
    square = chroma * chroma
    power = square * square * square * chroma
    return np.sqrt(power / (power + _POW25_7))


def _knee_slope(chroma: FloatArray, knee: FloatArray) -> FloatArray:
    return np.asarray(3.5 * knee * (1 - knee * knee) / np.maximum(chroma, _LEAST_CHROMA))


def _colours(first: ArrayLike, second: ArrayLike) -> tuple[FloatArray, FloatArray]:
    return last_axis(first, name="The first colour", size=3), last_axis(second, name="The second colour", size=3)


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
