"""What was weighed is what a piece is judged by: at demould, corrected, compared, from another bag."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from rust_tray import NOW, RUST, cast_rust, dried

from colormatch import Shade
from colormatch.bench.batch import Tone
from colormatch.errors import InputError
from colormatch.library import (
    BatchRecord,
    CementLot,
    Mould,
    Piece,
    PigmentLot,
    PigmentRecord,
    Swatch,
    Weighing,
)
from colormatch.loads import Mix
from colormatch.weighed import mix_of
from colormatch.workshop.casting import correct_lot
from colormatch.workshop.comparing import against_plan, correct_for, next_batch, other_casts, outcome
from colormatch.workshop.materials import add_bag, add_lot, add_mould
from colormatch.workshop.moulds import mould_fill
from colormatch.workshop.pieces import (
    change_conditions,
    check_fresh,
    conditions,
    demould,
    keep_shade,
    weigh,
)
from colormatch.workshop.plans import castings


def test_the_check_at_demould_is_of_what_was_weighed(studio, knowledge):
    piece = cast_rust(studio, knowledge, factor={"brick-red": 2.0})
    weighed = {"brick-red": 0.0206, "ochre": 0.008}
    fresh = Shade(knowledge.predict(weighed, "white-quick", "demould").lab, sd=0.5)
    assert check_fresh(studio, knowledge, piece, fresh).delta_e < 0.5
    assert check_fresh(studio, knowledge, piece, fresh).track == "too little known"


def test_the_correction_after_an_over_dose_is_that_of_a_recipe_planned_so(studio, knowledge):
    """Planned 1.03 %, weighed 2.06 %: the next batch is corrected as if 2.06 % had been the plan."""
    piece = dried(studio, cast_rust(studio, knowledge, days_ago=13, factor={"brick-red": 2.0}))
    keep_shade(studio, piece, Shade((52, 20, 20), sd=0.7), state="dry")
    corrected = next_batch(studio, knowledge, piece)
    assert corrected.last.loads["brick-red"] == pytest.approx(0.0206, rel=0.02)
    so_planned = correct_for(
        studio, knowledge, Mix.of("white-quick", dict(corrected.last.loads)), Shade((52, 20, 20), sd=0.7),
        Shade((60, 14, 18)), cement_g=studio.get(BatchRecord, piece.batch_uid).cement_g,
    )  # fmt: skip
    assert corrected.recipe.grams == so_planned.grams
    as_planned = correct_for(
        studio, knowledge, RUST, Shade((52, 20, 20), sd=0.7), Shade((60, 14, 18)),
        cement_g=studio.get(BatchRecord, piece.batch_uid).cement_g,
    )  # fmt: skip
    assert corrected.recipe.grams != as_planned.grams
    assert set(corrected.recipe.loads) <= {"brick-red", "ochre", "soot"}
    assert corrected.casting.title == "Rust tray, corrected"
    found = outcome(studio, knowledge, piece)
    assert "than planned was to be expected" in found.words
    assert found.off_expected < found.off_wanted + 20
    lines = {line.material: line for line in against_plan(studio, knowledge, studio.get(BatchRecord, piece.batch_uid))}
    assert lines["brick-red"].weighed_g == pytest.approx(2 * lines["brick-red"].planned_g, abs=0.1)
    assert "when dry" in lines["brick-red"].effect
    assert lines["ochre"].effect == ""


def test_two_casts_of_a_recipe_are_compared_condition_by_condition(studio, knowledge):
    first = dried(studio, cast_rust(studio, knowledge, days_ago=15, weather="dry"))
    second = dried(studio, cast_rust(studio, knowledge, days_ago=13, weather="damp"))
    assert second.recipe_uid == first.recipe_uid
    assert studio.list(Swatch)[0].uid == first.swatch_uid == second.swatch_uid
    assert len(studio.list(Swatch)) == 1  # a piece makes no swatch of its own
    keep_shade(studio, first, Shade((58, 15, 19), sd=0.7), state="dry")
    keep_shade(studio, second, Shade((62, 15, 19), sd=0.7), state="dry")
    (other,) = other_casts(studio, second)
    assert other.piece.uid == first.uid
    assert other.words.startswith("Darker")
    assert any(each == "weather: dry, here damp" for each in other.different)
    keep_shade(studio, second, Shade((58.2, 15, 19), sd=0.7), state="dry", on=date.today())
    assert conditions(second)["weather"] == "damp"


def test_conditions_are_locked_when_the_piece_is_measured(studio, knowledge):
    piece = cast_rust(studio, knowledge)
    change_conditions(studio, piece, weather="hot", temperature_c=31.0)
    piece = studio.get(Piece, piece.uid)
    assert conditions(piece)["weather"] == "hot"
    keep_shade(studio, piece, Shade((40, 15, 19), sd=0.7), state="demould")
    with pytest.raises(InputError, match="cannot be changed"):
        change_conditions(studio, studio.get(Piece, piece.uid), weather="cold")


def test_the_bag_of_a_piece_cast_already_is_corrected(studio, knowledge):
    piece = cast_rust(studio, knowledge)
    keep_shade(studio, piece, Shade((40, 15, 19), sd=0.7), state="demould")
    add_bag(studio, "Grey", like="grey-cement", stock_g=9_000, lot="G 4")
    batch = studio.get(BatchRecord, piece.batch_uid)
    stock = {lot.cement_uid: lot.stock_g for lot in studio.list(CementLot)}
    weighed = next(row.weighed_g for row in studio.list(Weighing, batch_uid=batch.uid) if row.cement_lot_uid)
    grey = next(lot for lot in studio.list(CementLot) if lot.lot == "G 4")
    correct_lot(studio, batch, "white-quick", grey)
    assert mix_of(studio, piece).mix.base == "grey"
    assert conditions(studio.get(Piece, piece.uid))["bag"] == "Grey G 4"
    left = {lot.cement_uid: lot.stock_g for lot in studio.list(CementLot)}
    assert left["grey"] == pytest.approx(9_000 - weighed)
    assert left["white-quick"] == pytest.approx(stock["white-quick"] + weighed) == pytest.approx(20_000)
    back = next(lot for lot in studio.list(CementLot) if lot.cement_uid == "white-quick")
    correct_lot(studio, batch, "grey", back)
    assert mix_of(studio, piece).mix.base == "white-quick"
    assert {lot.cement_uid: lot.stock_g for lot in studio.list(CementLot)} == pytest.approx(stock)
    with pytest.raises(InputError, match="from a bag"):
        correct_lot(studio, batch, "brick-red", grey)


def test_of_one_jar_too_and_what_is_not_counted_stays_uncounted(studio, knowledge):
    piece = cast_rust(studio, knowledge)
    batch = studio.get(BatchRecord, piece.batch_uid)
    add_lot(studio, studio.get(PigmentRecord, "brick-red"), lot="R 9")
    second = next(lot for lot in studio.list(PigmentLot) if lot.lot == "R 9")
    before = mix_of(studio, piece).mix
    correct_lot(studio, batch, "brick-red", second)
    assert mix_of(studio, piece).mix == before
    assert "R 9" in conditions(studio.get(Piece, piece.uid))["jars"]
    stock = {lot.uid == second.uid: lot.stock_g for lot in studio.list(PigmentLot, pigment_uid="brick-red")}
    assert stock == {True: None, False: 500}


def test_a_mould_learns_its_fill_from_what_comes_out_of_it(studio, knowledge):
    mould = studio.list(Mould)[0]
    tones = castings(studio)[0].tones if castings(studio) else (Tone("Rust", RUST),)
    assert mould_fill(studio, knowledge, mould, tones, 0.25).grams == 400
    piece = demould(studio, cast_rust(studio, knowledge, days_ago=1), at=NOW - timedelta(hours=20))
    weigh(studio, piece, "440", at=NOW - timedelta(hours=19))
    found = mould_fill(studio, knowledge, mould, tones, 0.25)
    assert 400 < found.grams < 440
    assert "from 1 piece" in found.words
    by_volume = add_mould(studio, "Cup", volume_ml=200)
    assert mould_fill(studio, knowledge, by_volume, tones, 0.25).grams == pytest.approx(200 * 2.19, rel=0.02)
