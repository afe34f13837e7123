"""Lights to judge a colour under: a few by plain names, any of colour-science's by its name, a maker's own spectrum."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, finite_array, read_only
from .colorimetry import ILLUMINANTS, adaptation, lab_of_xyz, reflectance_to_lab, weights, white_point, xyz_to_lab
from .difference import delta_e_2000, metamerism_index
from .errors import InputError, UnknownNameError
from .science import colour_science
from .spectra import N_BANDS, WAVELENGTHS_NM

# Where pieces are seen, and the standard light nearest to it; common practice, no source.
PLAIN_NAMES = {
    "daylight": "D65", "window": "D50", "bulb": "A", "living room": "LED-B1", "shop": "LED-B3", "shop, tubes": "F11",
}  # fmt: skip
_FINE_NM = np.arange(360.0, 781.0, 1.0)  # CIE 15: 1 nm, as far as lamps are tabulated


@dataclass(frozen=True, eq=False, slots=True)
class Lamp:
    """A light: name, and the weights (31, 3) that turn a reflectance on the grid into XYZ under it, Y of white 100."""

    name: str
    weights: FloatArray
    _adapted: FloatArray = field(init=False, repr=False)  # the same, to XYZ as an eye used to daylight has it

    def __post_init__(self) -> None:
        object.__setattr__(self, "_adapted", self.weights @ adaptation(self.white, white_point()).T)

    @property
    def white(self) -> FloatArray:
        """(3,) XYZ of the perfect reflector."""
        return np.asarray(self.weights.sum(axis=0))

    def lab(self, reflectance: FloatArray) -> FloatArray:
        """CIELAB (..., 3) of reflectance (..., 31) under the lamp, its own white as white."""
        return lab_of_xyz(reflectance @ self.weights, self.white)

    def as_in_daylight(self, reflectance: FloatArray) -> FloatArray:
        """CIELAB (..., 3), D65, of the colour that looks as the reflectance (..., 31) does under the lamp; CAT16."""
        return xyz_to_lab(reflectance @ self._adapted)

    def inconstancy(self, reflectance: FloatArray) -> FloatArray:
        """(...) CIEDE2000 between a colour in daylight and under the lamp, once the eye has adapted: its own change."""
        return delta_e_2000(reflectance_to_lab(reflectance), self.as_in_daylight(reflectance))

    def metamerism(self, reflectance: FloatArray, wanted: FloatArray) -> FloatArray:
        """(...) special metamerism index against a wanted spectrum (31,), ISO 18314-4, additive in CIELAB."""
        return metamerism_index(
            reflectance_to_lab(wanted), self.lab(wanted), reflectance_to_lab(reflectance), self.lab(reflectance)
        )


def lamp(light: str | Lamp | Any, name: str = "my lamp") -> Lamp:
    """A lamp from a plain name (`PLAIN_NAMES`), a name of colour-science's, a SpectralDistribution, or (nm, power).

    A spectrum must cover 400..700 nm; any unit of power. Raises InputError or UnknownNameError.
    """
    if isinstance(light, Lamp):
        return light
    if isinstance(light, str):
        return _named(PLAIN_NAMES.get(light, light))
    if hasattr(light, "wavelengths"):
        return _of_spectrum(str(getattr(light, "name", name)), light.wavelengths, light.values)
    try:
        nm, power = light
    except (TypeError, ValueError):
        raise InputError(f"The light is {light!r:.60}; give a name, or (wavelengths in nm, power).") from None
    return _of_spectrum(name, nm, power)


@lru_cache(maxsize=64)
def _named(name: str) -> Lamp:
    if name in ILLUMINANTS:
        return Lamp(name, weights(name))
    known = colour_science().SDS_ILLUMINANTS
    if name not in known:
        raise UnknownNameError("lamp", name, (*PLAIN_NAMES, *known))
    return _of_spectrum(name, known[name].wavelengths, known[name].values)


def _of_spectrum(name: str, wavelength_nm: ArrayLike, power: ArrayLike) -> Lamp:
    """Weights at 1 nm over 360..780 nm, the reflectance by a cubic spline and held outside 400..700 nm.

    As `.builders/standards.py` makes those of the shipped lights.
    """
    nm = finite_array(wavelength_nm, name="The wavelengths of the lamp", shape=(None,))
    values = finite_array(power, name="The power of the lamp", shape=nm.shape)
    if nm.size < 2 or np.any(np.diff(nm) <= 0):
        raise InputError("The wavelengths of the lamp must increase from row to row, in nm.")
    if nm[0] > 400 or nm[-1] < 700 or values.min() < 0 or values.max() == 0:
        raise InputError(
            f"The lamp's spectrum covers {nm[0]:g} to {nm[-1]:g} nm with power from {values.min():g} to "
            f"{values.max():g}; it must cover 400 to 700 nm, and power is never below 0. Measure or export it again."
        )
    from scipy.interpolate import CubicSpline

    observer = colour_science().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    # The observer's table is by 1 nm, so this only picks values.
    seen = np.stack([np.interp(_FINE_NM, observer.wavelengths, axis) for axis in observer.values.T], axis=-1)
    seen *= np.interp(_FINE_NM, nm, values, left=0.0, right=0.0)[:, None]
    basis = CubicSpline(WAVELENGTHS_NM, np.eye(N_BANDS), bc_type="not-a-knot")(np.clip(_FINE_NM, 400.0, 700.0))
    return Lamp(name, read_only(basis.T @ seen * (100 / seen[:, 1].sum())))
