"""A shade: a CIELAB colour together with how sure we are of it."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, finite_array, number_between, read_only
from .errors import InputError

PHOTO_SD = 0.7  # CIELAB units a coordinate: a careful photograph with a chart; a judgement


@dataclass(frozen=True, init=False, eq=False, slots=True)
class Shade:
    """A colour in CIELAB (D65, CIE 1931 2 degree observer, Y of white = 100) with its covariance.

    lab: (3,) L* in 0..100, a* and b* in -200..200.
    sd: one standard deviation for all three, in CIELAB units; or
    covariance: (3, 3), symmetric, no negative eigenvalue. Neither given: the shade is taken as exact.
    Raises InputError for anything else.

    >>> Shade((52, 18, 20), sd=0.7)
    Shade(L*=52.0, a*=18.0, b*=20.0, sd=0.70)
    """

    lab: FloatArray
    covariance: FloatArray

    def __init__(self, lab: ArrayLike, sd: float | None = None, covariance: ArrayLike | None = None) -> None:
        object.__setattr__(self, "lab", read_only(_checked_lab(lab)))
        object.__setattr__(self, "covariance", read_only(_checked_covariance(sd, covariance)))

    @property
    def sd(self) -> float:
        """Root of the mean variance over L*, a*, b*."""
        return float(np.sqrt(np.trace(self.covariance) / 3))

    def widened(self, covariance: ArrayLike) -> Shade:
        """The same colour with a further, independent (3, 3) covariance added."""
        return Shade(self.lab, covariance=self.covariance + np.asarray(covariance, dtype=np.float64))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Shade):
            return NotImplemented
        return bool(np.array_equal(self.lab, other.lab) and np.array_equal(self.covariance, other.covariance))

    def __hash__(self) -> int:
        return hash((self.lab.tobytes(), self.covariance.tobytes()))

    def __repr__(self) -> str:
        lightness, a, b = self.lab
        return f"Shade(L*={lightness:.1f}, a*={a:.1f}, b*={b:.1f}, sd={self.sd:.2f})"


def _checked_lab(lab: ArrayLike) -> FloatArray:
    array = finite_array(lab, name="A shade", shape=(3,))
    if not -0.5 <= array[0] <= 110 or np.abs(array[1:]).max() > 200:
        raise InputError(
            f"A shade of L*={array[0]:g}, a*={array[1]:g}, b*={array[2]:g} is not a colour: "
            "L* runs from 0 to 100, a* and b* from -200 to 200."
        )
    _ask_about_units(*array)
    return array


def _ask_about_units(lightness: float, a: float, b: float) -> None:
    """Warn of numbers that are colours as they stand, but no cement's: shares of 1, or XYZ."""
    sizes = sorted(map(abs, (lightness, a, b)))
    if sizes[0] > 0 and sizes[-1] <= 1:
        meant = "shares of 1 (L* runs from 0 to 100)"
    elif (
        lightness > 85 and np.hypot(a, b) > 120
    ):  # no surface is so light and so strong (from memory of MacAdam's limits)
        meant = "XYZ (convert it: colour.XYZ_to_Lab)"
    else:
        return
    warnings.warn(f"A shade of L*={lightness:g}, a*={a:g}, b*={b:g}: are these {meant}?", stacklevel=4)


def _checked_covariance(sd: float | None, covariance: ArrayLike | None) -> FloatArray:
    if sd is not None and covariance is not None:
        raise InputError("Give a shade either an sd or a covariance, not both.")
    if covariance is None:
        spread = 0.0 if sd is None else number_between(sd, name="A shade's sd", low=0, high=1000, unit="CIELAB units")
        return np.eye(3) * spread**2
    matrix = finite_array(covariance, name="A shade's covariance", shape=(3, 3))
    if not np.allclose(matrix, matrix.T, rtol=1e-6, atol=1e-9):
        raise InputError("A shade's covariance must be symmetric.")
    scale = max(1.0, float(np.abs(matrix).max()))
    if np.linalg.eigvalsh(matrix).min() < -1e-8 * scale:
        raise InputError("A shade's covariance has a negative variance; it must have none.")
    return (matrix + matrix.T) / 2
