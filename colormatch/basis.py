"""Pigment given as per cent of cement, of the dry mix, of the whole mix, or as grams per kilogram: one converter.

A load, g pigment per g dry cement, is what everything else is computed in; caps are caps on the cement.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from .arrays import number_between
from .errors import InputError, LoadError
from .loads import ASTM_C979_MAXIMUM, SLACK, per_cent

Basis = Literal["% of cement", "% of dry mix", "% of total mix", "g per kg cement", "g per kg dry mix"]
BASES: tuple[str, ...] = get_args(Basis)


@dataclass(frozen=True, slots=True)
class MixProportions:
    """What besides cement is in the mix, g per g of dry cement: sand or filler, and water. Raises InputError."""

    sand: float = 0.0
    water: float = 0.0

    def __post_init__(self) -> None:
        for name, most in (("sand", 20.0), ("water", 2.0)):
            number_between(getattr(self, name), name=f"The {name} per g of cement", low=0, high=most, unit="g")


@dataclass(frozen=True, slots=True)
class Amounts:
    """How amounts of pigment are given and shown: the basis, and what else is in the mix. Raises InputError."""

    basis: str = "% of cement"
    mix: MixProportions = MixProportions()

    def __post_init__(self) -> None:
        object.__setattr__(self, "basis", basis_named(self.basis))

    def loads(self, amounts: Mapping[str, float]) -> dict[str, float]:
        """As `to_loads`."""
        return to_loads(amounts, self.basis, self.mix)

    def said(self, loads: Mapping[str, float]) -> dict[str, str]:
        """Each load with the basis beside it."""
        return {name: said(amount, self.basis) for name, amount in from_loads(loads, self.basis, self.mix).items()}

    def total(self, loads: Mapping[str, float]) -> str:
        """All of them together."""
        return said(sum(from_loads(loads, self.basis, self.mix).values()), self.basis)


def to_loads(amounts: Mapping[str, float], basis: str, mix: MixProportions | None = None) -> dict[str, float]:
    """Loads, g per g of dry cement, of pigments given in a basis; "dry mix" is cement, sand and the pigments.

    Raises InputError for an unknown basis or amounts that leave no cement, LoadError beyond 10 % of the cement.

    >>> to_loads({"yellow-iron-oxide": 2.0}, "g per kg cement")
    {'yellow-iron-oxide': 0.002}
    """
    factor, whole, others = _measure(basis, mix or MixProportions())
    shares = {
        name: number_between(a, name=f"The amount of {name}", low=0, high=1000) / factor for name, a in amounts.items()
    }
    if not whole:
        loads = shares
    else:
        # share = load / (others + sum of loads): solved for the loads.
        left = 1 - sum(shares.values())
        if left <= 0:
            raise InputError(
                f"Pigments of {said(sum(amounts.values()), basis)} leave nothing for the cement; check the basis."
            )
        loads = {name: share * others / left for name, share in shares.items()}
    total = sum(loads.values())
    if total > ASTM_C979_MAXIMUM + SLACK:
        raise LoadError(
            f"That is {said(100 * total, '% of cement')} pigment; at most {per_cent(ASTM_C979_MAXIMUM, 0)} of the "
            f"dry cement is allowed (ASTM C979). Check whether the recipe was given in {basis}."
        )
    return loads


def from_loads(loads: Mapping[str, float], basis: str, mix: MixProportions | None = None) -> dict[str, float]:
    """Loads in another basis; the inverse of `to_loads`."""
    factor, whole, others = _measure(basis, mix or MixProportions())
    over = others + sum(loads.values()) if whole else 1.0
    return {name: load / over * factor for name, load in loads.items()}


def basis_named(text: str) -> str:
    """A basis as it was typed, in any case and spacing; raises InputError."""
    typed = " ".join(text.replace("%", "% ").split()).casefold()
    if typed not in BASES:
        raise InputError(f"{text!r} is no basis; choose one of: {', '.join(BASES)}.")
    return typed


def said(amount: float, basis: str) -> str:
    """The amount with its basis always beside it: `2.5 % of cement`, `25 g per kg cement`."""
    return f"{amount:.3g} {basis}"


def _measure(basis: str, mix: MixProportions) -> tuple[float, bool, float]:
    """What a share is multiplied with, whether it is a share of a mix, and what else is in that mix, g per g cement."""
    if basis not in BASES:
        raise InputError(f"{basis!r} is no basis; choose one of: {', '.join(BASES)}.")
    factor = 100.0 if basis.startswith("%") else 1000.0
    others = 1 + mix.sand + (mix.water if "total" in basis else 0.0)
    return factor, "mix" in basis, others
