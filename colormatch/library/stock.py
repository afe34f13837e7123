"""Stock: weighed batches draw it down, warnings come before it runs out, and a piece gets its price."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

import sqlalchemy as sa

from ..errors import LibraryError
from .materials import Cement, CementLot, PigmentLot, PigmentRecord, Studio
from .record import Record
from .records import BatchRecord, Weighing
from .rows import read_records
from .schema import TABLES
from .store import Library
from .values import now
from .writing import keep, present

R = TypeVar("R", bound=Record)

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


def draw_down_stock(library: Library, batch_uid: str) -> list[PigmentLot | CementLot]:
    """Take the weighings of a batch from the stock of their lots, once; the lots as they are then.

    A lot without a known stock stays unknown; one that is drawn below zero shows that it was counted wrongly
    and is left negative, so that stock_warnings can say so. Raises LibraryError if it was done already.
    """
    with library.database.writing() as connection:
        batch = present(connection, BatchRecord, batch_uid)
        if batch.drawn_down:
            raise LibraryError(f"The weighings of batch {batch.name or batch.uid!r} were already taken from stock.")
        stamp = now()
        drawn: list[PigmentLot | CementLot] = []
        for (kind, uid), grams in _drawn(_weighings(connection, batch_uid)).items():
            lot = present(connection, kind, uid)
            if lot.stock_g is not None:
                lot = keep(connection, replace(lot, stock_g=lot.stock_g - grams), stamp)
            drawn.append(lot)
        keep(connection, replace(batch, drawn_down=True), stamp)
    return drawn


def stock_warnings(library: Library, today: date | None = None) -> list[StockWarning]:
    """What will soon run out, was counted wrongly, or is a bag that has been open for long.

    Low: below the limit the maker set, or less than two more batches like the last five would use. today: for
    the age of opened bags; None leaves these out.
    """
    with library.database.reading() as connection:
        pigments = _low(connection, PigmentRecord, PigmentLot)
        cements = _low(connection, Cement, CementLot)
        bags = _live(connection, CementLot)
    return pigments + cements + ([] if today is None else _old_bags(bags, today))


def piece_cost(library: Library, batch_uid: str) -> PieceCost:
    """Cost of pigments and cement of a batch, whole and per piece, from what was weighed, else planned."""
    with library.database.reading() as connection:
        batch = present(connection, BatchRecord, batch_uid)
        weighings = _weighings(connection, batch_uid)
        lots: dict[str, PigmentLot | CementLot] = {lot.uid: lot for lot in _live(connection, PigmentLot)}
        lots |= {lot.uid: lot for lot in _live(connection, CementLot)}
        studio = next(iter(_live(connection, Studio)), None)
    spent = {"pigments": 0.0, "cement": 0.0}
    without_price = []
    for each in weighings:
        lot = lots.get(each.pigment_lot_uid or each.cement_lot_uid or "")
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


def _live(connection: sa.Connection, kind: type[R]) -> list[R]:
    return read_records(connection, kind, TABLES[kind.KIND].c.binned_at.is_(None))


def _weighings(connection: sa.Connection, batch_uid: str) -> list[Weighing]:
    columns = TABLES["weighing"].c
    return read_records(connection, Weighing, columns.batch_uid == batch_uid, columns.binned_at.is_(None))


def _low(
    connection: sa.Connection,
    kind: type[PigmentRecord] | type[Cement],
    lot_kind: type[PigmentLot] | type[CementLot],
) -> list[StockWarning]:
    """Materials that are low, over all their lots; those with no lot of known stock are left out."""
    left: dict[str, float] = defaultdict(float)
    owner_of = {}
    for lot in _live(connection, lot_kind):
        owner = lot.pigment_uid if isinstance(lot, PigmentLot) else lot.cement_uid
        owner_of[lot.uid] = owner
        if lot.stock_g is not None:
            left[owner] += lot.stock_g
    used = _used_per_batch(connection, owner_of)
    found = []
    for material in _live(connection, kind):
        if material.uid in left:
            sentence = _sentence(material, left[material.uid], used.get(material.uid, 0.0))
            if sentence:
                found.append(StockWarning(kind.KIND, material.uid, sentence))
    return found


def _sentence(material: PigmentRecord | Cement, left_g: float, per_batch_g: float) -> str:
    if left_g < 0:
        return (
            f"{material.name}: {-left_g:.0f} g more were weighed than were in stock. "
            "Weigh what is left and correct the lot."
        )
    if material.warn_below_g is not None and left_g < material.warn_below_g:
        return f"{material.name}: {left_g:.0f} g left, below your limit of {material.warn_below_g:.0f} g."
    if per_batch_g > 0 and left_g < _BATCHES_AHEAD * per_batch_g:
        return (
            f"{material.name}: {left_g:.0f} g left, enough for {left_g / per_batch_g:.1f} more batches "
            f"(the last ones took {per_batch_g:.0f} g each)."
        )
    return ""


def _used_per_batch(connection: sa.Connection, owner_of: dict[str, str]) -> dict[str, float]:
    """Mean grams of each material in the last five batches that used it."""
    made = {batch.uid: str(batch.made_on or "") for batch in _live(connection, BatchRecord)}
    used: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for each in _live(connection, Weighing):
        owner = owner_of.get(each.pigment_lot_uid or each.cement_lot_uid or "")
        if owner and each.weighed_g:
            used[owner][each.batch_uid] += each.weighed_g
    means = {}
    for owner, per_batch in used.items():
        last = sorted(per_batch, key=lambda uid: (made.get(uid, ""), uid))[-_BATCHES_BACK:]
        means[owner] = sum(per_batch[uid] for uid in last) / len(last)
    return means


def _old_bags(lots: Iterable[CementLot], today: date) -> list[StockWarning]:
    found = []
    for lot in lots:
        days = (today - lot.opened_on).days if lot.opened_on else 0
        if days > OPENED_BAG_DAYS and (lot.stock_g is None or lot.stock_g > 0):
            found.append(
                StockWarning(
                    "cement_lot",
                    lot.uid,
                    f"Cement lot {lot.lot or lot.uid} has been open for {days} days. Opened cement ages, and "
                    "its agent against chromium VI may be spent: check the date on the bag and its safety data "
                    "sheet, and wear gloves.",
                )
            )
    return found


def _drawn(weighings: Iterable[Weighing]) -> dict[tuple[type[PigmentLot] | type[CementLot], str], float]:
    grams: dict[tuple[type[PigmentLot] | type[CementLot], str], float] = defaultdict(float)
    for each in weighings:
        if each.pigment_lot_uid:
            grams[PigmentLot, each.pigment_lot_uid] += each.weighed_g or 0.0
        elif each.cement_lot_uid:
            grams[CementLot, each.cement_lot_uid] += each.weighed_g or 0.0
    return grams
