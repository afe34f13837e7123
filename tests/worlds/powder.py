"""Absorption and reduced scattering of a lognormal powder by Mie theory, from published refractive indices.

Lengths in micrometres.  Coefficients are per micrometre and per unit volume fraction of solid, for spheres
so dilute that each scatters alone.  A birefringent mineral is the average (2 ordinary + 1 extraordinary) / 3
of the coefficients, as random orientation asks.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

import miepython
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
WAVELENGTHS_UM = np.arange(400.0, 701.0, 10.0) / 1000.0
INDEX_FILES = Path(__file__).resolve().parents[2] / ".builders" / "optical_constants"


class Coefficients(NamedTuple):
    """mu_a, mu_s and mu_s (1 - g), each (31,), per micrometre and unit volume fraction."""

    absorption: Array
    scattering: Array
    reduced_scattering: Array


def read_columns(path: Path) -> dict[str, Array]:
    """Columns of a numeric CSV whose first line is its citation."""
    _, header, *lines = path.read_text(encoding="utf-8").splitlines()
    body = np.array([line.split(",") for line in lines], dtype=np.float64)
    return dict(zip(header.split(","), body.T, strict=True))


def rutile_indices(wavelength_um: Array) -> tuple[Array, Array]:
    """Ordinary and extraordinary index of rutile, 0.43..1.53 um (J. R. DeVore, JOSA 41 (1951) 416)."""
    squared = np.asarray(wavelength_um) ** 2
    ordinary = np.sqrt(5.913 + 0.2441 / (squared - 0.0803))
    extraordinary = np.sqrt(7.197 + 0.3322 / (squared - 0.0843))
    return ordinary, extraordinary


@cache
def mineral(name: str) -> tuple[tuple[float, NDArray[np.complex128]], ...]:
    """(weight, complex index (31,)) of each ray of "hematite", "rutile" or "carbon"; n - ik."""
    if name == "rutile":
        ordinary, extraordinary = rutile_indices(WAVELENGTHS_UM)
        return (2 / 3, ordinary + 0j), (1 / 3, extraordinary + 0j)
    columns = read_columns(INDEX_FILES / f"{name}.csv")
    nodes = columns.pop("wavelength_nm")
    table = {key: np.interp(1000 * WAVELENGTHS_UM, nodes, values) for key, values in columns.items()}
    if name == "hematite":
        return (2 / 3, table["n_o"] - 1j * table["k_o"]), (1 / 3, table["n_e"] - 1j * table["k_e"])
    return ((1.0, table["n"] - 1j * table["k"]),)


def spheres(index: NDArray[np.complex128], diameter_um: float, medium: float) -> Coefficients:
    """Coefficients of equal spheres of the given complex index (31,) in a medium of real index."""
    size = np.pi * diameter_um * medium / WAVELENGTHS_UM
    extinction, scattering, _, asymmetry = miepython.efficiencies_mx(index / medium, size)
    per_volume = 1.5 / diameter_um
    return Coefficients(
        per_volume * np.maximum(extinction - scattering, 0.0),
        per_volume * scattering,
        per_volume * scattering * (1.0 - asymmetry),
    )


def lognormal_powder(
    rays: tuple[tuple[float, NDArray[np.complex128]], ...],
    *,
    median_um: float,
    spread: float,
    medium: float,
    points: int = 15,
) -> Coefficients:
    """Coefficients of a powder whose volume is lognormal in diameter: median, geometric standard deviation.

    The volume integral is a Gauss-Hermite rule of `points` sizes in log diameter.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(points)
    diameters = median_um * spread**nodes
    total = np.zeros((3, WAVELENGTHS_UM.size))
    for share, index in rays:
        for diameter, weight in zip(diameters, weights / weights.sum(), strict=True):
            total += share * weight * np.array(spheres(index, float(diameter), medium))
    return Coefficients(*total)


def ks_of(coefficients: Coefficients) -> tuple[Array, Array]:
    """Kubelka-Munk K = 2 mu_a and S = 3/4 mu_s (1 - g), which cannot be negative.

    Gate, Appl. Opt. 13 (1974) 236; Thennadil, J. Opt. Soc. Am. A 25 (2008) 1480 found this form nearest to
    exact radiative transfer.
    """
    return 2.0 * coefficients.absorption, 0.75 * coefficients.reduced_scattering
