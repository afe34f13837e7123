"""Loads of pigment, g per g of dry cement: the gate every mixture passes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from .arrays import FloatArray, plain_number
from .errors import InputError, LoadError
from .frozen import FrozenMapping

STUDIO_CAP = 0.05  # the most a studio uses unless it says otherwise; common practice, no source
ASTM_C979_MAXIMUM = 0.10  # g pigment per g cement, ASTM C979 clause 1.4
TINT_LADDER = (0.005, 0.01, 0.02, 0.05)  # loads that show a pigment from pale to deep; common practice, no source
TINT_LOAD = 0.02  # mid of the usual doses, so the tile that tells most; common practice, no source
LEAST_WATER, MOST_WATER = 0.1, 1.0  # g per g of cement: a mix that can be poured, and no soup; from memory
SLACK = 1e-9  # rounding of sums of weighed grams


def per_cent(share: float, places: int = 2) -> str:
    """A share in per cent, for a sentence: `5 %`, `1.25 %`."""
    number = f"{100 * share:.{places}f}"
    return f"{number.rstrip('0').rstrip('.') if places else number} %"


@dataclass(frozen=True, slots=True)
class Mix:
    """What is in a bowl: a cement, and g of each pigment per g of it. `Mix.of` checks, from then on it is trusted."""

    base: str
    loads: FrozenMapping[str, float]

    @classmethod
    def of(cls, base: object, loads: object) -> Mix:
        """A checked mix: each load and their sum from 0 to 0.10; raises InputError or LoadError."""
        if not isinstance(base, str) or not base:
            raise InputError(f"The cement of a mix must be named by text; got {base!r}.")
        if not isinstance(loads, Mapping) or not all(isinstance(name, str) for name in loads):
            raise InputError(f"The loads of a mix must be names of pigments with g per g of cement; got {loads!r}.")
        checked = {name: checked_load(name, load) for name, load in loads.items()}
        check_total(math.fsum(checked.values()))
        return cls(base, FrozenMapping(checked))

    @property
    def total(self) -> float:
        """All pigment, g per g of dry cement."""
        return math.fsum(self.loads.values())


def checked_load(name: str, load: object) -> float:
    """One load as a float from 0 to 0.10; raises LoadError."""
    try:
        if isinstance(load, str):
            raise TypeError
        value = plain_number(load)
    except (TypeError, ValueError):
        raise LoadError(f"The load of {name} is {load!r}; it must be a number, in g per g of dry cement.") from None
    if not 0 <= value <= ASTM_C979_MAXIMUM + SLACK:
        hint = " A load is a share: 2 % is 0.02." if value > ASTM_C979_MAXIMUM else ""
        raise LoadError(
            f"The load of {name} is {value:g} ({value:.3g} g per g, or {per_cent(value, 0)} of the dry cement); "
            f"it must be from 0 to {ASTM_C979_MAXIMUM:g}, 10 % of the dry cement (ASTM C979).{hint}"
        )
    return value


def check_totals(loads: FloatArray) -> None:
    """Raise LoadError when a row of loads (..., n) adds up to more than 0.10."""
    check_total(float(loads.sum(axis=-1).max(initial=0.0)))


def check_total(total: float) -> None:
    """Raise LoadError when all pigment of a mix, g per g of dry cement, is more than 0.10."""
    if total > ASTM_C979_MAXIMUM + SLACK:
        raise LoadError(
            f"The pigments add up to {per_cent(total)} of the dry cement; ASTM C979 allows at most "
            f"{per_cent(ASTM_C979_MAXIMUM, 0)}. Check what was weighed, or lower the loads."
        )
