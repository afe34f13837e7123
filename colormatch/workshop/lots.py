"""A new bag or jar under an old name: asked when learning finds one, accepted in one step, taken back in one.

Accepted, it is a material of its own that starts from what is known of the old one; its tiles and weighings are then
of it, and one blank (of a jar: one tint) tells how it differs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..errors import InputError
from ..library import (
    Cement,
    CementLot,
    InUseError,
    Library,
    Piece,
    PigmentLot,
    PigmentRecord,
    Record,
    TileRecord,
    Weighing,
    bags_and_jars,
    draft,
    drop_draft,
    save_draft,
)
from ..loads import TINT_LOAD
from .materials import as_new_material, lot_of, used_up
from .shelf import defaults, set_defaults
from .tile_list import added, tile_list

if TYPE_CHECKING:
    from ..learning import Report

ASKED = "lots"
Lot = Cement | PigmentRecord


@dataclass(frozen=True, slots=True)
class Question:
    """Is `name` of a new bag (kind "bag") or jar ("jar") since these pieces? words: the question as it is asked."""

    kind: str
    name: str
    pieces: tuple[str, ...]
    words: str


def keep_questions(library: Library, report: Report, label: Callable[[str], str]) -> None:
    """What the latest learning asks, until it is answered or another learning asks otherwise."""
    questions = [
        {
            "kind": lot.kind,
            "name": lot.name,
            "pieces": [report.tiles[place].tile.piece for place in lot.places],
            "words": lot.text(label),
        }
        for lot in report.lots
    ]
    there = draft(library, ASKED)
    if questions:
        save_draft(library, ASKED, content={"questions": questions}, seen=there, title="A new bag or jar?")
    elif there is not None:
        drop_draft(library, there)


def questions(library: Library) -> list[Question]:
    """What is asked and not answered yet."""
    there = draft(library, ASKED)
    asked = [] if there is None else there.content["questions"]
    return [Question(each["kind"], each["name"], tuple(filter(None, each["pieces"])), each["words"]) for each in asked]


def accept(library: Library, question: Question) -> Lot:
    """It is a new one: a material of its own, with the tiles and weighings in question; the material made.

    A blank of a new bag, a tint of a new jar, is put on the cast list where none was cast. Learn after it.
    """
    kind: type[Lot] = Cement if question.kind == "bag" else PigmentRecord
    old = library.find_one(kind, question.name)
    if old is None:
        raise InputError(f"{question.name!r} is not among your materials any more; learn again from all tiles.")
    usual = defaults(library).cement_uid == old.uid
    new = as_new_material(library, old)
    lot = lot_of(new)
    tiles = [each for each in library.list(TileRecord) if each.uid in question.pieces]
    pieces = [each for each in library.list(Piece) if any(uid.startswith(each.uid) for uid in question.pieces)]
    batches = {each.batch_uid for each in pieces}
    material_of = {each.uid: each.material_uid for each in bags_and_jars(library).values()}
    weighed = [row for row in library.list(Weighing, batch_uid=list(batches))
               if material_of.get(row.lot_uid, row.material) == old.uid]  # fmt: skip
    library.save_all([new, lot, *(_moved(each, old.uid, new.uid, lot.uid) for each in tiles),
                      *(_weighed_from(row, kind, new.uid, lot.uid) for row in weighed)])  # fmt: skip
    if usual:
        set_defaults(library, cement_uid=new.uid)
    _put_on_list(library, new, tiles)
    there = draft(library, ASKED)
    if there is not None:
        left = [each for each in there.content["questions"] if each["name"] != question.name]
        save_draft(library, ASKED, content={"questions": left}, seen=there, title=there.title)
    return library.get(kind, new.uid)


def new_lots(library: Library) -> list[tuple[Lot, Lot]]:
    """Bags and jars that began from another of hers, each with that other, as far as they are on the shelf."""
    found: list[tuple[Lot, Lot]] = []
    for own in (_by_uid(library, Cement), _by_uid(library, PigmentRecord)):
        found += [(each, own[old]) for each in own.values() if (old := each.like) in own and old != each.uid]
    return [pair for pair in found if any(lot.used_up_on is None for lot in _lots(library, pair[0]))]


def take_back(library: Library, new: Lot) -> None:
    """It was the old one after all: its tiles and weighings are the old one's again. Learn after it."""
    old, lots = new.like, list(_lots(library, new))
    uids = {lot.uid for lot in lots}
    tiles = [each for each in library.list(TileRecord) if each.cement_uid == new.uid or new.uid in each.loads]
    weighed = [row for row in library.list(Weighing) if row.lot_uid in uids]
    library.save_all([*(_moved(each, new.uid, old, None) for each in tiles),
                      *(_weighed_from(row, type(new), old, None) for row in weighed)])  # fmt: skip
    if defaults(library).cement_uid == new.uid:
        set_defaults(library, cement_uid=old)
    listed = tile_list(library)
    if listed is not None and listed.base == new.uid and listed.draft is not None:
        drop_draft(library, listed.draft)
    try:
        library.delete(new)
    except InUseError:  # a recipe or a casting keeps it; it is off the shelf then
        for lot in lots:
            used_up(library, lot)


def _by_uid(library: Library, kind: type[Lot]) -> dict[str, Lot]:
    return {each.uid: each for each in library.list(kind)}


def _lots(library: Library, material: Lot) -> Iterable[CementLot | PigmentLot]:
    return (lot for lot in bags_and_jars(library).values() if lot.material_uid == material.uid)


def _moved(tile: TileRecord, old: str, new: str, lot: str | None) -> Record:
    if tile.cement_uid == old:
        return replace(tile, cement_uid=new, cement_lot_uid=lot)
    return replace(tile, loads={new if name == old else name: load for name, load in tile.loads.items()})


def _weighed_from(row: Weighing, kind: type[Lot], material: str, lot: str | None) -> Record:
    if kind is Cement:
        return replace(row, material=material, cement_lot_uid=lot)
    return replace(row, material=material, pigment_lot_uid=lot)


def _put_on_list(library: Library, new: Lot, tiles: Iterable[TileRecord]) -> None:
    """One tile of it to cast, if none in question is one; not on a list of another cement, which is in work."""
    alone = [each for each in tiles if not any(each.loads.values())] if isinstance(new, Cement) else [*tiles]
    base = new.uid if isinstance(new, Cement) else defaults(library).cement_uid
    listed = tile_list(library)
    if alone or base is None or (listed is not None and listed.tiles and listed.base != base):
        return
    on = listed if listed is not None and listed.base == base else None
    added(library, on, base, {} if isinstance(new, Cement) else {new.uid: TINT_LOAD * (on.cement_g if on else 100.0)})
