"""A new bag under the old name: asked, accepted in one step, one blank mends it, taken back in one."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from colormatch import Shade
from colormatch.difference import delta_e_2000
from colormatch.library import (
    BatchRecord,
    Cement,
    DiskFullError,
    Piece,
    PigmentRecord,
    ShadeRecord,
    TileRecord,
    Weighing,
    writing,
)
from colormatch.studio import MEASURED, studio_palette
from colormatch.workshop.learned import learn
from colormatch.workshop.lots import Question, accept, new_lots, questions, take_back
from colormatch.workshop.shelf import defaults, shelf
from colormatch.workshop.tile_list import tile_list
from colormatch.workshop.today import today

LADDER = ({}, {}, {"brick-red": 0.01}, {"brick-red": 0.04}, {"ochre": 0.01}, {"ochre": 0.04}, {"soot": 0.02})
MIX = {"brick-red": 0.02, "ochre": 0.01}


def measured(library, loads, lab, on=date(2026, 11, 20)):
    tile = library.save(TileRecord(cement_uid="white-quick", loads=loads))
    shade, provenance = Shade(lab, sd=0.3), {"kind": MEASURED}
    library.save(ShadeRecord.of(shade, tile_uid=tile.uid, state="dry", measured_on=on, provenance=provenance))
    return tile


@pytest.fixture
def season(studio):
    """Seven tiles of the old bag, then a blank of one that absorbs more; with what the new bag's mix looks like."""
    known = studio_palette(studio)
    rng = np.random.default_rng(3)
    for day, loads in enumerate(LADDER, start=1):
        lab = known.predict(loads, "white-quick").lab + rng.normal(0, 0.3, 3)
        measured(studio, loads, lab, date(2026, 10, day))
    dark = known.predict({"soot": 0.0006}, "white-quick").lab
    return studio, [measured(studio, {}, dark), measured(studio, {}, dark + 0.2)]


def test_one_press_makes_the_bag_and_one_blank_mends_it(season):
    studio, blanks = season
    learn(studio)
    (question,) = questions(studio)
    assert (question.kind, question.name) == ("bag", "white-quick")
    assert set(question.pieces) == {each.uid for each in blanks}
    assert any(need.kind == "lot" and "new bag of White, quick?" in need.words for need in today(studio))
    new = accept(studio, question)
    learn(studio)
    assert questions(studio) == []
    assert {each.cement_uid for each in studio.list(TileRecord)} == {"white-quick", new.uid}
    assert defaults(studio).cement_uid == new.uid
    assert tile_list(studio) is None  # two blanks of it were cast already
    known = studio_palette(studio)
    (blank,) = {tuple(np.round(each.lab, 1)) for each in studio.list(ShadeRecord, tile_uid=blanks[0].uid)}
    assert delta_e_2000(known.predict({}, new.uid).lab, np.array(blank)) < 1.2
    assert known.predict(MIX, new.uid).lab[0] < known.predict(MIX, "white-quick").lab[0] - 1


def test_taken_back_everything_is_the_old_bags_again(season):
    studio, blanks = season
    question = Question("bag", "white-quick", tuple(each.uid for each in blanks), "")
    new = accept(studio, question)
    assert [(one.uid, old.uid) for one, old in new_lots(studio)] == [(new.uid, "white-quick")]
    take_back(studio, new)
    assert {each.cement_uid for each in studio.list(TileRecord)} == {"white-quick"}
    assert [each.uid for each in studio.list(Cement)] == ["white-quick"]
    assert defaults(studio).cement_uid == "white-quick"
    assert new_lots(studio) == []


def test_what_cannot_be_kept_whole_makes_no_bag_without_its_tiles(season, monkeypatch):
    studio, blanks = season
    written = []

    def full(connection, record, stamp):
        written.append(record)
        if len(written) == 3:  # the bag and its lot are in, its first tile is not
            raise DiskFullError("The disk is full.")
        return keep(connection, record, stamp)

    keep = writing.keep
    monkeypatch.setattr(writing, "keep", full)
    with pytest.raises(DiskFullError, match="The disk is full"):
        accept(studio, Question("bag", "white-quick", tuple(each.uid for each in blanks), ""))
    assert [each.uid for each in studio.list(Cement)] == ["white-quick"]


def test_without_a_blank_of_it_one_is_put_on_the_cast_list(season):
    studio, _ = season
    tinted = measured(studio, {"ochre": 0.01}, (70, 5, 30))
    new = accept(studio, Question("bag", "white-quick", (tinted.uid,), ""))
    listed = tile_list(studio)
    assert listed is not None
    assert listed.base == new.uid
    assert [dict(each.grams) for each in listed.tiles] == [{}]


def test_a_new_jar_starts_from_what_is_known_of_the_old_one(season):
    studio, _ = season
    tinted = measured(studio, {"ochre": 0.02, "soot": 0.01}, (50, 5, 30))
    new = accept(studio, Question("jar", "ochre", (tinted.uid,), ""))
    assert studio.get(PigmentRecord, new.uid).like == "ochre"
    assert dict(studio.get(TileRecord, tinted.uid).loads) == {new.uid: 0.02, "soot": 0.01}
    assert new.uid in {each.uid for each in shelf(studio).pigments}
    learn(studio)
    known = studio_palette(studio)
    assert (
        delta_e_2000(
            known.predict({new.uid: 0.02}, "white-quick").lab, known.predict({"ochre": 0.02}, "white-quick").lab
        )
        < 8
    )
    assert known.predict({new.uid: 0.02}, "white-quick").sd > known.predict({"ochre": 0.02}, "white-quick").sd


def test_what_was_weighed_of_no_jar_in_particular_goes_to_the_new_one_and_back(season):
    """A jar has a lot of its own only once its stock was noted."""
    studio, _ = season
    batch = studio.save(BatchRecord(name="Trays", stage="cast"))
    piece = studio.save(Piece(name="Tray", batch_uid=batch.uid))
    row = studio.save(Weighing(batch_uid=batch.uid, material="ochre", weighed_g=4.0))
    new = accept(studio, Question("jar", "ochre", (f"{piece.uid}:dry",), ""))
    moved = studio.get(Weighing, row.uid)
    assert moved.material == new.uid
    assert moved.pigment_lot_uid is not None
    assert moved.cement_lot_uid is None
    take_back(studio, new)
    assert studio.get(Weighing, row.uid).material == "ochre"
    assert studio.get(Weighing, row.uid).lot_uid == ""
