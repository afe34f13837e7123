"""The forward model: loads of pigment in a base, in a state, to reflectance and CIELAB.

Two-constant Kubelka-Munk for an opaque body, K = K0 + sum c_i k_i, S = f_b S0 + f_p sum c_i s_i,
then the film of the state. Arrays in, arrays out; the derivatives here are the only ones in the
project, used by learning (in the curves) and by the recipe search (in the loads).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .arrays import FloatArray
from .colorimetry import lab_jacobian, lab_slopes, weights, xyz_to_lab
from .states import StateFactors, film_slope, through_film

_ROWS_AT_ONCE = 2048  # keeps the working arrays of one slice within the processor's cache
_LEAST_ROOT = 1e-9  # dR/dQ has a pole at Q = 0; nothing real gets there


@dataclass(frozen=True, slots=True)
class Coefficients:
    """Optical constants of one base with n pigments in one state.

    base_k, base_s: (31,). pigment_k, pigment_s: (n, 31), per unit load (g per g of dry cement).
    Scattering as in the dry state; the state's factors are applied by the functions below.
    """

    base_k: FloatArray
    base_s: FloatArray
    pigment_k: FloatArray
    pigment_s: FloatArray
    factors: StateFactors

    @property
    def state_base_s(self) -> FloatArray:
        """(31,) scattering of the base in this state."""
        return self.factors.pore_base * self.base_s

    @property
    def state_pigment_s(self) -> FloatArray:
        """(n, 31) scattering of the pigments in this state."""
        return self.factors.pore_pigment * self.pigment_s


def reflectance(coefficients: Coefficients, loads: FloatArray) -> FloatArray:
    """Reflectance factors (..., 31) of mixtures with loads (..., n)."""
    q = loads @ coefficients.pigment_k
    q += coefficients.base_k
    s = loads @ coefficients.state_pigment_s
    s += coefficients.state_base_s
    q /= s
    return through_film(_opaque(q, out=s), coefficients.factors)


def lab(coefficients: Coefficients, loads: FloatArray) -> FloatArray:
    """CIELAB (n, 3) of many mixtures, loads (n, n_pigments), a cacheful at a time."""
    xyz = np.empty((len(loads), 3))
    matrix = weights()
    for start in range(0, len(loads), _ROWS_AT_ONCE):
        rows = slice(start, start + _ROWS_AT_ONCE)
        np.matmul(reflectance(coefficients, loads[rows]), matrix, out=xyz[rows])
    return xyz_to_lab(xyz)


def lab_and_load_slopes(coefficients: Coefficients, loads: FloatArray) -> tuple[FloatArray, FloatArray]:
    """CIELAB (m, 3) and its derivatives in the loads (m, 3, n), loads (m, n)."""
    xyz, slopes = LoadSlopes(coefficients).xyz_and_slopes(np.concatenate([loads, np.zeros((len(loads), 1))], axis=1))
    return xyz_to_lab(xyz), lab_jacobian(xyz) @ slopes[:, :-1].transpose(0, 2, 1)


def weighing_covariance(slopes: FloatArray, loads: FloatArray, load_sd: FloatArray | float) -> FloatArray:
    """(m, 3, 3) covariance in CIELAB of loads (m, n), with slopes (m, 3, n), each weighed with load_sd (m, n) or one.

    What is not in the mix is not weighed.
    """
    variance = np.where(loads > 0, np.square(load_sd), 0.0)
    return np.asarray((slopes * variance[:, None, :]) @ slopes.transpose(0, 2, 1))


class LoadSlopes:
    """CIELAB and its slopes in the loads for very many mixes, for one set of coefficients and one precision.

    The slopes of XYZ in all loads come out of two flat matrix products; for the few pigments of a recipe out of
    many, in single precision, that is a tenth of the time. One more pigment of no colour, the n-th, stands for an
    empty place.
    """

    def __init__(self, coefficients: Coefficients, precision: type[np.floating[Any]] = np.float64) -> None:
        self.precision, self.n = precision, len(coefficients.pigment_k)
        self._factors = coefficients.factors
        matrix = weights()
        empty = np.zeros((1, len(matrix)))
        k = np.concatenate([coefficients.pigment_k, empty])
        s = np.concatenate([coefficients.state_pigment_s, empty])
        self._k, self._s, self._base_k, self._base_s, self._matrix, self._k_by_xyz, self._s_by_xyz = (
            np.ascontiguousarray(part, dtype=precision)
            for part in (
                k, s, coefficients.base_k, coefficients.state_base_s, matrix,
                (k.T[:, :, None] * matrix[:, None, :]).reshape(len(matrix), -1),
                (s.T[:, :, None] * matrix[:, None, :]).reshape(len(matrix), -1),
            )
        )  # fmt: skip

    def xyz_and_slopes(self, loads: FloatArray) -> tuple[FloatArray, FloatArray]:
        """XYZ (m, 3) and its slopes (m, n + 1, 3) of loads (m, n + 1), the last an empty place."""
        s = loads @ self._s
        s += self._base_s
        q = loads @ self._k
        q += self._base_k
        q /= s
        seen, by_k, _ = _opaque_with_slope(q, s, self._factors)
        slopes = by_k @ self._k_by_xyz
        by_k *= q
        slopes -= by_k @ self._s_by_xyz
        return seen @ self._matrix, slopes.reshape(len(loads), self.n + 1, 3)

    def lab_and_slopes(
        self, places: NDArray[np.intp], amounts: FloatArray, fixed: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """CIELAB (3, m) and slopes (3, k, m) of mixes with `amounts` (k, m) of the pigments `places` (k, m).

        fixed: (n,) loads that are in every mix besides.
        """
        k, m = places.shape
        lab, slopes = np.empty((3, m), self.precision), np.empty((3, k, m), self.precision)
        for start in range(0, m, _ROWS_AT_ONCE):
            rows = slice(start, start + _ROWS_AT_ONCE)
            lab[:, rows], slopes[:, :, rows] = self._slice(places[:, rows], amounts[:, rows], fixed)
        return lab, slopes

    def _slice(self, places: NDArray[np.intp], amounts: FloatArray, fixed: FloatArray) -> tuple[FloatArray, FloatArray]:
        rows = np.arange(places.shape[1])
        loads = np.empty((len(rows), self.n + 1), dtype=self.precision)
        loads[:] = np.append(fixed, 0.0)
        for place, amount in zip(places, amounts, strict=True):
            loads[rows, place] = amount
        xyz, slopes = self.xyz_and_slopes(loads)
        xyz, picked = xyz.astype(np.float64), slopes[rows, places]  # (m, 3), (k, m, 3)
        slope = (lab_slopes(xyz) * np.array([500.0, 116.0, 200.0])).astype(self.precision)
        x, y, z = (picked[..., i] * slope[:, i] for i in range(3))
        return xyz_to_lab(xyz).T, np.stack([y, x - y * (500 / 116), y * (200 / 116) - z])


@dataclass(frozen=True, slots=True)
class CurveSlopes:
    """Derivatives of r readings in the logarithms of the curves, for m mixtures (see `read_and_curve_slopes`)."""

    base_k: FloatArray  # (m, r, n_knots)
    base_s: FloatArray  # (m, r), one factor for all wavelengths
    pigment_k: FloatArray  # (m, r, n, n_knots)
    pigment_s: FloatArray  # (m, r, n, n_scatter_knots)
    pore_base: FloatArray  # (m, r), in log
    pore_pigment: FloatArray  # (m, r), in log
    cover: FloatArray  # (m, r), in logit


Reading: TypeAlias = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""What is read off reflectance factors (m, 31): r numbers (m, r) and their slopes (m, r, 31)."""


def as_lab(reflectance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The reading of an eye or a camera: CIELAB, r = 3."""
    xyz = reflectance @ weights()
    return xyz_to_lab(xyz), lab_jacobian(xyz) @ weights().T


def read_and_curve_slopes(
    coefficients: Coefficients,
    loads: FloatArray,
    knots: FloatArray,
    scatter_knots: FloatArray,
    reading: Reading = as_lab,
) -> tuple[FloatArray, CurveSlopes]:
    """Readings (m, r) of loads (m, n) and their derivatives in everything a tile can teach.

    knots (31, n_knots) and scatter_knots (31, n_scatter_knots) are the bases in which log K0, log k
    and log s are written; the log of the base's scattering has one number, as have both pore factors.
    """
    k = loads @ coefficients.pigment_k + coefficients.base_k
    s = loads @ coefficients.state_pigment_s + coefficients.state_base_s
    q = k / s
    factors = coefficients.factors
    seen, dr_dk, bare = _opaque_with_slope(q, s, factors)
    values, by_reflectance = reading(seen)
    by_k = by_reflectance * dr_dk[:, None, :]
    by_s = -by_k * q[:, None, :]
    m, r = values.shape

    def spread(slope: FloatArray, curves: FloatArray, basis: FloatArray) -> FloatArray:
        stacked = (curves[:, :, None] * basis).transpose(1, 0, 2).reshape(len(basis), -1)
        product = slope.reshape(m * r, -1) @ stacked
        return product.reshape(m, r, len(curves), basis.shape[1]) * loads[:, None, :, None]

    base_s = by_s @ coefficients.state_base_s
    pigment_s = spread(by_s, coefficients.state_pigment_s, scatter_knots)
    by_cover = (through_film(bare, replace(factors, cover=1.0)) - bare) * factors.cover * (1 - factors.cover)
    return values, CurveSlopes(
        base_k=(by_k * coefficients.base_k) @ knots,
        base_s=base_s,
        pigment_k=spread(by_k, coefficients.pigment_k, knots),
        pigment_s=pigment_s,
        pore_base=base_s,
        pore_pigment=pigment_s.sum(axis=(2, 3)),  # the knots' basis sums to one at every wavelength
        cover=np.einsum("mcl,ml->mc", by_reflectance, by_cover),
    )


def _opaque_with_slope(
    q: FloatArray, s: FloatArray, factors: StateFactors
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Reflectance seen in a state, its derivative in K (that in S is -Q times it), and without film; of Q, S (m, 31).

    dR/dQ = -R / sqrt(Q^2 + 2 Q), dQ/dK = 1 / S.
    """
    root = np.sqrt(q * (q + 2))
    bare = 1 / (1 + q + root)
    root *= s
    by_k = np.divide(bare, np.minimum(-root, -_LEAST_ROOT), out=root)
    if factors.cover:
        by_k *= film_slope(bare, factors)
    return through_film(bare, factors), by_k, bare


def _opaque(q: FloatArray, *, out: FloatArray) -> FloatArray:
    """1 / (1 + Q + sqrt(Q^2 + 2 Q)) in place: `q` and `out` are both used up."""
    np.add(q, 2.0, out=out)
    out *= q
    np.sqrt(out, out=out)
    out += q
    out += 1.0
    return np.divide(1.0, out, out=out)
