"""The forward model and its slopes for many small mixes of few pigments out of many.

The same law as `mixture.lab_and_load_slopes` (a test holds the two together), arranged for the recipe
search: XYZ slopes of all pigments come out of two flat matrix products, in single precision, which
is a tenth of the time. The search only ranks with it; what is returned is refined in double.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..colorimetry import lab_slopes, weights, xyz_to_lab
from ..mixture import Coefficients
from ..states import film_slope, through_film

_ROWS_AT_ONCE = 2048


class LoadKernel:
    """CIELAB and its slopes in the loads, for one set of coefficients and one precision."""

    def __init__(self, coefficients: Coefficients, precision: type[np.floating[Any]]) -> None:
        self.factors = coefficients.factors
        self.n = len(coefficients.pigment_k)
        matrix = weights("D65")
        # One more pigment of no colour stands for an empty place in a set.
        k = np.vstack([coefficients.pigment_k, np.zeros((1, 31))])
        s = np.vstack([coefficients.state_pigment_s, np.zeros((1, 31))])
        parts = {
            "k": k, "s": s, "base_k": coefficients.base_k, "base_s": coefficients.state_base_s,
            "matrix": matrix,
            "k_by_xyz": (k.T[:, :, None] * matrix[:, None, :]).reshape(31, -1),
            "s_by_xyz": (s.T[:, :, None] * matrix[:, None, :]).reshape(31, -1),
        }  # fmt: skip
        self.precision = precision
        self.parts = {name: np.ascontiguousarray(a, dtype=precision) for name, a in parts.items()}

    def lab_and_slopes(
        self, places: NDArray[np.intp], amounts: FloatArray, fixed: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """CIELAB (3, m) and slopes (3, k, m) of mixes with `amounts` (k, m) of the pigments `places` (k, m)."""
        k, m = places.shape
        lab, slopes = np.empty((3, m), self.precision), np.empty((3, k, m), self.precision)
        for start in range(0, m, _ROWS_AT_ONCE):
            rows = slice(start, start + _ROWS_AT_ONCE)
            lab[:, rows], slopes[:, :, rows] = self._slice(places[:, rows], amounts[:, rows], fixed)
        return lab, slopes

    def _slice(self, places: NDArray[np.intp], amounts: FloatArray, fixed: FloatArray) -> tuple[FloatArray, FloatArray]:
        p, m = self.parts, places.shape[1]
        loads = np.empty((m, self.n + 1), dtype=self.precision)
        loads[:] = np.append(fixed, 0.0)
        rows = np.arange(m)
        for place, amount in zip(places, amounts, strict=True):
            loads[rows, place] = amount
        s = loads @ p["s"]
        s += p["base_s"]
        q = loads @ p["k"]
        q += p["base_k"]
        q /= s
        root = np.sqrt(q * (q + 2))
        bare = 1 / (1 + q + root)
        xyz = (through_film(bare, self.factors) @ p["matrix"]).astype(np.float64)
        root *= s
        by_k = np.divide(bare, np.maximum(root, 1e-9), out=root)  # -dR/dK of the bare body
        if self.factors.cover:
            by_k *= film_slope(bare, self.factors)
        flat = by_k @ p["k_by_xyz"]
        by_k *= q
        flat -= by_k @ p["s_by_xyz"]  # -dXYZ/dload, (m, 3 (n + 1))
        picked = flat.reshape(m, self.n + 1, 3)[rows, places]  # (k, m, 3)
        slope = (lab_slopes(xyz) * np.array([500.0, 116.0, 200.0])).astype(self.precision)
        x, y, z = (-picked[..., i] * slope[:, i] for i in range(3))
        by_load = np.empty((3, *places.shape), self.precision)
        by_load[0] = y
        by_load[1] = x - y * (500 / 116)
        by_load[2] = y * (200 / 116) - z
        return xyz_to_lab(xyz).T, by_load
