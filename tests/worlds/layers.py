"""Plane-parallel layers by discrete ordinates, added by matrices; and Fresnel's film on top.

S. Chandrasekhar, Radiative Transfer (1950), chapter II (discrete ordinates); K. Stamnes et al., Appl. Opt. 27
(1988) 2502 (the half-sized eigenproblem); I. P. Grant & G. E. Hunt, Proc. R. Soc. A 313 (1969) 183 (adding).
Only the azimuthal mean is followed: all flux is in it.  Reflection and transmission matrices act on
intensities at the cosines of `nodes()`, of which the last is the normal.
"""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import eval_legendre, roots_jacobi

Array = NDArray[np.float64]
STREAMS = 10
LARGEST_ALBEDO = 1 - 1e-10  # at 1 itself one eigenvalue vanishes


@cache
def nodes(count: int = STREAMS) -> tuple[Array, Array]:
    """Gauss-Radau cosines on (0, 1], the last one 1, and their weights; Abramowitz & Stegun 25.4.31."""
    inner, weights = roots_jacobi(count - 1, 1, 0)
    cosine = 0.5 * (np.append(inner, 1.0) + 1)
    return cosine, 0.5 * np.append(weights / (1 - inner), 2.0 / count**2)


@cache
def _phase(g: float) -> tuple[Array, Array]:
    """Henyey-Greenstein's function, azimuthal mean, its even and odd Legendre terms (m, m)."""
    cosine, _ = nodes()
    order = np.arange(2 * STREAMS - 1)  # what the quadrature still integrates exactly
    legendre = eval_legendre(order[:, None], cosine)
    terms = ((2 * order + 1) * g**order)[:, None, None] * legendre[:, :, None] * legendre[:, None, :]
    return terms[0::2].sum(axis=0), terms[1::2].sum(axis=0)


def _modes(albedo: ArrayLike, g: float) -> tuple[Array, Array, Array]:
    """Eigenvalues k (..., m), vectors V and Y^-1 V k (..., m, m) of d2(I+ + I-)/dtau2 = Y X (I+ + I-)."""
    w = np.minimum(np.asarray(albedo, dtype=np.float64), LARGEST_ALBEDO)[..., None, None]
    cosine, weights = nodes()
    even, odd = _phase(g)
    sums = (np.eye(STREAMS) - w * even * weights) / cosine[:, None]
    differences = (np.eye(STREAMS) - w * odd * weights) / cosine[:, None]
    squares, vectors = np.linalg.eig(differences @ sums)
    k, vectors = np.sqrt(np.abs(squares.real)), vectors.real
    return k, vectors, np.linalg.solve(differences, vectors * k[..., None, :])


def semi_infinite(albedo: ArrayLike, g: float) -> Array:
    """Reflection matrix (..., m, m) of a body without a back, single-scattering albedo (...)."""
    _, sums, differences = _modes(albedo, g)
    return (sums - differences) @ np.linalg.inv(sums + differences)


def layer(albedo: ArrayLike, g: float, depth: ArrayLike) -> tuple[Array, Array]:
    """Reflection and transmission matrices (..., m, m) of a layer of optical thickness `depth` > 0.

    Light equally from both sides leaves as (T + R) x, light of opposite signs as (T - R) x.
    """
    k, sums, differences = _modes(albedo, g)
    half = np.tanh(0.5 * k * np.asarray(depth, dtype=np.float64)[..., None])[..., None, :]
    both = (sums - differences * half) @ np.linalg.inv(sums + differences * half)
    opposite = (differences - sums * half) @ np.linalg.inv(differences + sums * half)
    return 0.5 * (both - opposite), 0.5 * (both + opposite)


def on_top(reflection: Array, transmission: Array, below: Array) -> Array:
    """Reflection matrix of a symmetric layer on a body whose reflection matrix is `below`."""
    between = np.linalg.solve(np.eye(STREAMS) - below @ reflection, below @ transmission)
    return reflection + transmission @ between


def fresnel(cosine: ArrayLike, index: float) -> Array:
    """Unpolarised reflectance at cosines in air on a medium of `index`; index < 1: from within, 1 where total."""
    cosine = np.asarray(cosine, dtype=np.float64)
    square = 1 - (1 - cosine**2) / index**2
    inner = np.sqrt(np.maximum(square, 0))
    across = (cosine - index * inner) / (cosine + index * inner)
    along = (index * cosine - inner) / (index * cosine + inner)
    return np.where(square > 0, 0.5 * (across**2 + along**2), 1.0)


def leaving_normal(matrix: Array) -> Array:
    """Share of light along the normal that a body sends back in all directions (...), which is also, by
    reciprocity, the reflectance factor seen along the normal under even light."""
    cosine, weights = nodes()
    return (matrix[..., :, -1] * weights * cosine).sum(axis=-1) / (weights[-1] * cosine[-1])


def leaving_even(matrix: Array) -> Array:
    """Share of perfectly diffuse light sent back (...)."""
    cosine, weights = nodes()
    return 2 * np.einsum("i,...ij->...", weights * cosine, matrix)


def under_film(matrix: Array, index: float) -> Array:
    """Reflectance factor along the normal of a body under a film with Fresnel's surface (the gloss left out)."""
    cosine, weights = nodes()
    inside = fresnel(cosine, 1 / index)
    upward = np.linalg.solve(np.eye(STREAMS) - matrix * inside, matrix[..., :, -1:])[..., 0]
    surface = float(fresnel(1.0, index))
    return (1 - surface) * (upward * (1 - inside) * weights * cosine).sum(axis=-1) / weights[-1]


@cache
def diffuse_inside(index: float) -> float:
    """Share of diffuse light in a film that its surface throws back; Lekner & Dorf, Appl. Opt. 27 (1988) 1278."""
    cosine, weights = np.polynomial.legendre.leggauss(2000)
    cosine = 0.5 * (cosine + 1)
    return float((weights * cosine * fresnel(cosine, 1 / index)).sum())
