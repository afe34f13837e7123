"""The wavelength grid everything is computed on, and the way onto it.

400 to 700 nm in steps of 10 nm: 31 bands, wavelength always the last axis. Reflectance is a factor
from 0 to 1, never per cent.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, finite_array, last_axis, read_only
from .errors import InputError

WAVELENGTHS_NM: FloatArray = read_only(np.arange(400.0, 701.0, 10.0))
N_BANDS = 31


def to_grid(wavelength_nm: ArrayLike, values: ArrayLike) -> FloatArray:
    """Bring a measured spectrum onto the 31-band grid.

    wavelength_nm: (n,) strictly increasing, in nm, must cover 400..700 (5 nm of slack at each end,
    where the last value is held). values: (..., n). Steps finer than 10 nm are averaged over a
    triangle of 10 nm half width, so that a 1 nm curve is not merely picked at; coarser steps are
    joined by a shape-preserving cubic (PCHIP; Fritsch & Carlson 1980). Returns (..., 31).
    """
    nm = finite_array(wavelength_nm, name="The wavelengths", shape=(None,))
    if nm.size < 2 or np.any(np.diff(nm) <= 0):
        raise InputError("The wavelengths must increase from row to row, in nm; sort the rows and drop repeats.")
    if nm[0] > 405 or nm[-1] < 695:
        raise InputError(
            f"The spectrum covers {nm[0]:g} to {nm[-1]:g} nm; it must cover 400 to 700 nm. "
            "Export it again with the full visible range."
        )
    array = last_axis(values, name="The spectrum", size=nm.size)
    if not np.isfinite(array).all():
        raise InputError("The spectrum holds a value that is not a finite number; check the file.")
    from scipy.interpolate import PchipInterpolator

    curve = PchipInterpolator(nm, array, axis=-1)

    def at(points: FloatArray) -> FloatArray:
        return np.asarray(curve(np.clip(points, nm[0], nm[-1])), dtype=np.float64)

    if np.median(np.diff(nm)) >= 8:
        return at(WAVELENGTHS_NM)
    offsets = np.arange(-9.0, 10.0)
    weights = 1 - np.abs(offsets) / 10
    weights /= weights.sum()
    return np.tensordot(at(WAVELENGTHS_NM[:, None] + offsets), weights, axes=([-1], [0]))


def check_reflectance(values: ArrayLike, *, name: str = "The reflectance") -> FloatArray:
    """Return `values` as reflectance factors (..., 31); raises InputError outside 0..1.

    A SpectralDistribution of colour-science, or anything with wavelengths and values, is brought onto the grid.
    """
    if hasattr(values, "wavelengths"):
        spectrum: Any = values
        values = to_grid(spectrum.wavelengths, spectrum.values)
    array = last_axis(values, name=name, size=N_BANDS)
    if not np.isfinite(array).all() or array.min() < 0 or array.max() > 1:
        hint = " It looks like per cent: divide by 100." if np.max(array) > 1.5 else ""
        raise InputError(
            f"{name} runs from {np.min(array):.4g} to {np.max(array):.4g}; "
            f"a reflectance factor lies between 0 and 1.{hint}"
        )
    return array
