"""Exact reflectance of a semi-infinite, isotropically scattering body, by Chandrasekhar's H-function.

This is what the package's Kubelka-Munk law approximates.  Anisotropic scattering enters by van de Hulst's
similarity: the reduced albedo w* = mu_s (1 - g) / (mu_s (1 - g) + mu_a).  Everything is a function of
s = sqrt(1 - w*), which runs from 0 (no absorption, reflectance 1) to 1 (no scattering, reflectance 0).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

Array = NDArray[np.float64]


def quadrature(count: int = 64) -> tuple[Array, Array]:
    """Gauss-Legendre nodes and weights on 0..1."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (nodes + 1.0), 0.5 * weights


def h_function(s: ArrayLike, cosine: ArrayLike, *, iterations: int = 60) -> Array:
    """H(mu) for isotropic scattering; s (n,), cosine (m,) -> (n, m).

    1 / H(mu) = s + (w / 2) integral_0^1 mu' H(mu') / (mu + mu') dmu'; S. Chandrasekhar, Radiative Transfer
    (1950), chapter V; this form, solved by iteration, converges for every albedo up to 1.
    """
    s = np.atleast_1d(np.asarray(s, dtype=np.float64))
    nodes, weights = quadrature()
    half_albedo = 0.5 * (1.0 - s * s)[:, None]
    kernel = weights * nodes / (nodes[:, None] + nodes)
    h = np.ones((s.size, nodes.size))
    for _ in range(iterations):
        h = 0.5 * (h + 1.0 / (s[:, None] + half_albedo * (h @ kernel.T)))  # the mean damps the oscillation
    cosine = np.atleast_1d(np.asarray(cosine, dtype=np.float64))
    return 1.0 / (s[:, None] + half_albedo * (h @ (weights * nodes / (cosine[:, None] + nodes)).T))


@cache
def _splines() -> tuple[CubicSpline, CubicSpline]:
    s = np.linspace(0.0, 1.0, 401)
    nodes, weights = quadrature()
    normal = 1.0 - s * h_function(s, 1.0)[:, 0]
    diffuse = 1.0 - 2.0 * s * (h_function(s, nodes) @ (weights * nodes))
    return CubicSpline(s, normal), CubicSpline(s, diffuse)


def similarity(absorption: ArrayLike, reduced_scattering: ArrayLike) -> Array:
    """s = sqrt(mu_a / (mu_a + mu_s (1 - g))), any shape; van de Hulst, Multiple Light Scattering (1980)."""
    absorption = np.asarray(absorption, dtype=np.float64)
    return np.sqrt(absorption / (absorption + np.asarray(reduced_scattering, dtype=np.float64)))


def normal_reflectance(s: ArrayLike) -> Array:
    """Reflectance factor seen along the normal in diffuse light, 1 - s H(1)."""
    return np.asarray(_splines()[0](s), dtype=np.float64)


def diffuse_reflectance(s: ArrayLike) -> Array:
    """Reflectance of diffuse light into all directions (spherical albedo), 1 - 2 s integral mu H(mu) dmu."""
    return np.asarray(_splines()[1](s), dtype=np.float64)


def similarity_from_normal_reflectance(reflectance: ArrayLike) -> Array:
    """Inverse of `normal_reflectance`, by a table (good to about 1e-6)."""
    s = np.linspace(0.0, 1.0, 4001)
    return np.interp(-np.asarray(reflectance, dtype=np.float64), -normal_reflectance(s), s)
