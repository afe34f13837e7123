"""Over time: which shades are a recipe's series, and what is counted of defects."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from colormatch import Shade
from colormatch.bench.defects import count_defects
from colormatch.errors import UnknownNameError
from colormatch.library import BatchRecord, Piece, RecipeRecord, ShadeRecord, Swatch, Weighing
from colormatch.studio import MEASURED
from colormatch.workshop.over_time import cast_records, dry_series, note_defect


@pytest.fixture
def rust(studio):
    recipe = studio.save(RecipeRecord(name="Rust", cement_uid="white-quick", loads={"ochre": 0.01}))
    swatch = studio.save(Swatch(name="Rust tray", recipe_uid=recipe.uid, made_on=date(2026, 11, 1)))
    return recipe, swatch


def measured(library, lab, **fields):
    library.save(ShadeRecord.of(Shade(lab, sd=0.7), state="dry", provenance={"kind": MEASURED}, **fields))


def test_a_series_is_of_pieces_and_older_swatches_in_time_without_what_is_not_final(studio, rust):
    recipe, swatch = rust
    measured(studio, (60, 10, 20), swatch_uid=swatch.uid, measured_on=date(2026, 11, 9))
    for day, lab, final in ((17, (61, 10, 20), None), (20, (55, 10, 20), date(2026, 11, 29))):
        piece = studio.save(
            Piece(name=f"Tray {day}", recipe_uid=recipe.uid, cast_at=datetime(2026, 11, day, 12, tzinfo=UTC))
        )
        measured(studio, lab, piece_uid=piece.uid, measured_on=date(2026, 11, day), final_from=final)
    (series,) = dry_series(studio)
    assert series.recipe.uid == recipe.uid
    assert series.names == ("Rust tray", "Tray 17")
    assert [shade.lab[0] for shade in series.shades] == [60, 61]
    assert series.too_early == 1


def test_defects_are_counted_against_circumstances_as_they_were_weighed(studio, rust):
    recipe, _ = rust
    for number, (water, seen) in enumerate(((26.0, 3), (33.0, 0))):
        batch = studio.save(
            BatchRecord(name=f"b{number}", recipe_uid=recipe.uid, pieces=4, stage="cast", made_on=date(2026, 11, 3))
        )
        for material, grams in (("white-quick", 100.0), ("ochre", 1.0), ("water", water)):
            studio.save(Weighing(batch_uid=batch.uid, material=material, bowl="1", weighed_g=grams))
        if seen:
            note_defect(studio, batch, "bubbles", seen)
    studio.save(BatchRecord(name="planned", recipe_uid=recipe.uid, pieces=9, stage="planned"))
    counted = {
        each.value: (each.with_defect, each.pieces) for each in count_defects(cast_records(studio), "bubbles", "water")
    }
    assert counted == {"26 g to 100 g": (3, 4), "33 g to 100 g": (0, 4)}
    with pytest.raises(UnknownNameError, match="There is no defect called 'wobbles'"):
        note_defect(studio, batch, "wobbles")
