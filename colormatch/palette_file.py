"""A palette as plain numbers and texts, and back: what the library keeps of a learned palette.

JSON carries Python floats exactly, so a palette read back predicts to the last bit what it did before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from .arrays import finite_array
from .errors import InputError
from .palette import Base, Palette, Pigment
from .spectra import N_BANDS

FORMAT = 1
_CURVES = ("k_shape", "s_shape")
_ROUNDING = 1e-6  # a variance may come out this far below zero
_TRIANGLE = "covariance_lower"  # row by row up to the diagonal: half the size, and symmetric for sure


def palette_to_dict(palette: Palette) -> dict[str, Any]:
    """Everything a palette is, in types that JSON knows; read back by `palette_from_dict`."""
    size = palette.layout.size
    return {
        "format": FORMAT,
        "bases": [_record_to_dict(base) for base in palette.bases.values()],
        "pigments": [_record_to_dict(pigment) for pigment in palette.pigments.values()],
        "states": list(palette.states),
        "cast_sd": palette.cast_sd,
        "tiles_learned": palette.tiles_learned,
        "mean": palette.mean.tolist(),
        _TRIANGLE: palette.covariance[np.tril_indices(size)].tolist(),
    }


def palette_from_dict(content: object) -> Palette:
    """The palette written by `palette_to_dict`; raises InputError for anything else or from a newer version."""
    if not isinstance(content, Mapping):
        raise InputError("This kept palette is damaged (it is no table). Learn it again from the tiles.")
    number = content.get("format")
    if number != FORMAT:
        raise InputError(
            f"This palette was kept in format {number!r}; this version reads format {FORMAT}. "
            "Learn it again from the tiles, or use a newer colormatch."
        )
    try:
        mean = np.array(content["mean"], dtype=np.float64)
        covariance = np.zeros((mean.size, mean.size))
        covariance[np.tril_indices(mean.size)] = content[_TRIANGLE]
        covariance += np.tril(covariance, -1).T
        palette = Palette(
            bases={entry["name"]: Base(**_arrays(entry)) for entry in content["bases"]},
            pigments={entry["name"]: Pigment(**_arrays(entry)) for entry in content["pigments"]},
            mean=mean,
            covariance=covariance,
            states=tuple(content["states"]),
            cast_sd=float(content["cast_sd"]),
            tiles_learned=int(content["tiles_learned"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"This kept palette is damaged ({error}). Learn it again from the tiles.") from None
    least = float(np.linalg.eigvalsh(palette.covariance).min(initial=0.0))
    if least < -_ROUNDING or not 0 < palette.cast_sd < np.inf or palette.tiles_learned < 0:
        raise InputError("This kept palette is damaged (its doubts are not numbers). Learn it again from the tiles.")
    return palette


def _record_to_dict(record: Base | Pigment) -> dict[str, Any]:
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    return {name: value.tolist() if isinstance(value, np.ndarray) else value for name, value in values.items()}


def _arrays(entry: Mapping[str, Any]) -> dict[str, Any]:
    """The content of a base or a pigment, its curves as arrays on the 31 bands, nowhere below zero."""
    found = {name: finite_array(entry[name], name=name, shape=(N_BANDS,)) for name in _CURVES if name in entry}
    if any(curve.min() < 0 for curve in found.values()):
        raise ValueError("a curve is below zero")
    return {**entry, **found}
