"""Write the colorimetric tables that colormatch ships (needs colour-science; never imported at run time).

Run from the project root: ``python .builders/standards.py``.  It prints the errors it measured.

``illuminant_weights.csv`` turns a 31-band reflectance (400..700 nm by 10) into tristimulus values in one
matrix product.  A weight is the integral, at 1 nm over 360..780 nm, of illuminant x observer x the basis
function of that band, where the basis interpolates the reflectance inside 400..700 nm and holds it constant
outside.  Three bases were compared on smooth spectra (see ``BASES``); the one with the smallest error is
used.  Illuminants: D65 is brought to 1 nm linearly (ISO/CIE 11664-2), the others by Sprague's formula
(CIE 167); with that the white points are those printed in ASTM E308 (the E308 digits are from memory).
"""

from __future__ import annotations

import csv
import datetime
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

DATA = Path(__file__).resolve().parents[1] / "colormatch" / "data"
BANDS = np.arange(400.0, 701.0, 10.0)
FINE = np.arange(360.0, 781.0, 1.0)
OBSERVER = "CIE 1931 2 Degree Standard Observer"
ILLUMINANTS = {"D65": "D65", "A": "A", "D50": "D50", "F11": "FL11", "LED-B3": "LED-B3"}
Array = NDArray[np.float64]


def linear_basis(wavelength_nm: Array) -> Array:
    """Hat functions of the bands, shape (len(wavelength_nm), 31); constant outside 400..700 nm."""
    return np.stack([np.interp(wavelength_nm, BANDS, row) for row in np.eye(BANDS.size)], axis=-1)


def cubic_basis(wavelength_nm: Array) -> Array:
    """Cardinal not-a-knot cubic splines of the bands; constant outside 400..700 nm."""
    inside = np.clip(wavelength_nm, BANDS[0], BANDS[-1])
    return np.asarray(CubicSpline(BANDS, np.eye(BANDS.size), bc_type="not-a-knot")(inside), dtype=np.float64)


def sprague_basis(wavelength_nm: Array) -> Array:
    """Cardinal Sprague (CIE 167) interpolants of the bands; constant outside 400..700 nm."""
    inside = np.clip(wavelength_nm, BANDS[0], BANDS[-1])
    columns = [colour.SpragueInterpolator(BANDS, row)(inside) for row in np.eye(BANDS.size)]
    return np.stack(columns, axis=-1).astype(np.float64)


BASES: dict[str, Callable[[Array], Array]] = {
    "linear": linear_basis,
    "cubic spline": cubic_basis,
    "Sprague": sprague_basis,
}


def illuminated_observer(name: str) -> Array:
    """Illuminant x observer at 1 nm, shape (421, 3), scaled so that a perfect reflector has Y = 100."""
    source = colour.SDS_ILLUMINANTS[ILLUMINANTS[name]].copy()
    shape = colour.SpectralShape(max(360, source.shape.start), 780, 1)
    method = colour.LinearInterpolator if name == "D65" else colour.SpragueInterpolator
    source = source.interpolate(shape, interpolator=method)
    power = np.interp(FINE, source.wavelengths, source.values, left=0.0)  # FL and LED tables begin at 380 nm
    observer = colour.MSDS_CMFS[OBSERVER].copy().trim(colour.SpectralShape(360, 780, 1)).values
    product = power[:, None] * observer
    return np.asarray(100.0 * product / product[:, 1].sum(), dtype=np.float64)


def smooth_spectra(count: int, seed: int = 1) -> Callable[[Array], Array]:
    """Pigment-like reflectances (absorption bands and an edge, through Kubelka-Munk) at any wavelength."""
    rng = np.random.default_rng(seed)
    centre, width = rng.uniform(380, 720, (2, count, 3)), rng.uniform(25, 80, (2, count, 3))
    height, edge = rng.uniform(0, 4, (count, 3)), rng.uniform(430, 620, count)

    def reflectance(wavelength_nm: Array) -> Array:
        x = np.clip(wavelength_nm, 400.0, 700.0)
        bands = np.exp(-(((x[:, None, None] - centre[0]) / width[0]) ** 2)) * height
        q = 0.02 + bands.sum(-1) + 3.0 / (1.0 + np.exp((x[:, None] - edge) / 14.0))
        return np.asarray(1 + q - np.sqrt(q * q + 2 * q), dtype=np.float64).T

    return reflectance


def lab(xyz: Array, white: Array) -> Array:
    """CIELAB (CIE 15:2018)."""
    t = xyz / white
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def interpolation_errors(spectra: Callable[[Array], Array]) -> dict[str, tuple[float, float]]:
    """Mean and greatest CIE76 difference of each basis from the 1 nm sum, over all illuminants."""
    errors = {}
    for basis_name, basis in BASES.items():
        found = []
        for name in ILLUMINANTS:
            product = illuminated_observer(name)
            white = product.sum(0)
            exact, quick = spectra(FINE) @ product, spectra(BANDS) @ (basis(FINE).T @ product)
            found.append(np.linalg.norm(lab(exact, white) - lab(quick, white), axis=-1))
        errors[basis_name] = (float(np.mean(found)), float(np.max(found)))
    return errors


def write_table(path: Path, title: str, header: list[str], rows: list[list[str]]) -> None:
    """Write one CSV whose first line is ``# title - source - version - date``."""
    with path.open("w", newline="", encoding="utf-8") as stream:
        stream.write(f"# {title} - {datetime.date.today().isoformat()}\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def edition_lab(edition: str) -> Array:
    """CIELAB (24, 3), D65, of an edition of the chart."""
    named = f"24 - {edition[0].upper()}{edition[1:]}"
    chart = next(each for name, each in colour.CCS_COLOURCHECKERS.items() if name.endswith(named))
    daylight = colour.CCS_ILLUMINANTS[OBSERVER]["D65"]
    here, there = (colour.xy_to_XYZ(white) for white in (chart.illuminant, daylight))
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    adapted = colour.adaptation.chromatic_adaptation_VonKries(xyz, here, there, transform="Bradford")
    return np.asarray(colour.XYZ_to_Lab(adapted, daylight))


def main() -> None:
    errors = interpolation_errors(smooth_spectra(400))
    for basis_name, (mean, greatest) in errors.items():
        print(f"{basis_name:13s} mean dE76 {mean:.5f}  greatest {greatest:.5f}")
    best = min(errors, key=lambda basis_name: errors[basis_name][0])
    basis = BASES[best](FINE)
    columns, header = [BANDS], ["wavelength_nm"]
    for name in ILLUMINANTS:
        weights = basis.T @ illuminated_observer(name)
        print(f"{name:7s} white point {weights.sum(0).round(3)}")
        columns.extend(weights.T)
        header += [f"{name} {letter}" for letter in "XYZ"]
    rows = [[f"{row[0]:.0f}", *(f"{value:.8f}" for value in row[1:])] for row in np.array(columns).T]
    write_table(
        DATA / "illuminant_weights.csv",
        f"weights of 31 bands for XYZ (CIE 1931 2 degree observer; {best} interpolation, constant outside"
        f" 400..700) - CIE tables in colour-science - {colour.__version__}",
        header,
        rows,
    )
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    # The source is a table by 5 nm, so this only picks values.
    patches = {name: np.interp(BANDS, sd.wavelengths, sd.values) for name, sd in chart.items()}
    write_table(
        DATA / "chart24.csv",
        "reflectance factors of a 24-patch chart, in chart order (6 x 4, row by row)"
        f" - ISO 17321-1 as in colour-science - {colour.__version__}",
        ["patch", *(f"{band:.0f}" for band in BANDS)],
        [[name.split(" (")[0], *(f"{value:.5f}" for value in values)] for name, values in patches.items()],
    )
    editions = [f"{when} November 2014" for when in ("before", "after")]
    labs = [edition_lab(edition) for edition in editions]
    write_table(
        DATA / "chart24_editions.csv",
        "CIELAB (D65, 2 degrees) of two editions of a 24-patch chart, in chart order, from their maker's values for D50"
        f" by Bradford's transform - chart data in colour-science - {colour.__version__}",
        ["patch", *(f"{edition} {letter}" for edition in editions for letter in "Lab")],
        [[name.split(" (")[0], *(f"{value:.3f}" for value in np.concatenate(row))]
         for name, *row in zip(patches, *labs, strict=True)],
    )  # fmt: skip


if __name__ == "__main__":
    main()
