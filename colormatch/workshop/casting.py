"""From weighed bowls to pieces: the weighings kept, the pieces named and dated, the stock taken, all or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from ..bench.bowl import WATER, weighing_order
from ..errors import InputError
from ..library import (
    BatchRecord,
    CementLot,
    Library,
    Piece,
    PigmentLot,
    Swatch,
    Weighing,
    bags_and_jars,
    drawn,
    new_uid,
)
from ..naming import LONGEST_NAME
from ..weighed import ADDITIVE
from .curing import curing
from .pieces import past, pieces_of
from .shelf import material_names, shelf
from .weighing import Weighing as AtTheScale
from .weighing import bowls_begun, put_by


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What the maker may say of a casting; everything may be left out."""

    weather: str = ""
    temperature_c: float | None = None
    humidity_percent: float | None = None
    mould_finish: str = ""
    notes: str = ""


def cast(
    library: Library,
    batch: BatchRecord,
    *,
    circumstances: Circumstances | None = None,
    at: datetime | None = None,
    take_from_stock: bool = True,
) -> list[Piece]:
    """The bowls are weighed and poured: the weighings, the pieces with their names and times, and the stock.

    All in one transaction. Raises InputError while a bowl is not done; a batch cast already gives its pieces.
    """
    batch = library.get(BatchRecord, batch.uid)
    if batch.stage in ("cast", "done"):
        return pieces_of(library, batch)
    bowls = bowls_begun(library, batch)
    for bowl in bowls:
        if not bowl.state.done:
            raise InputError(f"Bowl {bowl.number} of {batch.name} is not weighed to its end; go on with it first.")
    said, moment = circumstances or Circumstances(), past(at)
    weighings = [row for bowl in bowls for row in _weighings(library, batch, bowl)]
    pieces = _new_pieces(library, batch, bowls, weighings, said, moment)
    poured = replace(batch, stage="cast", drawn_down=take_from_stock, made_on=moment.astimezone().date(),
                     content={**batch.content, "weather": said.weather})  # fmt: skip
    lots = drawn(library, weighings) if take_from_stock else []
    library.save_all([poured, *weighings, *pieces, *lots])
    for bowl in bowls:
        put_by(library, bowl)
    return pieces_of(library, batch)


def correct_lot(library: Library, batch: BatchRecord, material: str, lot: CementLot | PigmentLot) -> None:
    """What was noted as `material` was weighed from this bag or jar: weighings, pieces and stock say so from now.

    Also once a piece was measured: its shade then teaches the other bag. InputError where the batch has no such thing.
    """
    rows, field = library.list(Weighing, batch_uid=batch.uid), f"{lot.KIND}_uid"
    old = [row for row in rows if row.material == material and getattr(row, field)]
    if not old:
        what = "bag" if isinstance(lot, CementLot) else "jar"
        raise InputError(f"No {material!r} was weighed into {batch.name} from a {what}; choose something that was.")
    new = [replace(row, material=lot.material_uid, **{field: lot.uid}) for row in old]  # type: ignore[arg-type]
    noted = _lots_noted(library, [row for row in rows if row not in old] + new)
    pieces = [replace(each, conditions={**each.conditions, **noted}) for each in pieces_of(library, batch)]
    stock = drawn(library, new, back=old) if library.get(BatchRecord, batch.uid).drawn_down else []
    library.save_all([*new, *pieces, *stock])


def _weighings(library: Library, batch: BatchRecord, bowl: AtTheScale) -> list[Weighing]:
    """What went into one bowl beside what was planned, in the order of weighing, from the lots in use."""
    state, here = bowl.state, shelf(library)
    lots = {each.uid: each.lots[0].uid for each in (*here.cements, *here.pigments) if each.lots} | dict(bowl.lots)
    cements = {lot.uid for lot in library.list(CementLot)}
    planned = {state.sheet.base: state.sheet.cement_g, **state.sheet.pigments_g, WATER: state.sheet.water_most_g}
    last = {each.material: each.at for each in state.entries if each.done == "weighed"}
    order = [step.material for step in weighing_order(state.sheet, state.preblend)]
    rows = []
    for place, material in enumerate([*order, *(name for name in state.inside if name not in order)], start=1):
        lot = lots.get(material)
        rows.append(
            Weighing(
                uid=new_uid(),
                batch_uid=batch.uid,
                material=material,
                bowl=str(bowl.number),
                step=place,
                cement_lot_uid=lot if lot in cements else None,
                pigment_lot_uid=lot if lot and lot not in cements else None,
                planned_g=planned.get(material),
                weighed_g=state.inside.get(material, 0.0),
                weighed_at=datetime.fromisoformat(last[material]) if material in last else None,
                notes="with what a pre-blend 1:9 brought" if material in state.preblend else "",
            )
        )
    if bowl.additive:
        rows.append(
            Weighing(uid=new_uid(), batch_uid=batch.uid, material=ADDITIVE, bowl=str(bowl.number),
                     step=len(rows) + 1, notes=bowl.additive)
        )  # fmt: skip
    return rows


def _new_pieces(
    library: Library, batch: BatchRecord, bowls: Sequence[AtTheScale], weighings: Sequence[Weighing],
    said: Circumstances, moment: datetime,
) -> list[Piece]:  # fmt: skip
    base = bowls[0].state.sheet.base
    times = curing(library, base)
    count = batch.pieces or 1
    water = sum(bowl.state.inside.get(WATER, 0.0) for bowl in bowls)
    cement = sum(bowl.state.inside[bowl.state.sheet.base] for bowl in bowls)
    swatch = next(iter(library.list(Swatch, recipe_uid=batch.recipe_uid)), None) if batch.recipe_uid else None
    return [
        Piece(
            uid=new_uid(),
            name=batch.name if count == 1 else _numbered(batch.name, number, count),
            batch_uid=batch.uid,
            swatch_uid=swatch.uid if swatch else None,
            recipe_uid=batch.recipe_uid,
            bowl="1" if len(bowls) == 1 else "",
            cast_at=moment,
            demould_due_at=times.demould_due(moment),
            mould_finish=said.mould_finish,
            water_per_cement=round(water / cement, 6) if water else None,
            temperature_c=said.temperature_c,
            humidity_percent=said.humidity_percent,
            conditions=_conditions(library, bowls, weighings, said),
            notes=said.notes,
        )
        for number in range(1, count + 1)
    ]


def _numbered(name: str, number: int, count: int) -> str:
    """`Tray, 2 of 3`; a very long name is cut before it."""
    end = f", {number} of {count}"
    return f"{name[: LONGEST_NAME - len(end)]}{end}"


def _conditions(
    library: Library, bowls: Sequence[AtTheScale], weighings: Sequence[Weighing], said: Circumstances
) -> dict[str, str]:
    additives = ", ".join(dict.fromkeys(bowl.additive for bowl in bowls if bowl.additive))
    noted = {**_lots_noted(library, weighings), "additive": additives, "weather": said.weather}
    return {name: words for name, words in noted.items() if words}


def _lots_noted(library: Library, weighings: Sequence[Weighing]) -> dict[str, str]:
    """From which bags and jars it was weighed, in words."""
    lots = bags_and_jars(library)
    named = material_names(library)
    found: dict[str, list[str]] = {"bag": [], "jars": []}
    for row in weighings:
        lot = lots.get(row.lot_uid)
        if lot is not None:
            told = lot.lot or (f"of {lot.bought_on:%d.%m.%Y}" if lot.bought_on else "")
            words = f"{named.get(row.material, row.material)} {told}".strip()
            found["bag" if isinstance(lot, CementLot) else "jars"].append(words)
    return {name: ", ".join(dict.fromkeys(words)) for name, words in found.items() if words}
