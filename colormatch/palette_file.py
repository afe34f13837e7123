"""A palette as plain numbers and texts, and back: what the library keeps of a learned palette.

JSON carries Python floats exactly, so a palette read back predicts to the last bit what it did before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from .arrays import FloatArray, finite_array, number_between
from .errors import InputError
from .palette import Base, Palette, Pigment
from .spectra import N_BANDS

FORMAT = 1
_CURVES = ("k_shape", "s_shape")
_TEXTS = {"name", "label", "source", "colour_index"}
_ALWAYS = {"scatter_shape", "maximum_load"}
_NUMBERS = {*_ALWAYS, "price_per_kg", "density_g_cm3"}
# Wide round anything that was ever learned: sizes are seen before memory is asked for (a palette of 100 pigments has
# 1 100 unknowns), and no number may run over where it is an exponent.
_MOST_UNKNOWNS = 2_000
_LARGEST_LOG, _LARGEST = 50.0, 1e6
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
        size = len(content["mean"])
        if size > _MOST_UNKNOWNS or len(content[_TRIANGLE]) != size * (size + 1) // 2:
            raise ValueError(f"{size} unknowns with {len(content[_TRIANGLE])} variances and covariances")
        mean = _between(content["mean"], _LARGEST_LOG)
        covariance = np.zeros((size, size))
        covariance[np.tril_indices(size)] = _between(content[_TRIANGLE], _LARGEST_LOG**2)
        covariance += np.tril(covariance, -1).T
        palette = Palette(
            bases={entry["name"]: Base(**_checked(entry)) for entry in content["bases"]},
            pigments={entry["name"]: Pigment(**_checked(entry)) for entry in content["pigments"]},
            mean=mean,
            covariance=covariance,
            states=tuple(content["states"]),
            cast_sd=float(content["cast_sd"]),
            tiles_learned=int(content["tiles_learned"]),
        )
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise InputError(f"This kept palette is damaged ({error}). Learn it again from the tiles.") from None
    least = float(np.linalg.eigvalsh(palette.covariance).min(initial=0.0))
    if least < -_ROUNDING or not 0 < palette.cast_sd < np.inf or palette.tiles_learned < 0:
        raise InputError("This kept palette is damaged (its doubts are not numbers). Learn it again from the tiles.")
    return palette


def _record_to_dict(record: Base | Pigment) -> dict[str, Any]:
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    return {name: value.tolist() if isinstance(value, np.ndarray) else value for name, value in values.items()}


def _between(values: Any, largest: float) -> FloatArray:
    numbers = np.array(values, dtype=np.float64)
    if numbers.ndim != 1 or not np.all(np.abs(numbers) <= largest):
        raise ValueError(f"an unknown or its variance is no number from {-largest:g} to {largest:g}")
    return numbers


def _checked(entry: Mapping[str, Any]) -> dict[str, Any]:
    """The content of a base or a pigment: texts, numbers from 0 up, curves as arrays on the 31 bands."""
    found = {name: finite_array(entry[name], name=name, shape=(N_BANDS,)) for name in _CURVES if name in entry}
    if any(curve.min() < 0 or curve.max() > _LARGEST for curve in found.values()):
        raise ValueError(f"a curve is below zero, or above {_LARGEST:g}")
    for name in _TEXTS & entry.keys():
        if not isinstance(entry[name], str):
            raise ValueError(f"the {name} {entry[name]!r:.40} is no text")
    for name in _NUMBERS & entry.keys():
        if entry[name] is not None or name in _ALWAYS:
            number_between(entry[name], name=f"the {name}", low=0, high=_LARGEST)
    return {**entry, **found}
