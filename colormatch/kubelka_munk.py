"""The Kubelka-Munk law, both ways, for opaque bodies and for layers.

K is absorption, S scattering, both per unit mass or thickness; Q = K/S.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray
from .errors import InputError


def reflectance_from_ks(q: ArrayLike) -> FloatArray:
    """Reflectance factor of an opaque body from Q = K/S >= 0 (any shape).

    R = 1 + Q - sqrt(Q^2 + 2 Q), Kubelka & Munk, Z. tech. Phys. 12 (1931) 593. Computed as
    1 / (1 + Q + sqrt(Q^2 + 2 Q)), the same number without the cancellation at large Q.
    """
    q = np.asarray(q, dtype=np.float64)
    if not np.all(q >= 0):
        raise InputError(f"K/S is {np.min(q):g}; it must be 0 or more. Check for a negative K or S.")
    return 1.0 / (1.0 + q + np.sqrt(q * (q + 2.0)))


def ks_from_reflectance(reflectance: ArrayLike) -> FloatArray:
    """Q = K/S = (1 - R)^2 / (2 R) of an opaque body, 0 < R <= 1 (any shape); the inverse law."""
    r = np.asarray(reflectance, dtype=np.float64)
    if not np.all((r > 0) & (r <= 1)):
        raise InputError(
            f"A reflectance factor of {np.min(r):g}..{np.max(r):g} has no K/S; it must be more than 0 and at most 1."
        )
    return (1.0 - r) ** 2 / (2.0 * r)


def layer_reflectance(
    absorption: ArrayLike, scattering: ArrayLike, thickness: ArrayLike, background: ArrayLike
) -> FloatArray:
    """Reflectance of a layer of given K, S (per unit thickness) over a background factor.

    R = (1 - Rg (a - b coth bSX)) / (a - Rg + b coth bSX), a = (S + K)/S, b = sqrt(a^2 - 1),
    Kubelka, J. Opt. Soc. Am. 38 (1948) 448. K = 0 has the limit ((1-Rg) SX + Rg)/((1-Rg) SX + 1).
    S and thickness must be above 0.
    """
    k, s, x, rg = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (absorption, scattering, thickness, background))
    )
    _check_layer(k, s, x)
    a = 1.0 + k / s
    b = np.sqrt(a * a - 1.0)
    # b coth(bSX) tends to 1/(SX) as b tends to 0; the series keeps K = 0 exact.
    argument = b * s * x
    small = argument < 1e-6
    b_coth = np.where(small, 1.0 / (s * x) + b * argument / 3, b / np.tanh(np.where(small, 1.0, argument)))
    return np.asarray((1.0 - rg * (a - b_coth)) / (a - rg + b_coth), dtype=np.float64)


def layer_transmittance(absorption: ArrayLike, scattering: ArrayLike, thickness: ArrayLike) -> FloatArray:
    """Transmittance T = b / (a sinh bSX + b cosh bSX) of a layer, Kubelka 1948; 1/(1 + SX) at K = 0."""
    k, s, x = np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in (absorption, scattering, thickness)))
    _check_layer(k, s, x)
    a = 1.0 + k / s
    b = np.sqrt(a * a - 1.0)
    argument = np.minimum(b * s * x, 700.0)
    sinh_over_b = np.where(b < 1e-8, s * x, np.sinh(argument) / np.where(b < 1e-8, 1.0, b))
    return np.asarray(1.0 / (a * sinh_over_b + np.cosh(argument)), dtype=np.float64)


def mix(concentrations: ArrayLike, coefficients: ArrayLike) -> FloatArray:
    """Sum c_i X_i of a coefficient (K or S) over components: (..., n) times (n, bands).

    The additive two-constant law, Duncan, Proc. Phys. Soc. 52 (1940) 390 (citation from memory).
    """
    return np.asarray(concentrations, dtype=np.float64) @ np.asarray(coefficients, dtype=np.float64)


def _check_layer(k: FloatArray, s: FloatArray, x: FloatArray) -> None:
    if not (np.all(k >= 0) and np.all(s > 0) and np.all(x > 0)):
        raise InputError(
            f"A layer needs K >= 0, S > 0 and a thickness > 0; got K from {k.min():g}, "
            f"S from {s.min():g}, thickness from {x.min():g}."
        )
