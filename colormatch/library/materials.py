"""The studio and what it casts with: cements, pigments, bags and jars of them, moulds."""

# ruff: noqa: RUF009 - kept() makes a field, as dataclasses.field does

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from ..arrays import SCALE_STEPS_G
from ..errors import LibraryError
from ..loads import ASTM_C979_MAXIMUM, LEAST_WATER, MOST_WATER
from . import fields as f
from .fields import kept
from .record import NAME, NOTES, Record

AMOUNT = f.Number(low=0.1, high=100_000)  # g or ml; what is cast by hand weighs from a bead to 100 kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Studio(Record, kind="studio", table="studio"):
    """The studio itself; one record, uid `studio`. `settings`: cap, scale step and the like."""

    # The settings that are calculated with: lowest, highest (wider than any workshop's).
    NUMBERS: ClassVar[Mapping[str, tuple[float, float]]] = {
        "load_cap": (0.0001, ASTM_C979_MAXIMUM), "scale_step_g": SCALE_STEPS_G, "bulk_step_g": SCALE_STEPS_G,
        "water_per_cement": (LEAST_WATER, MOST_WATER), "waste": (0, 0.9),
    }  # fmt: skip
    name: str = kept(NAME)
    invented: bool = kept(f.Flag())
    currency: str = kept(f.Text(limit=12), "EUR")
    settings: Mapping[str, Any] = kept(f.Free())
    notes: str = kept(NOTES)

    def check_whole(self) -> None:
        """The settings that are calculated with are numbers within reason."""
        for name in self.NUMBERS.keys() & self.settings.keys():
            low, high = self.NUMBERS[name]
            f.Number(low=low, high=high).check(self.settings[name], f"The setting {name} of the studio")

    def number(self, name: str, otherwise: float) -> float:
        """A setting that is calculated with; `otherwise` where there is none, or an older version took nonsense."""
        low, high = self.NUMBERS[name]
        value = self.settings.get(name)
        return float(value) if isinstance(value, (int, float)) and low <= value <= high else otherwise


@dataclass(frozen=True, slots=True, kw_only=True)
class Cement(Record, kind="cement", table="cements"):
    """A cement the studio uses; its uid is the name of the base in a Palette.

    `kind`: "quick-setting", "portland" or "other". Hours in the mould, days kept moist and days from casting until
    a piece may be sealed as its sheet says; None: what is usual for its kind.
    """

    name: str = kept(NAME)
    tone: str = kept(f.Text())
    kind: str = kept(f.Text())
    demould_after_h: float | None = kept(f.Number(low=0))
    moist_days: float | None = kept(f.Number(low=0))
    seal_after_days: float | None = kept(f.Number(low=0))
    warn_below_g: float | None = kept(f.Number(low=0))
    notes: str = kept(NOTES)

    @property
    def like(self) -> str:
        """The cement it is taken to resemble; empty: any may be."""
        return self.tone


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot(Record):
    """What came in one delivery; with `used_up_on` it is off the shelf, and what was learned of it stays."""

    lot: str = kept(f.Text())
    bought_on: date | None = kept(f.Day())
    used_up_on: date | None = kept(f.Day())
    price_per_kg: float | None = kept(f.Number(low=0))
    stock_g: float | None = kept(f.Number())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class CementLot(Lot, kind="cement_lot", table="cement_lots"):
    """One bag or delivery of a cement."""

    cement_uid: str = kept(f.Reference(kind="cement", required=True, owned=True))
    opened_on: date | None = kept(f.Day())

    @property
    def material_uid(self) -> str:
        """What it is a bag of."""
        return self.cement_uid


@dataclass(frozen=True, slots=True, kw_only=True)
class PigmentRecord(Record, kind="pigment", table="pigments"):
    """A pigment on the shelf; its uid is its name in a Palette.

    `like` names the starter pigment it is taken to resemble (empty: unknown). `maximum_load`: the most its
    data sheet allows, g per g cement; at most 0.10 (ASTM C979 clause 1.4).
    """

    name: str = kept(NAME)
    chemistry: str = kept(f.Text())
    like: str = kept(f.Text())
    maximum_load: float | None = kept(f.Number(low=0, high=ASTM_C979_MAXIMUM))
    warn_below_g: float | None = kept(f.Number(low=0))
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class PigmentLot(Lot, kind="pigment_lot", table="pigment_lots"):
    """One jar or bag of a pigment."""

    pigment_uid: str = kept(f.Reference(kind="pigment", required=True, owned=True))

    @property
    def material_uid(self) -> str:
        """What it is a jar of."""
        return self.pigment_uid


@dataclass(frozen=True, slots=True, kw_only=True)
class Mould(Record, kind="mould", table="moulds"):
    """A mould: what one filling weighs, its volume, and the dry cement in one filling."""

    name: str = kept(NAME)
    fill_weight_g: float | None = kept(AMOUNT)
    volume_ml: float | None = kept(AMOUNT)
    cement_g: float | None = kept(AMOUNT)
    notes: str = kept(NOTES)

    def check_whole(self) -> None:
        """It says how much it takes, in one way or another."""
        if self.fill_weight_g is self.volume_ml is self.cement_g is None:
            raise LibraryError(
                f"The mould {self.name!r} has no amount. Give what one filling weighs, its volume, or the cement in it."
            )
