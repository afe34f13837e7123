"""At the bowl, kept in the library: the maker's loop from plan to pieces, plan and deed side by side."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from colormatch import Shade
from colormatch.bench.batch import Tone
from colormatch.bench.sheet_html import sheet_html
from colormatch.errors import InputError
from colormatch.library import (
    BatchRecord,
    Cement,
    ConflictError,
    Draft,
    PigmentLot,
    RecipeRecord,
    Swatch,
    Weighing,
    draft,
    open_library,
)
from colormatch.loads import Mix
from colormatch.studio import studio_palette
from colormatch.weighed import bowls_of, mix_of
from colormatch.workshop.casting import Circumstances, cast
from colormatch.workshop.numbers import Question
from colormatch.workshop.plans import Casting, batch_sheet, casting_of, castings, keep_plan, plan, plan_of, throw_away
from colormatch.workshop.weighing import (
    BOWL,
    add_water,
    begin_bowl,
    bowls_begun,
    correct,
    effect,
    enough,
    note_additive,
    put,
    put_sure,
    settle,
    slip_of,
    start_again,
    step_words,
    undo,
    water_question,
    zeroed,
)

RUST = Mix.of("white-quick", {"brick-red": 0.018, "ochre": 0.008})


@pytest.fixture
def batch(studio, knowledge):
    casting = Casting("Rust tray", (Tone("Rust", RUST),), wanted=Shade((52, 18, 20), sd=0.7))
    return keep_plan(studio, knowledge, plan(studio, knowledge, casting, pieces=2))


def follow(library, knowledge, weighing):
    """What is asked for, typed as the scale shows it."""
    while not weighing.state.done:
        step = weighing.step
        if step.kind == "zero":
            weighing = zeroed(library, weighing)
        else:
            weighing = put(library, knowledge, weighing, f"{step.grams:g}".replace(".", ","))
            assert not isinstance(weighing, Question)
    return weighing


def test_a_plan_starts_from_the_studio_and_is_kept_with_a_code_and_its_recipe(studio, knowledge, batch):
    assert batch.stage == "planned"
    assert len(batch.code) == 6
    assert batch.name.startswith("Rust tray, ")
    recipe = studio.get(RecipeRecord, batch.recipe_uid)
    assert recipe.wanted_lab == (52, 18, 20)
    assert [each.name for each in studio.list(Swatch, recipe_uid=recipe.uid)] == ["Rust tray"]
    kept = plan_of(batch)
    assert kept.batch.total_g == pytest.approx(2 * 400 * 1.1, abs=1.1)
    again = plan(studio, knowledge, casting_of(studio, recipe), pieces=2).batch
    assert kept.batch.bowls[0].pigments_g == again.bowls[0].pigments_g
    assert kept.batch.per_piece() == again.per_piece()
    html = sheet_html(batch_sheet(studio, knowledge, batch))
    assert batch.code in html
    assert "Brick red" in html


@pytest.mark.parametrize(("kind", "own", "said"), [
    ("quick-setting", None, False), ("portland", None, True), ("portland", 0.4, False),
])  # fmt: skip
def test_the_sheet_of_a_portland_says_that_it_takes_more_water(studio, knowledge, kind, own, said):
    """Unless her own number is above what a quick-setting cement takes (common practice, no source)."""
    studio.save(replace(studio.get(Cement, "white-quick"), kind=kind))
    casting = Casting("Pale", (Tone("Pale", Mix.of("white-quick", {"brick-red": 0.01})),))
    planned = plan(studio, knowledge, casting, cement_g=600, water_per_cement=own)
    sheet = batch_sheet(studio, knowledge, keep_plan(studio, knowledge, planned))
    assert ("Portland takes more" in sheet_html(sheet)) == said


def test_a_second_plan_of_the_day_has_another_name_and_code(studio, knowledge, batch):
    again = keep_plan(studio, knowledge, plan(studio, knowledge, castings(studio)[0], pieces=2))
    assert again.name == f"{batch.name}, second"
    assert again.code != batch.code
    assert again.recipe_uid == batch.recipe_uid


def test_a_plan_without_mould_says_so(library):
    bare = Casting("Bare", (Tone("Bare", Mix.of("white-cement", {})),))
    with pytest.raises(InputError, match="Choose a mould"):
        plan(library, studio_palette(library), bare)


def test_small_doses_are_named_with_their_pre_blend(studio, knowledge):
    casting = Casting("Pale", (Tone("Pale", Mix.of("white-quick", {"brick-red": 0.01, "soot": 0.0011})),))
    planned = plan(studio, knowledge, casting, cement_g=600)
    assert [dose.pigment for dose in planned.small] == ["soot"]
    assert "6.6 g of a pre-blend" in planned.small[0].words
    finer = plan(studio, knowledge, casting, cement_g=600, preblend=["soot"])
    assert finer.small == ()
    assert finer.batch.bowls[0].pigments_g["soot"] == pytest.approx(0.66)
    batch = keep_plan(studio, knowledge, finer)
    done = follow(studio, knowledge, begin_bowl(studio, batch))
    assert done.state.inside["soot"] == pytest.approx(0.66)
    assert done.state.inside["white-quick"] == pytest.approx(600, abs=0.6)
    assert "pre-blend" in sheet_html(batch_sheet(studio, knowledge, batch))


def test_every_reading_is_there_on_another_device_at_once(studio, knowledge, batch, tmp_path):
    weighing = zeroed(studio, begin_bowl(studio, batch, device="phone"))
    weighing = put(studio, knowledge, weighing, "690")
    with open_library(tmp_path / "studio") as other:
        there = begin_bowl(other, other.get(BatchRecord, batch.uid), device="laptop")
        assert there.state.inside == {"white-quick": 690.0}
        assert there.place == (3, 5)
        assert there.seen.device == "phone"
    assert studio.get(BatchRecord, batch.uid).stage == "weighing"


def test_two_devices_never_overwrite_each_other(studio, knowledge, batch):
    first = zeroed(studio, begin_bowl(studio, batch, device="phone"))
    second = begin_bowl(studio, batch, device="laptop")
    put(studio, knowledge, first, "690")
    with pytest.raises(ConflictError, match="changed by someone else"):
        put(studio, knowledge, second, "600")
    with pytest.raises(ConflictError, match="Another device has changed this bowl"):
        undo(studio, knowledge, second)
    assert begin_bowl(studio, batch).state.inside == {"white-quick": 690.0}


@pytest.mark.parametrize("text", ["abc", "", "-3", "0"])
def test_what_is_no_weight_is_refused_and_nothing_is_kept(studio, knowledge, batch, text):
    weighing = zeroed(studio, begin_bowl(studio, batch))
    with pytest.raises(InputError, match="weight of White, quick"):
        put(studio, knowledge, weighing, text)
    assert not begin_bowl(studio, batch).begun


def test_an_untared_reading_is_asked_about(studio, knowledge, batch):
    weighing = put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "690")
    asked = put(studio, knowledge, weighing, "702,4")
    assert isinstance(asked, Question)
    assert asked.choices[0].value == pytest.approx(12.4)
    assert "not zeroed" in asked.words
    after = put_sure(studio, weighing, asked.choices[0].value, typed="702,4")
    assert after.state.inside["brick-red"] == pytest.approx(12.4)


def test_a_bowl_weighed_in_with_the_cement_is_asked_about(studio, knowledge, batch):
    weighing = zeroed(studio, begin_bowl(studio, batch))
    asked = put(studio, knowledge, weighing, "1380")
    assert isinstance(asked, Question)
    assert "zeroed" in asked.words


def test_1_comma_250_is_asked_about(studio, knowledge, batch):
    weighing = zeroed(studio, begin_bowl(studio, batch))
    asked = put(studio, knowledge, weighing, "1,250")
    assert isinstance(asked, Question)
    assert [choice.value for choice in asked.choices] == [1.25, 1250.0, None]


def test_over_and_under_say_what_they_do_to_the_dry_shade(studio, knowledge, batch):
    weighing = put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "690")
    weighing = put(studio, knowledge, weighing, "13,6")
    answer = slip_of(knowledge, weighing)
    assert answer is not None
    found = effect(knowledge, weighing)
    assert found.words.startswith("Dry, that is")
    weighing = settle(studio, weighing, answer, correct=False)
    assert slip_of(knowledge, weighing) is None
    weighing = put(studio, knowledge, weighing, "4,0")
    assert weighing.step.material == "ochre"
    weighing = enough(studio, weighing)
    assert weighing.step.kind == "water"


def test_an_earlier_weight_is_corrected_at_any_later_step(studio, knowledge, batch):
    weighing = put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "690")
    weighing = put(studio, knowledge, weighing, "12,4")
    place = next(i for i, each in enumerate(weighing.state.entries) if each.material == "white-quick")
    weighing = correct(studio, knowledge, weighing, place, "670")
    assert weighing.state.inside["white-quick"] == 670
    assert weighing.step.material == "white-quick"
    with pytest.raises(InputError, match="no weight at place"):
        correct(studio, knowledge, weighing, 0, "5")


def test_a_very_long_name_is_planned_and_poured(studio, knowledge):
    mix = Mix.of("white-quick", {"brick-red": 0.02})
    casting = Casting("x" * 200, (Tone("Rust", mix),))
    batches = [keep_plan(studio, knowledge, plan(studio, knowledge, casting, pieces=2)) for _ in range(2)]
    assert len({each.name for each in batches}) == 2
    bowl = zeroed(studio, begin_bowl(studio, batches[0]))
    while not bowl.state.done:
        bowl = put_sure(studio, bowl, bowl.step.grams)
    assert [each.name[-8:] for each in cast(studio, batches[0])] == [", 1 of 2", ", 2 of 2"]


def test_no_weight_is_corrected_to_nothing(studio, knowledge, batch):
    """Of a cement that was said to be enough nothing would be left to reckon a share of."""
    weighing = put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "300")
    weighing = enough(studio, weighing)
    with pytest.raises(InputError, match=r"White, quick is 0 g: .* undo the step"):
        correct(studio, knowledge, weighing, 1, "0,0")
    with pytest.raises(InputError, match="The water is 0"):
        add_water(studio, weighing, 0)


def test_more_water_read_with_the_bowl_on_the_scale_is_asked_about(studio, knowledge, batch):
    weighing = follow(studio, knowledge, put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "690"))
    inside = sum(weighing.state.inside.values())
    question = water_question(knowledge, weighing, inside + 12)
    assert "Was the scale not zeroed?" in question.words
    assert question.choices[0].value == pytest.approx(12)


def test_undo_takes_one_step_back_and_says_which(studio, knowledge, batch):
    weighing = put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "690")
    weighing = put(studio, knowledge, weighing, "12,4")
    weighing, words = undo(studio, knowledge, weighing)
    assert words == "Taken back: 12.4 g of Brick red."
    weighing = put(studio, knowledge, weighing, "12,3")
    weighing = start_again(studio, weighing)
    assert not weighing.begun
    weighing, _ = undo(studio, knowledge, weighing)
    assert weighing.state.inside == {"white-quick": 690.0, "brick-red": 12.3}


def test_steps_say_what_to_do_and_what_to_beware_of(studio, knowledge, batch):
    weighing = begin_bowl(studio, batch)
    assert "zero it" in step_words(knowledge, weighing)[1]
    weighing = put(studio, knowledge, zeroed(studio, weighing), "690")
    what, work, caution = step_words(knowledge, weighing)
    assert what == "Brick red"
    assert "small cup on the fine scale" in work  # of 0.1 g, beside one of 1 g for the cement
    assert "mask" in caution
    done = follow(studio, knowledge, weighing)
    assert step_words(knowledge, done) == ("", "", "")


def test_the_pieces_of_a_batch_are_what_was_weighed(studio, knowledge, batch):
    weighing = put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "690")
    weighing = put(studio, knowledge, weighing, "24,8")  # twice the dose
    assert isinstance(weighing, Question)
    weighing = put_sure(studio, begin_bowl(studio, batch), 24.8)
    weighing = settle(studio, weighing, slip_of(knowledge, weighing), correct=False)
    weighing = note_additive(studio, follow(studio, knowledge, weighing), "plasticiser 1.5 g")
    assert water_question(knowledge, weighing, 9) is None
    weighing = add_water(studio, weighing, 9)
    jar = studio.list(PigmentLot, pigment_uid="brick-red")[0]
    pieces = cast(studio, batch, circumstances=Circumstances(weather="damp", temperature_c=17))
    assert [piece.name for piece in pieces] == [f"{batch.name}, 1 of 2", f"{batch.name}, 2 of 2"]
    mix = mix_of(studio, pieces[0])
    assert mix.source == "weighed"
    assert mix.mix.loads["brick-red"] == pytest.approx(24.8 / 690)
    assert mix.planned.loads["brick-red"] == 0.018
    assert mix.water_per_cement == pytest.approx((weighing.state.inside["water"]) / 690)
    rows = studio.list(Weighing, batch_uid=batch.uid)
    planned = plan_of(studio.get(BatchRecord, batch.uid)).batch.bowls[0]
    assert {row.material: row.planned_g for row in rows}["brick-red"] == planned.pigments_g["brick-red"]
    assert math.fsum(row.weighed_g or 0 for row in rows) == pytest.approx(math.fsum(weighing.state.inside.values()))
    assert pieces[0].conditions["weather"] == "damp"
    assert pieces[0].conditions["additive"] == "plasticiser 1.5 g"
    assert studio.get(PigmentLot, jar.uid).stock_g == pytest.approx(jar.stock_g - 24.8)
    assert draft(studio, BOWL, f"{batch.uid}/1") is None
    assert pieces[0].demould_due_at - pieces[0].cast_at == timedelta(hours=4)
    assert cast(studio, batch) == pieces  # once
    assert studio.get(PigmentLot, jar.uid).stock_g == pytest.approx(jar.stock_g - 24.8)


def test_a_batch_is_not_cast_before_its_bowls_are_weighed(studio, knowledge, batch):
    with pytest.raises(InputError, match="not weighed to its end"):
        cast(studio, batch)
    put(studio, knowledge, zeroed(studio, begin_bowl(studio, batch)), "690")
    with pytest.raises(InputError, match="not weighed to its end"):
        cast(studio, batch)
    assert not studio.list(Weighing)


def test_two_tones_are_two_bowls_each_with_its_own_recipe(studio, knowledge):
    tones = (Tone("Rust", RUST, 0.7), Tone("Soot", Mix.of("white-quick", {"soot": 0.03}), 0.3))
    batch = keep_plan(studio, knowledge, plan(studio, knowledge, Casting("Banded cup", tones)))
    for number in (1, 2):
        follow(studio, knowledge, begin_bowl(studio, batch, number))
    assert [bowl.state.done for bowl in bowls_begun(studio, batch)] == [True, True]
    (piece,) = cast(studio, batch)
    assert mix_of(studio, piece).mix is None
    first, second = (mix_of(studio, replace(piece, bowl=bowl)).mix for bowl in ("1", "2"))
    assert set(first.loads) == {"brick-red", "ochre"}
    assert set(second.loads) == {"soot"}
    assert len(bowls_of(studio, studio.get(BatchRecord, batch.uid))) == 2
    assert castings(studio)[0].design_uid == batch.design_uid


def test_a_plan_thrown_away_can_be_had_back_and_a_cast_one_stays(studio, knowledge, batch):
    throw_away(studio, batch)
    assert not studio.list(BatchRecord)
    studio.restore(batch)
    follow(studio, knowledge, begin_bowl(studio, batch))
    cast(studio, batch)
    with pytest.raises(InputError, match="was cast"):
        throw_away(studio, studio.get(BatchRecord, batch.uid))
    with pytest.raises(InputError, match="cast already"):
        begin_bowl(studio, studio.get(BatchRecord, batch.uid))


def test_nothing_half_done_is_lost_from_the_list(studio, knowledge, batch):
    zeroed(studio, begin_bowl(studio, batch, device="phone"))
    (kept,) = studio.list(Draft)
    assert (kept.what, kept.title, kept.device) == (BOWL, batch.name, "phone")
    assert kept.changed_at <= datetime.now(UTC)
