"""What a smooth boundary does to light: Fresnel for diffuse light, Saunderson, the liquid film.

A dry cast is rough, porous and matte and has no such boundary. Water or a film-forming sealer makes one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray
from .errors import InputError


def normal_reflectance(n: ArrayLike) -> FloatArray:
    """Fresnel reflectance at normal incidence, ((n - 1)/(n + 1))^2."""
    n = _index(n)
    return ((n - 1) / (n + 1)) ** 2


def external_diffuse_reflectance(n: ArrayLike) -> FloatArray:
    """r_e: share of diffuse light from air that a smooth boundary of index n > 1 reflects.

    Closed form of Walsh 1926 as printed by Duntley, J. Opt. Soc. Am. 32 (1942) 61. 1 < n <= 4.
    """
    n = _index(n)
    n2 = n * n
    return np.asarray(
        0.5
        + (n - 1) * (3 * n + 1) / (6 * (n + 1) ** 2)
        + n2 * (n2 - 1) ** 2 / (n2 + 1) ** 3 * np.log((n - 1) / (n + 1))
        - 2 * n**3 * (n2 + 2 * n - 1) / ((n2 + 1) * (n2**2 - 1))
        + 8 * n2**2 * (n2**2 + 1) / ((n2 + 1) * (n2**2 - 1) ** 2) * np.log(n),
        dtype=np.float64,
    )


def internal_diffuse_reflectance(n: ArrayLike) -> FloatArray:
    """r_i = 1 - (1 - r_e)/n^2: share of diffuse light from inside that is sent back in.

    Lekner & Dorf, Appl. Opt. 27 (1988) 1278.
    """
    n = _index(n)
    return 1 - (1 - external_diffuse_reflectance(n)) / n**2


def saunderson(reflectance: ArrayLike, k1: ArrayLike, k2: ArrayLike, *, specular_included: bool = True) -> FloatArray:
    """Measured reflectance factor from the internal one, Saunderson, J. Opt. Soc. Am. 32 (1942) 727.

    R_m = k1 + (1 - k1)(1 - k2) R / (1 - k2 R); without the first k1 when the specular part is excluded.
    """
    r, k1, k2 = (np.asarray(v, dtype=np.float64) for v in (reflectance, k1, k2))
    body = (1 - k1) * (1 - k2) * r / (1 - k2 * r)
    return body + k1 if specular_included else body


def saunderson_inverse(
    measured: ArrayLike, k1: ArrayLike, k2: ArrayLike, *, specular_included: bool = True
) -> FloatArray:
    """Internal reflectance factor from the measured one; raises InputError when it would be negative.

    That happens when `specular_included` is claimed for readings that lack the specular part.
    """
    r, k1, k2 = (np.asarray(v, dtype=np.float64) for v in (measured, k1, k2))
    body = r - k1 if specular_included else r
    if np.any(body < 0):
        raise InputError(
            f"A measured reflectance factor of {np.min(r):.4g} lies below the surface's own "
            f"{np.max(k1):.4g}; "
            "the reading has the specular part excluded: say so, or use k1 = 0."
        )
    return body / ((1 - k1) * (1 - k2) + k2 * body)


def film(reflectance: ArrayLike, n: float) -> FloatArray:
    """Reflectance factor seen off the specular angle through a smooth liquid film of index n.

    R_film = (1 - R_l)(1 - p) R / (1 - p R), R_l at normal incidence, p = r_i(n): Lekner & Dorf 1988
    without its mirror term. 0 <= R <= 1; darker than R everywhere in between.
    """
    r = np.asarray(reflectance, dtype=np.float64)
    gain, p = film_constants(n)
    return gain * r / (1 - p * r)


def film_constants(n: float) -> tuple[float, float]:
    """(1 - R_l)(1 - p) and p of a film of index n, the two numbers `film` is made of."""
    p = float(internal_diffuse_reflectance(n))
    return (1 - float(normal_reflectance(n))) * (1 - p), p


def _index(n: ArrayLike) -> FloatArray:
    n = np.asarray(n, dtype=np.float64)
    if not np.all((n > 1) & (n <= 4)):
        raise InputError(f"A refractive index of {np.min(n):g} cannot be used here; it must be above 1, up to 4.")
    return n
