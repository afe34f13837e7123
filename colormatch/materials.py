"""Cements and pigments as a palette knows them: what each is, where its curves come from, and their shapes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

from .arrays import FloatArray, number_between
from .errors import InputError
from .loads import ASTM_C979_MAXIMUM


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """A cement: name, what it is, where its curve comes from, and the shape of K0 on the 31 bands."""

    name: str
    label: str
    k_shape: FloatArray
    source: str
    scatter_shape: float = 1.0
    price_per_kg: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Pigment:
    """A dry pigment: name, chemistry, where its curves come from, and the shapes of k and s (31,).

    maximum_load: the pigment's own limit in g per g of dry cement, at most 0.10 (ASTM C979).
    from_memory: the curves have no published optical constants behind them. known: something is known of the curves;
    False: nothing, until it is cast.
    """

    name: str
    label: str
    k_shape: FloatArray
    s_shape: FloatArray
    source: str
    from_memory: bool = False
    known: bool = True
    maximum_load: float = ASTM_C979_MAXIMUM
    colour_index: str = ""
    density_g_cm3: float | None = None
    price_per_kg: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Absorption k and scattering s of a material and their sd, each (31,), at wavelength_nm; white cement's S is 1."""

    wavelength_nm: FloatArray
    k: FloatArray
    s: FloatArray
    k_sd: FloatArray
    s_sd: FloatArray


Record = TypeVar("Record", Base, Pigment)


def with_details(record: Record, details: Mapping[str, Any]) -> Record:
    """The record with further fields of its own; raises InputError for a field it does not have."""
    known = {field.name for field in fields(record)} - {"name"}
    if unknown := set(details) - known:
        raise InputError(f"There is no detail called {min(unknown)!r}; there are {', '.join(sorted(known))}.")
    for name, low, high in (("price_per_kg", 0.0, 1e6), ("maximum_load", 0.0, ASTM_C979_MAXIMUM)):
        if details.get(name) is not None:
            number_between(details[name], name=f"The {name.replace('_', ' ')}", low=low, high=high)
    return replace(record, **details)
