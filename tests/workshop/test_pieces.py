"""Pieces and their lives: times by the cement's kind, weights, not yet final, sealed, sold, found again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from rust_tray import NOW, RUST, cast_rust, dried

from colormatch import Shade
from colormatch.bench.batch import Tone
from colormatch.bench.drying import follow_drying
from colormatch.errors import InputError
from colormatch.library import (
    BatchRecord,
    Cement,
    DesignRecord,
    Piece,
    PigmentLot,
    ShadeRecord,
    Swatch,
    TileRecord,
    Weighing,
    save_draft,
)
from colormatch.loads import Mix
from colormatch.studio import learn_studio, studio_palette, studio_tiles
from colormatch.workshop.comparing import outcome
from colormatch.workshop.curing import curing_of
from colormatch.workshop.lives import casts_of
from colormatch.workshop.pieces import (
    as_standard,
    beside_what_was_mixed,
    demould,
    dry_from,
    dry_shade,
    drying,
    keep_shade,
    may_be_judged,
    ready_words,
    seal,
    sealed_state,
    sell,
    shades_of,
    stage,
    undo_piece,
    weigh,
    weights_of,
)
from colormatch.workshop.plans import Casting, castings, keep_plan, plan
from colormatch.workshop.selling import cost_words
from colormatch.workshop.shelf import shelf
from colormatch.workshop.today import find, today
from colormatch.workshop.weighing import begin_bowl, put, zeroed


def test_a_second_sealer_is_a_state_of_its_own_and_learned_as_such(studio, knowledge):
    """The first barely darkens, the second makes the piece look wet; without a name it is the usual one."""
    first, second, third = (cast_rust(studio, knowledge, days_ago=20) for _ in range(3))
    repelled = seal(studio, first, "Water repellent")
    assert keep_shade(studio, repelled, Shade((56, 15, 19), sd=0.7), state="sealed").state == "sealed"
    waxed = seal(studio, second, " Beeswax")
    assert sealed_state(studio, waxed) == "sealed:beeswax"
    assert keep_shade(studio, waxed, Shade((41, 21, 24), sd=0.7), state="sealed").state == "sealed:beeswax"
    assert sealed_state(studio, seal(studio, third, "water REPELLENT")) == "sealed"
    assert sealed_state(studio, seal(studio, third, "")) == "sealed"
    before = studio_palette(studio)
    learned, _ = learn_studio(studio)
    assert before.states == learned.states == studio_palette(studio).states
    assert learned.states[-1] == "sealed:beeswax"
    light, dark = (learned.predict(RUST.loads, RUST.base, each).lab[0] for each in ("sealed", "sealed:beeswax"))
    assert light - dark > 5
    with pytest.raises(InputError, match="one line"):
        seal(studio, third, "two\nlines")


def test_the_materials_of_a_piece_cost_what_was_weighed_and_what_has_no_price_is_named(studio, knowledge):
    piece = cast_rust(studio, knowledge)
    cement, red = (next(each for each in studio.list(Weighing, batch_uid=piece.batch_uid) if each.material == name)
                   for name in ("white-quick", "brick-red"))  # fmt: skip
    price = (cement.weighed_g * 1.2 + red.weighed_g * 9.0) / 1000
    assert cost_words(studio, piece) == f"{price:.2f} EUR, Ochre not counted: no price"
    assert cost_words(studio, studio.save(Piece(name="From a shop"))) == ""


def test_a_shade_in_a_state_that_is_none_makes_no_sealer(studio):
    red = TileRecord(cement_uid="white-quick", loads={"brick-red": 0.01})
    tile = studio.save(red)
    kept = studio.save(ShadeRecord.of(Shade((56, 15, 19)), tile_uid=tile.uid, state="sealed:wax"))
    with studio.database.writing() as connection:  # as an older version took it
        connection.exec_driver_sql("UPDATE shades SET state = 'sealed:'")
    assert studio.get(ShadeRecord, kept.uid).state == "sealed:"
    assert studio_palette(studio).states == ("wet", "demould", "sealed")


def test_a_piece_goes_through_its_life(studio, knowledge):
    piece = cast_rust(studio, knowledge, days_ago=13)
    assert stage(studio, piece, piece.cast_at + timedelta(hours=1)) == "in the mould"
    assert stage(studio, piece, piece.cast_at + timedelta(hours=5)) == "demould due"
    piece = dried(studio, piece)
    assert drying(studio, piece).verdict == "seal"
    assert stage(studio, piece) == "to be measured"
    record = keep_shade(studio, piece, Shade((58, 15, 19), sd=0.7), state="dry")
    assert record.final_from is None
    piece = studio.get(Piece, piece.uid)
    assert stage(studio, piece) == "ready to seal"
    piece = seal(studio, piece, "penetrating")
    assert stage(studio, piece) == "sealed"
    back, words = undo_piece(studio, piece)
    assert words == f"Taken back: {piece.name} sealed."
    assert stage(studio, back) == "ready to seal"
    sold = sell(studio, seal(studio, back, "penetrating"))
    assert stage(studio, sold) == "sold"
    assert studio.get(BatchRecord, piece.batch_uid).stage == "done"
    back, words = undo_piece(studio, sold)
    assert words == f"Taken back: {piece.name} sold."
    assert (stage(studio, back), studio.get(BatchRecord, piece.batch_uid).stage) == ("sealed", "cast")


def test_undo_takes_one_step_after_the_other_back_and_never_what_was_measured(studio, knowledge):
    piece = dried(studio, cast_rust(studio, knowledge, days_ago=13))
    keep_shade(studio, piece, Shade((58, 15, 19), sd=0.7), state="dry")
    piece = seal(studio, studio.get(Piece, piece.uid), "wax")
    for said in ("sealed", "out of the mould"):
        piece, words = undo_piece(studio, piece)
        assert words == f"Taken back: {piece.name} {said}."
    assert (piece.sealed_at, piece.sealer, piece.demoulded_at) == (None, "", None)
    assert piece.conditions["locked"]  # its shade still belongs to these conditions
    with pytest.raises(InputError, match="Nothing has happened"):
        undo_piece(studio, piece)


def test_of_shades_measured_on_one_day_the_last_one_counts(studio, knowledge):
    piece = dried(studio, cast_rust(studio, knowledge, days_ago=13))
    for lightness in range(50, 58):  # uids are random: by them the last one would come last once in eight
        keep_shade(studio, piece, Shade((lightness, 15, 19), sd=0.7), state="dry")
        assert dry_shade(studio, piece).lab[0] == lightness


def test_a_swatch_in_two_tones_shows_its_own_tone(studio, knowledge):
    base, (red, ochre, *_) = shelf(studio).cements[0].uid, [each.uid for each in shelf(studio).pigments]
    tones = tuple(Tone(name, Mix.of(base, {name: 0.02}), 0.5) for name in (red, ochre))
    batch = keep_plan(studio, knowledge, plan(studio, knowledge, Casting("Duo", tones)))
    design = studio.get(DesignRecord, batch.design_uid)
    swatches = [studio.save(Swatch(name=uid, recipe_uid=uid)) for uid in design.recipes]
    studio.save(replace(batch, stage="cast"))
    piece = studio.save(Piece(name="Duo", batch_uid=batch.uid))
    keep_shade(studio, piece, Shade((40, 20, 10), sd=0.7), state="dry", bowl="1")
    keep_shade(studio, studio.get(Piece, piece.uid), Shade((70, 5, 40), sd=0.7), state="dry", bowl="2")
    for swatch, lightness in zip(swatches, (40, 70), strict=True):
        (cast_of_it,) = casts_of(studio, swatch)
        assert cast_of_it.dry[piece.uid].lab[0] == lightness


@pytest.mark.parametrize(("kind", "hours", "moist"), [("quick-setting", 4, 0), ("portland", 24, 3), ("", 24, 1)])
def test_times_come_from_the_kind_of_cement(kind, hours, moist):
    found = curing_of(Cement(name="White", kind=kind))
    assert (found.demould_after_h, found.moist_days) == (hours, moist)


def test_its_sheet_comes_before_the_kind(studio, knowledge):
    studio.update(Cement, "white-quick", lambda each: replace(each, kind="portland", demould_after_h=36.0))
    piece = cast_rust(studio, knowledge)
    assert piece.demould_due_at - piece.cast_at == timedelta(hours=36)


def test_a_portland_piece_is_kept_moist_before_it_dries(studio, knowledge):
    studio.update(Cement, "white-quick", lambda each: replace(each, kind="portland"))
    piece = demould(studio, cast_rust(studio, knowledge, days_ago=2), at=NOW - timedelta(days=1))
    assert stage(studio, piece, NOW) == "kept moist"
    assert stage(studio, piece, NOW + timedelta(days=3)) == "drying"
    assert not any(need.kind == "weigh" for need in today(studio, NOW))


def test_a_shade_measured_too_early_is_kept_with_its_day_and_teaches_nothing(studio, knowledge):
    piece = demould(studio, cast_rust(studio, knowledge, days_ago=1))
    due, words = may_be_judged(studio, piece)
    assert due > date.today()
    assert "has not dried yet" in words
    record = keep_shade(studio, piece, Shade((55, 15, 19), sd=0.7), state="dry")
    assert record.final_from == due
    assert "before the piece had dried" in as_standard(record)
    assert studio_tiles(studio) == []
    keep_shade(studio, piece, Shade((40, 15, 19), sd=0.7), state="demould")
    (tile,) = studio_tiles(studio)
    assert tile.state == "demould"
    assert tile.loads["brick-red"] == pytest.approx(RUST.loads["brick-red"], rel=0.02)
    assert "before the piece had dried" in outcome(studio, knowledge, piece).too_early


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ((4.2, 5.0, 6.5), "Likely ready to seal in 2 to 4 days."),
        ((3.1, 3.4, 3.9), "Likely ready to seal by tomorrow."),
        ((4.0, 30.0, 70.0), "Too early to tell when it may be sealed."),
        ((4.0, 30.0, np.inf), "Too early to tell when it may be sealed."),
    ],
)
def test_the_days_until_it_may_be_sealed_are_told_unless_they_say_nothing(days, words):
    weighed = np.arange(4.0)
    followed = follow_drying(weighed, 380 + 18 * np.exp(-weighed / 3), scale_step_g=0.1)
    assert ready_words(replace(followed, seal_day=days, today=3.0, verdict="wait")) == words


def test_weights_as_typed_with_the_moment_checked(studio, knowledge):
    piece = demould(studio, cast_rust(studio, knowledge, days_ago=1), at=NOW - timedelta(hours=12))
    assert weigh(studio, piece, "398,4").mass_g == 398.4
    with pytest.raises(InputError, match="that minute already"):
        weigh(studio, piece, "398")
    with pytest.raises(InputError, match="still to come"):
        weigh(studio, piece, "398", at=NOW + timedelta(days=1))
    with pytest.raises(InputError, match="no number"):
        weigh(studio, piece, "heavy")
    assert len(weights_of(studio, piece)) == 1


def test_a_first_weight_far_from_what_was_mixed_is_said(studio, knowledge):
    piece = cast_rust(studio, knowledge)
    mixed = sum(each.weighed_g or 0 for each in studio.list(Weighing, batch_uid=piece.batch_uid))
    assert not beside_what_was_mixed(studio, piece, 0.9 * mixed)
    for slip in (5.0, 10 * mixed):
        assert f"{mixed:.0f} g was mixed" in beside_what_was_mixed(studio, piece, slip)


def test_today_tells_the_most_urgent_first(studio, knowledge):
    waiting = cast_rust(studio, knowledge, days_ago=1)
    dry = dried(studio, cast_rust(studio, knowledge, days_ago=13))
    planned = keep_plan(studio, knowledge, plan(studio, knowledge, castings(studio)[0]))
    half = keep_plan(studio, knowledge, plan(studio, knowledge, castings(studio)[0]))
    put(studio, knowledge, zeroed(studio, begin_bowl(studio, half)), "347")
    save_draft(studio, "match", content={"marks": []}, title="Match a shade")
    jar = studio.list(PigmentLot, pigment_uid="ochre")[0]
    studio.save(replace(jar, stock_g=2.0))
    for load in (0.01, 0.02):
        tile = studio.save(TileRecord(cement_uid="white-quick", loads={"ochre": load}))
        shade = Shade((70 - 300 * load, 5, 30), sd=0.7)
        studio.save(ShadeRecord.of(shade, tile_uid=tile.uid, state="dry", provenance={"kind": "measured"}))
        if load == 0.01:
            assert "learn" not in [need.kind for need in today(studio)]
            learn_studio(studio)
    needs = today(studio)
    assert [need.kind for need in needs] == ["weighing", "demould", "measure", "stock", "learn", "plan", "draft"]
    assert "left at step 3 of 5" in needs[0].detail
    assert needs[1].uid == waiting.uid
    assert needs[2].uid == dry.uid
    assert needs[5].uid == planned.uid
    learn_studio(studio)
    assert "learn" not in [need.kind for need in today(studio)]


def test_the_code_on_a_sheet_finds_its_batch_and_names_find_the_rest(studio, knowledge):
    piece = cast_rust(studio, knowledge)
    batch = studio.get(BatchRecord, piece.batch_uid)
    first = find(studio, f" {batch.code.lower()} ")[0]
    assert (first.kind, first.uid) == ("batch", batch.uid)
    kinds = {each.kind for each in find(studio, "rust tray")}
    assert kinds == {"batch", "piece", "swatch"}
    assert [each.kind for each in find(studio, "ochre")] == ["pigment"]
    assert find(studio, "  ") == []


def test_a_piece_sealed_before_its_age_is_not_called_dry(studio, knowledge):
    studio.update(Cement, "white-quick", lambda each: replace(each, kind="other", seal_after_days=60.0))
    piece = dried(studio, cast_rust(studio, knowledge, days_ago=13))
    assert drying(studio, piece).verdict == "seal"
    assert dry_from(studio, piece) is None
    assert stage(studio, piece) == "drying"
    assert shades_of(studio, piece) == []
