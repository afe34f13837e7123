"""Times from casting to sealing, and what to know of its water, by the cement's kind or as its sheet says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from ..bench.batch import WATER_PER_CEMENT
from ..library import Cement, Library


@dataclass(frozen=True, slots=True)
class Curing:
    """Hours in the mould, days kept moist after it, days from casting until a piece may be sealed; and in words.

    more_water: what is to be said where no more water is planned than a quick-setting cement takes.
    """

    demould_after_h: float
    moist_days: float
    seal_after_days: float
    words: str
    more_water: str = ""

    def water_words(self, per_cement: float | None) -> str:
        """What to know where so much water is planned, g per g of cement; None: the usual."""
        return self.more_water if (per_cement or WATER_PER_CEMENT) <= WATER_PER_CEMENT else ""

    def demould_due(self, cast_at: datetime) -> datetime:
        """When a piece may leave the mould."""
        return cast_at + timedelta(hours=self.demould_after_h)

    def moist_until(self, demoulded_at: datetime) -> datetime | None:
        """Until when a piece is kept moist; None: not at all."""
        return demoulded_at + timedelta(days=self.moist_days) if self.moist_days > 0 else None

    def seal_from(self, cast_at: datetime) -> datetime:
        """Before this, the weights alone do not say that a piece may be sealed."""
        return cast_at + timedelta(days=self.seal_after_days)


# Common practice, no source, differing by binder: the sheet of the cement decides. Quick-setting cements leave the
# mould after 3 to 4 h; Portland after 16 to 24 h or later, and drying it at once weakens and chalks it. A quarter of
# water makes a quick-setting cement pour, but few Portlands.
_MORE_WATER = "This is the water of a quick-setting cement: Portland takes more, or an additive; the bag says."
KINDS: dict[str, Curing] = {
    "quick-setting": Curing(4, 0, 5, "after 3 to 4 h, when the mould is no longer warm"),
    "portland": Curing(24, 3, 14, "after 24 h or later, then moist under a cover for 3 days", _MORE_WATER),
    "other": Curing(24, 1, 10, "as its sheet says, not before 24 h where it says nothing"),
}


def curing_of(cement: Cement | None) -> Curing:
    """Of a cement: what was noted of its sheet, else what is usual for its kind; of an unknown kind as "other"."""
    usual = KINDS.get(cement.kind if cement else "", KINDS["other"])
    if cement is None:
        return usual
    own = (cement.demould_after_h, cement.moist_days, cement.seal_after_days)
    if own == (None, None, None):
        return usual
    hours, moist, seal = (
        given if given is not None else default
        for given, default in zip(own, (usual.demould_after_h, usual.moist_days, usual.seal_after_days), strict=True)
    )
    moist_words = f", then moist under a cover for {moist:g} days" if moist > 0 else ""
    return Curing(hours, moist, seal, f"after {hours:g} h, as its sheet says{moist_words}", usual.more_water)


def curing(library: Library, cement_uid: str | None) -> Curing:
    """Of the cement of that uid."""
    return curing_of(library.find_one(Cement, cement_uid) if cement_uid else None)
