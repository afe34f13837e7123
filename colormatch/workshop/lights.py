"""Lights and spectra that a maker brings: a lamp by name or from a file, kept by its name; a target's spectrum."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, TypeVar

from ..arrays import FloatArray
from ..errors import InputError
from ..library import Library
from .materials import named
from .shelf import LIGHTS, keep_setting, studio_of

if TYPE_CHECKING:
    from ..lamps import Lamp

T = TypeVar("T")
_LAMPS = "lamps"  # of the studio's settings: name -> {"nm": [...], "power": [...]}
_MOST_LAMPS = 20  # more than anyone has; the list stays one that is read


def lights(library: Library) -> dict[str, str]:
    """Lights to choose from, each name to its words: the usual ones, then those she measured."""
    return {**LIGHTS, **{name: name for name in _kept(library)}}


def light(library: Library, name: str) -> Lamp:
    """A lamp of hers, one of the plain names, or any that colour-science knows; raises UnknownNameError."""
    from ..lamps import lamp

    own = _kept(library).get(name)
    return lamp(name or "daylight") if own is None else lamp((own["nm"], own["power"]), name)


def light_words(name: str) -> str:
    """A light within a sentence."""
    return LIGHTS.get(name, name) if name else "lamplight"


def keep_lamp(library: Library, name: str, file_name: str, content: bytes) -> Lamp:
    """Keep the spectrum of a lamp from a table of wavelength in nm and power, under its name; raises InputError."""
    from ..lamps import lamp
    from ..spectrum_files import read_tables

    name = named(name)
    if name in LIGHTS:
        raise InputError(f"{name!r} is the name of a usual light; give your lamp another.")
    (nm, power), *more = _read(read_tables, file_name, content).values()
    if more:
        raise InputError(f"{file_name} holds {1 + len(more)} spectra; a lamp has one. Keep one column and try again.")
    made = lamp((nm, power), name)
    lamps = {**_kept(library), name: {"nm": nm.tolist(), "power": power.tolist()}}
    if len(lamps) > _MOST_LAMPS:
        raise InputError(f"There are {_MOST_LAMPS} lamps of yours already; give this one the name of one it replaces.")
    keep_setting(library, _LAMPS, lamps)
    return made


def spectra_of(file_name: str, content: bytes) -> dict[str, FloatArray]:
    """Reflectance factors (31,) by name from a file in hand, as `read_spectra`."""
    from ..spectrum_files import read_spectra

    return _read(read_spectra, file_name, content)


def _read(reader: Callable[[Path], dict[str, T]], file_name: str, content: bytes) -> dict[str, T]:
    """The readers want a file by its name, as the field's library does."""
    with TemporaryDirectory() as folder:
        place = Path(folder) / (Path(file_name).name or "spectra.csv")
        place.write_bytes(content)
        return reader(place)


def _kept(library: Library) -> Mapping[str, Mapping[str, list[float]]]:
    lamps: Mapping[str, Mapping[str, list[float]]] = studio_of(library).settings.get(_LAMPS, {})
    return lamps
