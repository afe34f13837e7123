"""A palette as plain numbers and texts, and back: what the library keeps of a learned palette.

JSON carries Python floats exactly, so a palette read back predicts to the last bit what it did before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np
from scipy.linalg import block_diag

from .arrays import FloatArray, finite_array, number_between
from .errors import InputError
from .loads import ASTM_C979_MAXIMUM
from .palette import Base, Palette, Pigment
from .parameters import BASE_SIZE, KNOTS_NM, N_KNOTS, STATE_SIZE
from .spectra import N_BANDS

FORMAT = 2
_THREE_KNOTS = 1  # the format in which scattering had knots at 400, 550 and 700 nm only
_CURVES = ("k_shape", "s_shape")
_TEXTS = {"name", "label", "source", "colour_index"}
_ALWAYS = {"scatter_shape", "maximum_load"}
_NUMBERS = {*_ALWAYS, "price_per_kg", "density_g_cm3"}
# Wide round anything that was ever learned: sizes are seen before memory is asked for (a palette of 100 pigments has
# 1 100 unknowns), and no number may run over where it is an exponent.
_MOST_UNKNOWNS = 2_000
_LARGEST_LOG, _LARGEST = 50.0, 1e6
_SPREADS = ("cast_sd", "pigment_law_sd", "base_law_sd", "surface")
_CAST = ("cast_from", "cast_up_to")
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
        **{name: getattr(palette, name) for name in _SPREADS},
        "tiles_learned": palette.tiles_learned,
        **{name: dict(getattr(palette, name)) for name in _CAST},
        "mean": palette.mean.tolist(),
        _TRIANGLE: palette.covariance[np.tril_indices(size)].tolist(),
    }


def palette_from_dict(content: object) -> Palette:
    """The palette written by `palette_to_dict`; raises InputError for anything else or from a newer version."""
    if not isinstance(content, Mapping):
        raise InputError("This kept palette is damaged (it is no table). Learn it again from the tiles.")
    number = content.get("format")
    if number not in (_THREE_KNOTS, FORMAT):
        raise InputError(
            f"This palette was kept in format {number!r}; this version reads formats up to {FORMAT}. "
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
        if number == _THREE_KNOTS:
            onto = _onto_seven_knots(size, *(len(content[names]) for names in ("bases", "pigments", "states")))
            mean, covariance = onto @ mean, onto @ covariance @ onto.T
        spreads: dict[str, Any] = {
            name: number_between(content[name], name=f"the {name}", low=0, high=_LARGEST_LOG)
            for name in _SPREADS
            if name in content
        }
        cast = {each: {str(name): float(x) for name, x in content.get(each, {}).items()} for each in _CAST}
        palette = Palette(
            bases={entry["name"]: Base(**_checked(entry)) for entry in content["bases"]},
            pigments={entry["name"]: Pigment(**_checked(entry)) for entry in content["pigments"]},
            mean=mean,
            covariance=covariance,
            states=tuple(content["states"]),
            tiles_learned=min(int(content["tiles_learned"]), 2**53),
            **(spreads | cast),
        )
    except (KeyError, AttributeError, TypeError, ValueError, OverflowError) as error:
        raise InputError(f"This kept palette is damaged ({error}). Learn it again from the tiles.") from None
    loads = [*palette.cast_from.values(), *palette.cast_up_to.values()]
    if not all(0 < load <= ASTM_C979_MAXIMUM + 1e-9 for load in loads) or not 0 <= palette.surface < 1:
        raise InputError("This kept palette is damaged (its loads or surface). Learn it again from the tiles.")
    least = float(np.linalg.eigvalsh(palette.covariance).min(initial=0.0))
    if least < -_ROUNDING or palette.cast_sd <= 0 or palette.tiles_learned < 0:
        raise InputError("This kept palette is damaged (a variance below zero). Learn it again from the tiles.")
    return palette


def _onto_seven_knots(size: int, bases: int, pigments: int, states: int) -> FloatArray:
    """The matrix from the parameters of the first format to today's: straight lines between the three old knots."""
    if bases * BASE_SIZE + pigments * (N_KNOTS + 3) + states * STATE_SIZE != size:
        raise ValueError(f"{size} unknowns for {bases} bases, {pigments} pigments and {states} states")
    lines = np.array([np.interp(KNOTS_NM, [400.0, 550.0, 700.0], row) for row in np.eye(3)]).T
    pigment = block_diag(np.eye(N_KNOTS), lines)
    return np.asarray(block_diag(np.eye(bases * BASE_SIZE), *[pigment] * pigments, np.eye(states * STATE_SIZE)))


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
        if not isinstance(entry[name], str) or (name == "name" and not entry[name]):
            raise ValueError(f"the {name} {entry[name]!r:.40} is no text")
    if not isinstance(entry.get("known", True), bool):
        raise ValueError(f"known is {entry['known']!r:.40}; it must be true or false")
    for name in _NUMBERS & entry.keys():
        if entry[name] is not None or name in _ALWAYS:
            number_between(entry[name], name=f"the {name}", low=0, high=_LARGEST)
    return {**entry, **found}
