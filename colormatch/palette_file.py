"""A palette as plain data and as a file, so that what was learned outlives the session.

JSON: numbers are written with all their digits, so a palette read back is the same to the last bit.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from .arrays import read_only
from .errors import ColormatchError, InputError
from .palette import Base, Palette, Pigment

FORMAT = "colormatch palette"
VERSION = 1
_LEAST_VARIANCE = -1e-8  # relative; rounding may leave a variance a little below zero

Record = TypeVar("Record", Base, Pigment)


def palette_to_dict(palette: Palette) -> dict[str, Any]:
    """The whole palette in lists, numbers and strings, ready for `json.dumps`."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "bases": [_record_to_dict(base) for base in palette.bases.values()],
        "pigments": [_record_to_dict(pigment) for pigment in palette.pigments.values()],
        "states": list(palette.states),
        "cast_sd": float(palette.cast_sd),
        "tiles_learned": int(palette.tiles_learned),
        "mean": palette.mean.tolist(),
        "covariance": palette.covariance.tolist(),
    }


def palette_from_dict(entry: Mapping[str, Any]) -> Palette:
    """The palette written by `palette_to_dict`; raises InputError when it is not one or is damaged."""
    if not isinstance(entry, Mapping) or entry.get("format") != FORMAT:
        raise InputError("This is not a saved palette. Choose a file that was saved as a palette.")
    if entry.get("version") != VERSION:
        raise InputError(
            f"The palette was saved in version {entry.get('version')!r}; this program reads version {VERSION}. "
            "Open it with the program that wrote it, or update this one."
        )
    try:
        bases = [_record_from_dict(Base, one) for one in entry["bases"]]
        pigments = [_record_from_dict(Pigment, one) for one in entry["pigments"]]
        palette = Palette(
            bases={base.name: base for base in bases},
            pigments={pigment.name: pigment for pigment in pigments},
            mean=np.asarray(entry["mean"], dtype=np.float64),
            covariance=np.asarray(entry["covariance"], dtype=np.float64),
            states=tuple(str(state) for state in entry["states"]),
            cast_sd=float(entry["cast_sd"]),
            tiles_learned=int(entry["tiles_learned"]),
        )
    except ColormatchError as error:
        raise InputError(f"The saved palette is damaged: {error}") from error
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"The saved palette is damaged ({error}); restore it from a backup.") from error
    _check_numbers(palette)
    return palette


def save_palette(palette: Palette, path: str | Path) -> None:
    """Write the palette as JSON; a file of that name is replaced only once the new one is complete."""
    target = Path(path)
    waiting = target.with_name(target.name + ".part")
    waiting.write_text(json.dumps(palette_to_dict(palette)), encoding="utf-8")
    waiting.replace(target)


def load_palette(path: str | Path) -> Palette:
    """Read a palette written by `save_palette`; raises InputError when it is missing or damaged."""
    try:
        entry = json.loads(Path(path).read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"The palette {path} cannot be read: {error.strerror}.") from error
    except ValueError as error:
        raise InputError(f"The palette {path} is damaged: {error}. Restore it from a backup.") from error
    return palette_from_dict(entry)


def _record_to_dict(record: Base | Pigment) -> dict[str, Any]:
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    return {key: value.tolist() if isinstance(value, np.ndarray) else value for key, value in values.items()}


def _record_from_dict(kind: type[Record], entry: Mapping[str, Any]) -> Record:
    known = {field.name for field in fields(kind)}
    values = {key: value for key, value in entry.items() if key in known}
    for key in ("k_shape", "s_shape"):
        if key in values:
            values[key] = read_only(np.asarray(values[key], dtype=np.float64))
    record = kind(**values)
    if record.k_shape.shape != (31,) or not np.all(record.k_shape > 0):
        raise InputError(f"the absorption curve of {record.name!r} is not 31 positive numbers.")
    return record


def _check_numbers(palette: Palette) -> None:
    covariance = palette.covariance
    scale = max(1.0, float(np.abs(covariance).max(initial=0.0)))
    sound = np.allclose(covariance, covariance.T, atol=1e-9 * scale)
    if not sound or np.linalg.eigvalsh(covariance).min() < _LEAST_VARIANCE * scale:
        raise InputError("The saved palette is damaged: its covariance is not one. Restore it from a backup.")
    if not 0 < palette.cast_sd < 100 or palette.tiles_learned < 0:
        raise InputError("The saved palette is damaged: cast_sd or the tile count is out of range.")
