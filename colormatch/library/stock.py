"""Stock: weighed batches draw it down, warnings come before it runs out, and a piece gets its price."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from .materials import Cement, CementLot, PigmentLot, PigmentRecord, Studio
from .record import Record
from .records import BatchRecord, Weighing
from .store import Library

# A reducing agent keeps soluble chromium VI low only while the bag is tight; two months once it is broken is
# common on Danish bags (from memory of their text). The bag's own date and the safety data sheet hold.
OPENED_BAG_DAYS = 60
_FREE = ("water", "rest of the water", "additive")  # what no lot is kept of
_BATCHES_AHEAD = 2  # what the stock should last for; common practice, no source
_BATCHES_BACK = 5  # whose mean is what a batch takes; a judgement


@dataclass(frozen=True, slots=True)
class StockWarning:
    """Something that runs low or grows old: the kind and uid of the material, and a sentence."""

    kind: str
    uid: str
    sentence: str


@dataclass(frozen=True, slots=True)
class PieceCost:
    """What the materials of a batch cost; `without_price`: weighed, but not counted for want of a price."""

    pigments: float
    cement: float
    total: float
    per_piece: float
    pieces: int
    currency: str
    without_price: tuple[str, ...]


def bags_and_jars(library: Library) -> dict[str, CementLot | PigmentLot]:
    """Every bag and every jar by its uid."""
    lots: list[CementLot | PigmentLot] = [*library.list(CementLot), *library.list(PigmentLot)]
    return {lot.uid: lot for lot in lots}


def drawn(library: Library, weighings: Iterable[Weighing], back: Iterable[Weighing] = ()) -> list[Record]:
    """The bags and jars after what was weighed was taken from them and put `back`, not kept yet.

    One that is not counted stays so; one drawn below zero was counted wrongly, and stock_warnings says it.
    """
    taken: dict[str, float] = defaultdict(float)
    for sign, rows in ((1, weighings), (-1, back)):
        for row in rows:
            taken[row.lot_uid] += sign * (row.weighed_g or 0.0)
    lots = [lot for uid, lot in bags_and_jars(library).items() if taken[uid] and lot.stock_g is not None]
    return [replace(lot, stock_g=round((lot.stock_g or 0.0) - taken[lot.uid], 6)) for lot in lots]


def newest_price(lots: Iterable[CementLot | PigmentLot]) -> float | None:
    """The price per kg of the bag or jar bought last that has one."""
    priced = [lot for lot in lots if lot.price_per_kg is not None]
    newest = max(priced, key=lambda lot: (lot.bought_on or date.min, lot.uid), default=None)
    return None if newest is None else newest.price_per_kg


def stock_warnings(library: Library, today: date | None = None) -> list[StockWarning]:
    """What will soon run out, was counted wrongly, or is a bag that has been open for long.

    Low: below the limit the maker set, or less than two more batches like the last five would use. today: for
    the age of opened bags; None leaves these out.
    """
    low = _low(library, [*library.list(PigmentRecord), *library.list(Cement)])
    return low + ([] if today is None else _old_bags(library, today))


def piece_cost(library: Library, batch_uid: str) -> PieceCost:
    """Cost of pigments and cement of a batch, whole and per piece, from what was weighed, else planned."""
    batch, lots = library.get(BatchRecord, batch_uid), bags_and_jars(library)
    studio = library.find_one(Studio, "studio")
    spent = {"pigments": 0.0, "cement": 0.0}
    without_price = []
    for each in library.list(Weighing, batch_uid=batch_uid):
        lot = lots.get(each.lot_uid)
        grams = each.weighed_g if each.weighed_g is not None else each.planned_g
        if lot is None and any(each.material.startswith(free) for free in _FREE):
            continue
        if lot is None or lot.price_per_kg is None or grams is None:
            without_price.append(each.material or each.uid)
        else:
            spent["pigments" if each.pigment_lot_uid else "cement"] += grams / 1000 * lot.price_per_kg
    pieces = batch.pieces or 1
    total = sum(spent.values())
    currency = studio.currency if studio else "EUR"
    return PieceCost(
        **spent,
        total=total,
        per_piece=total / pieces,
        pieces=pieces,
        currency=currency,
        without_price=tuple(without_price),
    )


def _low(library: Library, materials: Iterable[PigmentRecord | Cement]) -> list[StockWarning]:
    """Materials that are low, over all their lots; those with no lot of known stock are left out."""
    left: dict[str, float] = defaultdict(float)
    lots = bags_and_jars(library)
    for lot in lots.values():
        if lot.stock_g is not None:
            left[lot.material_uid] += lot.stock_g
    used = _used_per_batch(library, lots)
    found = [(each, _sentence(each, left[each.uid], used.get(each.uid, 0.0))) for each in materials if each.uid in left]
    return [StockWarning(each.KIND, each.uid, sentence) for each, sentence in found if sentence]


def _sentence(material: PigmentRecord | Cement, left_g: float, per_batch_g: float) -> str:
    if left_g < 0:
        return (
            f"{material.name}: {-left_g:.0f} g more were weighed than were in stock. "
            "Weigh what is left and correct the stock."
        )
    if material.warn_below_g is not None and left_g < material.warn_below_g:
        return f"{material.name}: {left_g:.0f} g left, below your limit of {material.warn_below_g:.0f} g."
    if per_batch_g > 0 and left_g < _BATCHES_AHEAD * per_batch_g:
        return (
            f"{material.name}: {left_g:.0f} g left, enough for {left_g / per_batch_g:.1f} more batches "
            f"(the last ones took {per_batch_g:.0f} g each)."
        )
    return ""


def _used_per_batch(library: Library, lots: Mapping[str, CementLot | PigmentLot]) -> dict[str, float]:
    """Mean grams of each material in the last five batches that used it."""
    made = {batch.uid: str(batch.made_on or "") for batch in library.list(BatchRecord)}
    used: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for each in library.list(Weighing):
        lot = lots.get(each.lot_uid)
        if lot is not None and each.weighed_g:
            used[lot.material_uid][each.batch_uid] += each.weighed_g
    means = {}
    for owner, per_batch in used.items():
        last = sorted(per_batch, key=lambda uid: (made.get(uid, ""), uid))[-_BATCHES_BACK:]
        means[owner] = sum(per_batch[uid] for uid in last) / len(last)
    return means


def _old_bags(library: Library, today: date) -> list[StockWarning]:
    found, names = [], {each.uid: each.name for each in library.list(Cement)}
    for lot in library.list(CementLot):
        days = (today - lot.opened_on).days if lot.opened_on else 0
        if days > OPENED_BAG_DAYS and (lot.stock_g is None or lot.stock_g > 0):
            found.append(
                StockWarning(
                    "cement_lot",
                    lot.uid,
                    f"{names[lot.cement_uid]}{f' ({lot.lot})' if lot.lot else ''} has been open for {days} days. "
                    "Opened cement ages, and its agent against chromium VI may be spent: check the date on the bag and "
                    "its safety data sheet, and wear gloves.",
                )
            )
    return found
