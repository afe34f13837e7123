"""Over time: the dry shades of a recipe's pieces in order, and the defects of every batch with its circumstances."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from ..bench.defects import DEFECTS, CastRecord, defect
from ..library import BatchRecord, DefectRecord, Library, Mould, Piece, RecipeRecord, ShadeRecord, Swatch
from ..shade import Shade
from ..studio import MEASURED
from ..weighed import bowls_of
from .pieces import is_final

CIRCUMSTANCES = ("recipe", "mould", "month", "water", "weather")


@dataclass(frozen=True, slots=True)
class Series:
    """The measured dry shades of one recipe, oldest first; too_early: how many were left out as not yet final."""

    recipe: RecipeRecord
    names: tuple[str, ...]
    shades: tuple[Shade, ...]
    too_early: int


def dry_series(library: Library) -> list[Series]:
    """Every recipe of which dry pieces were measured, the longest series first."""
    recipes = {each.uid: each for each in library.list(RecipeRecord)}
    swatches = {each.uid: each for each in library.list(Swatch)}
    pieces = {each.uid: each for each in library.list(Piece)}
    found: dict[str, list[tuple[date, str, Shade]]] = {}
    early: Counter[str] = Counter()
    for record in library.list(ShadeRecord, state="dry"):
        if record.provenance.get("kind") != MEASURED:
            continue
        piece, swatch = pieces.get(record.piece_uid or ""), swatches.get(record.swatch_uid or "")
        owner = piece or swatch
        if owner is None or owner.recipe_uid not in recipes:
            continue
        if not is_final(record):
            early[owner.recipe_uid] += 1
            continue
        cast = piece.cast_at.astimezone().date() if piece and piece.cast_at else swatch.made_on if swatch else None
        day = cast or record.measured_on or date.min
        found.setdefault(owner.recipe_uid, []).append((day, owner.name, record.shade()))
    ordered = {uid: sorted(each, key=lambda one: (one[0], one[1])) for uid, each in found.items()}
    return [
        Series(recipes[uid], tuple(name for _, name, _ in each), tuple(shade for _, _, shade in each), early[uid])
        for uid, each in sorted(ordered.items(), key=lambda item: -len(item[1]))
    ]


def note_defect(library: Library, batch: BatchRecord, word: str, pieces: int = 1, notes: str = "") -> None:
    """So many pieces of a batch have a defect (its word in bench.defects); raises UnknownNameError."""
    known = defect(word)
    seen = [
        DefectRecord(name=known.word, batch_uid=batch.uid, seen_on=date.today(), notes=notes) for _ in range(pieces)
    ]
    library.save_all(seen)


def cast_records(library: Library) -> list[CastRecord]:
    """Every batch with its defects and what was recorded of its circumstances, for bench.defects.count_defects."""
    recipes = {each.uid: each.name for each in library.list(RecipeRecord)}
    moulds = {each.uid: each.name for each in library.list(Mould)}
    weather = {each.batch_uid: str(each.conditions.get("weather", "")) for each in library.list(Piece)}
    seen = Counter((each.batch_uid, each.name) for each in library.list(DefectRecord))
    return [
        CastRecord(
            pieces=batch.pieces or 1,
            defects={word: min(seen[batch.uid, word], batch.pieces or 1) for word in DEFECTS if seen[batch.uid, word]},
            circumstances={
                "recipe": recipes.get(batch.recipe_uid or "", ""),
                "mould": moulds.get(batch.mould_uid or "", ""),
                "month": f"{batch.made_on:%B}" if batch.made_on else "",
                "water": _water(library, batch),
                "weather": weather.get(batch.uid) or str(batch.content.get("weather", "")),
            },
        )
        for batch in library.list(BatchRecord)
        if batch.stage not in ("planned", "weighing")
    ]


def _water(library: Library, batch: BatchRecord) -> str:
    """Water as it was weighed, to the nearest gram on 100 g of cement; else as it was noted."""
    wet = [each.water_per_cement for each in bowls_of(library, batch) if each.water_per_cement is not None]
    return f"{100 * sum(wet) / len(wet):.0f} g to 100 g" if wet else str(batch.content.get("water", ""))
