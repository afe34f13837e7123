"""Spectra in from files: text exports of spectrophotometers, and tables of wavelength and reflectance in any step."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np

from .arrays import FloatArray
from .errors import InputError
from .science import colour_science
from .spectra import check_reflectance, to_grid

_MOST_BYTES = 5_000_000  # a thousand spectra by 1 nm are less
_PER_CENT_FROM = 1.5  # no reflectance factor is larger; a table that is was given in per cent


def read_spectra(path: str | Path) -> dict[str, FloatArray]:
    """Reflectance factors (31,) by name, from a file (.csv, .tsv or .txt).

    Either a text export with BEGIN_DATA_FORMAT (columns nm380 nm390 ...), read by colour-science; or a table whose
    first column holds wavelengths in nm, every further one a spectrum; or one whose heading holds the wavelengths
    and every row a spectrum. Any step, factors or per cent, decimal point or comma. Raises InputError.
    """
    path = Path(path)
    return {name: _on_grid(nm, values, f"{path.name}, {name}") for name, (nm, values) in read_tables(path).items()}


def read_tables(path: str | Path) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Wavelengths in nm and values, as they stand, by name: the same files, of lamps too. Raises InputError."""
    path = Path(path)
    if not path.is_file() or path.stat().st_size > _MOST_BYTES:
        raise InputError(f"{path.name} is no file of spectra: it is missing, or larger than 5 MB. Export it again.")
    text = path.read_bytes().decode("utf-8-sig", errors="replace")
    found = _exported(path, text) if "BEGIN_DATA_FORMAT" in text else _tables(text, path.name)
    if not found:
        raise InputError(
            f"{path.name} holds no spectrum that can be read. Export a table: wavelengths in nm in the first column, "
            "from 400 to 700, and the reflectance in the second."
        )
    return found


def _on_grid(nm: FloatArray, values: FloatArray, name: str) -> FloatArray:
    try:
        grid = to_grid(nm, values / 100 if values.max(initial=0.0) > _PER_CENT_FROM else values)
    except InputError as error:
        raise InputError(f"{name}: {error}") from None
    return check_reflectance(grid, name=f"The reflectance of {name}")


def _exported(path: Path, text: str) -> dict[str, tuple[FloatArray, FloatArray]]:
    try:
        if "END_DATA" not in text.split():
            raise ValueError
        found = colour_science().read_sds_from_xrite_file(path)
        return {name: (np.asarray(sd.wavelengths), np.asarray(sd.values)) for name, sd in found.items()}
    except Exception as error:  # the reader promises nothing about broken files
        raise InputError(f"{path.name} is broken or cut short; export it again. ({type(error).__name__})") from None


def _tables(text: str, name: str) -> dict[str, tuple[FloatArray, FloatArray]]:
    rows = [row for row in _cells(text) if any(row)]
    heading = [_number(cell) for cell in rows[0]] if rows else []
    across = [place for place, value in enumerate(heading) if value is not None and 300 <= value <= 1100]
    if len(across) >= 4:  # wavelengths in the heading, a spectrum in every row
        nm = np.array([heading[place] for place in across], dtype=np.float64)
        spectra = {}
        for number, row in enumerate(rows[1:], start=1):
            values = [_number(row[place]) if place < len(row) else None for place in across]
            label = next((cell for cell in row if cell and _number(cell) is None), f"spectrum {number}")
            spectra[label] = (nm, _whole(values, f"{name}, row {number + 1}"))
        return spectra
    data = [row for row in rows if _number(row[0]) is not None]
    labels = next((row for row in rows if _number(row[0]) is None), [])
    if len(data) < 2:
        return {}
    nm = _whole([_number(row[0]) for row in data], f"{name}, first column")
    width = min(len(row) for row in data)
    return {
        (labels[place] if place < len(labels) and labels[place] else f"spectrum {place}"): (
            nm,
            _whole([_number(row[place]) for row in data], f"{name}, column {place + 1}"),
        )
        for place in range(1, width)
    }


def _cells(text: str) -> list[list[str]]:
    """Rows of cells; a comma separates only where neither a tab nor a semicolon does."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    separator = next((mark for mark in "\t;" if sum(mark in line for line in lines) > len(lines) / 2), ",")
    if separator == "," and sum("," in line for line in lines) <= len(lines) / 2:
        return [line.split() for line in lines]
    return [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=separator)]


def _number(cell: str) -> float | None:
    """`412`, `nm412`, `412 nm`, `0,53` or `53 %` as a number."""
    bare = re.fullmatch(r"(?:nm)?\s*([-+]?\d*[.,]?\d+(?:[eE][-+]?\d+)?)\s*(?:nm|%)?", cell.strip())
    return float(bare[1].replace(",", ".")) if bare else None


def _whole(values: list[float | None], where: str) -> FloatArray:
    if any(value is None for value in values):
        raise InputError(f"{where}: a number is missing or cannot be read. Export the file again, or fill the gap.")
    return np.array(values, dtype=np.float64)
