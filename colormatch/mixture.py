"""The forward model: loads of pigment in a base, in a state, to reflectance and CIELAB.

Two-constant Kubelka-Munk for an opaque body, K = K0 + sum c_i k_i, S = f_b S0 + f_p sum c_i s_i,
then the film of the state. Arrays in, arrays out; the derivatives here are the only ones in the
project, used by learning (in the curves) and by the recipe solver (in the loads).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import FloatArray
from .colorimetry import lab_jacobian, weights, xyz_to_lab
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


def lab(coefficients: Coefficients, loads: FloatArray, illuminant: str = "D65") -> FloatArray:
    """CIELAB (n, 3) of many mixtures, loads (n, n_pigments), a cacheful at a time."""
    xyz = np.empty((len(loads), 3))
    matrix = weights(illuminant)
    for start in range(0, len(loads), _ROWS_AT_ONCE):
        rows = slice(start, start + _ROWS_AT_ONCE)
        np.matmul(reflectance(coefficients, loads[rows]), matrix, out=xyz[rows])
    return xyz_to_lab(xyz, illuminant)


def lab_and_load_slopes(
    coefficients: Coefficients, loads: FloatArray, illuminant: str = "D65"
) -> tuple[FloatArray, FloatArray]:
    """CIELAB (m, 3) and its derivatives in the loads (m, 3, n), loads (m, n)."""
    body = _Body(coefficients, loads, illuminant)
    by_k = body.lab_by_q / body.s[:, None, :]  # dLab/dK
    slopes = by_k @ coefficients.pigment_k.T - (by_k * body.q[:, None, :]) @ coefficients.state_pigment_s.T
    return body.lab, slopes


@dataclass(frozen=True, slots=True)
class CurveSlopes:
    """Derivatives of CIELAB in the logarithms of the curves, for m mixtures (see `lab_and_curve_slopes`)."""

    base_k: FloatArray  # (m, 3, n_knots)
    base_s: FloatArray  # (m, 3), one factor for all wavelengths
    pigment_k: FloatArray  # (m, 3, n, n_knots)
    pigment_s: FloatArray  # (m, 3, n, n_scatter_knots)
    pore_base: FloatArray  # (m, 3), in log
    pore_pigment: FloatArray  # (m, 3), in log
    cover: FloatArray  # (m, 3), in logit


def lab_and_curve_slopes(
    coefficients: Coefficients,
    loads: FloatArray,
    knots: FloatArray,
    scatter_knots: FloatArray,
    illuminant: str = "D65",
) -> tuple[FloatArray, CurveSlopes]:
    """CIELAB (m, 3) of loads (m, n) and its derivatives in everything a tile can teach.

    knots (31, n_knots) and scatter_knots (31, n_scatter_knots) are the bases in which log K0, log k
    and log s are written; the log of the base's scattering has one number, as have both pore factors.
    """
    body = _Body(coefficients, loads, illuminant)
    m = len(loads)
    by_k = body.lab_by_q / body.s[:, None, :]
    by_s = -by_k * body.q[:, None, :]

    def spread(slope: FloatArray, curves: FloatArray, basis: FloatArray) -> FloatArray:
        stacked = (curves[:, :, None] * basis).transpose(1, 0, 2).reshape(len(basis), -1)
        product = slope.reshape(m * 3, -1) @ stacked
        return product.reshape(m, 3, len(curves), -1) * loads[:, None, :, None]

    base_s = by_s @ coefficients.state_base_s
    pigment_s = spread(by_s, coefficients.state_pigment_s, scatter_knots)
    factors = coefficients.factors
    change = (through_film(body.bare, _full(factors)) - body.bare) * factors.cover * (1 - factors.cover)
    return body.lab, CurveSlopes(
        base_k=(by_k * coefficients.base_k) @ knots,
        base_s=base_s,
        pigment_k=spread(by_k, coefficients.pigment_k, knots),
        pigment_s=pigment_s,
        pore_base=base_s,
        pore_pigment=pigment_s.sum(axis=(2, 3)),  # the knots' basis sums to one at every wavelength
        cover=np.einsum("mcl,ml->mc", body.lab_by_reflectance, change),
    )


class _Body:
    """One pass through the model, keeping what the derivatives need."""

    def __init__(self, coefficients: Coefficients, loads: FloatArray, illuminant: str) -> None:
        k = loads @ coefficients.pigment_k + coefficients.base_k
        self.s = loads @ coefficients.state_pigment_s + coefficients.state_base_s
        self.q = k / self.s
        root = np.sqrt(self.q * (self.q + 2.0))
        self.bare = 1.0 / (1.0 + self.q + root)
        matrix = weights(illuminant)
        xyz = through_film(self.bare, coefficients.factors) @ matrix
        self.lab = xyz_to_lab(xyz, illuminant)
        self.lab_by_reflectance = lab_jacobian(xyz, illuminant) @ matrix.T  # (m, 3, 31)
        # dR/dQ = -R / sqrt(Q^2 + 2Q)
        by_q = -self.bare / np.maximum(root, _LEAST_ROOT) * film_slope(self.bare, coefficients.factors)
        self.lab_by_q = self.lab_by_reflectance * by_q[:, None, :]


def _full(factors: StateFactors) -> StateFactors:
    return StateFactors(factors.pore_base, factors.pore_pigment, 1.0, factors.index)


def _opaque(q: FloatArray, *, out: FloatArray) -> FloatArray:
    """1 / (1 + Q + sqrt(Q^2 + 2 Q)) in place: `q` and `out` are both used up."""
    np.add(q, 2.0, out=out)
    out *= q
    np.sqrt(out, out=out)
    out += q
    out += 1.0
    return np.divide(1.0, out, out=out)
