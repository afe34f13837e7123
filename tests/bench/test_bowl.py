"""Weighing step by step: one order, nothing lost, plan and deed apart, a mistake answered, an entry corrected."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.bench.batch import Bowl as Wanted
from colormatch.bench.batch import plan_batch
from colormatch.bench.bowl import WATER, Bowl, Entry, small_doses, weighing_order
from colormatch.bench.weighing_mistake import correct_weighing
from colormatch.difference import delta_e_2000
from colormatch.loads import Mix
from colormatch.starter import starter_palette

PALETTE = starter_palette()
BASE = "white-cement"
LOADS = {"yellow-iron-oxide": 0.008, "red-iron-oxide": 0.016}


def bowl(cement_g: float = 500.0, loads=LOADS, preblend=(), step=0.1, bulk=0.1) -> Bowl:
    batch = plan_batch([Wanted("bowl", Mix.of(BASE, loads), cement_g)], scale_step_g=step, bulk_step_g=bulk)
    return Bowl(batch.bowls[0], step, bulk, batch.cap, frozenset(preblend))


def put(work: Bowl, grams: float) -> Bowl:
    return work.plus(Entry("weighed", work.ahead[0].material, grams))


def follow(work: Bowl) -> Bowl:
    """Everything that is asked for, exactly."""
    for _ in range(40):
        if work.done:
            return work
        step = work.ahead[0]
        work = work.plus(Entry("zero")) if step.kind == "zero" else put(work, step.grams)
    raise AssertionError("the bowl never ends")


def test_one_order_zero_cement_pigments_from_the_largest_water():
    work = bowl()
    assert [step.material for step in work.order] == ["", BASE, "red-iron-oxide", "yellow-iron-oxide", WATER]
    assert [step.material for step in work.ahead] == [step.material for step in work.order]
    assert (work.number, len(work.order)) == (1, 5)
    work = work.plus(Entry("zero"))
    assert work.number == 2
    assert put(work, 500.0).number == 3


def test_a_bowl_weighed_as_written_holds_what_the_sheet_says():
    work = follow(bowl())
    sheet = work.sheet
    assert work.inside == {BASE: 500.0, **sheet.pigments_g, WATER: sheet.water_start_g}
    assert work.mix.loads == sheet.loads


def test_too_little_asks_for_the_rest_or_stays_so_when_said():
    work = put(bowl().plus(Entry("zero")), 480.0)
    assert (work.ahead[0].material, work.ahead[0].grams) == (BASE, 20.0)
    work = work.plus(Entry("enough", BASE))
    assert work.ahead[0].material == "red-iron-oxide"
    assert follow(work).inside[BASE] == 480.0
    assert work.mix.loads["red-iron-oxide"] == pytest.approx(8.0 / 480.0)


def test_water_is_one_line_start_and_up_to():
    work = bowl(260.0, {"red-iron-oxide": 0.02})
    water = work.order[-1]
    assert (water.grams, water.up_to) == (50.0, 65.0)
    work = follow(work)
    assert work.inside[WATER] == 50.0
    assert work.plus(Entry("weighed", WATER, 9.0)).inside[WATER] == 59.0


def test_a_step_of_the_scale_is_no_mistake():
    work = put(bowl().plus(Entry("zero")), 500.0)
    assert not put(work, 8.05).over
    assert put(work, 8.1).over == ("red-iron-oxide",)


def test_a_half_per_cent_of_cement_is_no_mistake_and_moves_no_shade_by_a_tenth():
    work = put(bowl().plus(Entry("zero")), 502.0)
    assert not work.over
    assert work.ahead[0].material == "red-iron-oxide"
    assert put(bowl().plus(Entry("zero")), 503.0).over == (BASE,)
    for name, pigment in PALETTE.pigments.items():
        for load in (0.002, 0.01, min(0.05, pigment.maximum_load)):
            both = [PALETTE.predict({name: each}, BASE).lab for each in (load, load * 1.005)]
            assert float(delta_e_2000(*both)) < 0.1


def test_too_much_waits_for_an_answer_and_leaving_it_finishes_the_sheet():
    work = put(put(bowl().plus(Entry("zero")), 500.0), 9.0)
    assert not work.done
    assert work.ahead == ()
    answer = correct_weighing(PALETTE, work)
    work = work.plus(Entry("leave", add=answer.to_leave))
    assert [step.material for step in work.ahead] == ["yellow-iron-oxide", WATER]
    assert work.ahead[0].grams == pytest.approx(4.0)
    assert follow(work).inside["red-iron-oxide"] == 9.0


@settings(max_examples=12)
@given(st.floats(1.2, 1.6))
def test_a_corrected_mistake_ends_at_the_shade_that_was_promised(times):
    work = put(put(bowl().plus(Entry("zero")), 500.0), round(8.0 * times, 1))
    answer = correct_weighing(PALETTE, work)
    work = work.plus(Entry("correct", add=answer.to_correct))
    assert work.ahead[0].material == BASE or BASE not in answer.to_correct
    work = follow(work)
    wanted = PALETTE.predict(LOADS, BASE).lab
    got = PALETTE.predict(work.mix.loads, BASE).lab
    assert float(delta_e_2000(got, wanted)) == pytest.approx(answer.delta_e_corrected, abs=0.02)
    assert work.mix.total <= work.cap + 1e-9
    water = answer.to_correct[WATER]
    assert work.inside[WATER] == pytest.approx(50 / 65 * water, abs=0.11)
    assert work.water_most_g == pytest.approx(water, abs=0.11)


def test_an_earlier_weight_is_corrected_and_answers_given_after_it_are_asked_anew():
    work = put(put(bowl().plus(Entry("zero")), 500.0), 80.0)  # 8.0 was meant
    work = work.plus(Entry("leave", add=correct_weighing(PALETTE, work).to_leave))
    work = put(work, 4.0)
    mended = work.corrected(2, 8.0, "8.0")
    assert mended.inside == {BASE: 500.0, "red-iron-oxide": 8.0, "yellow-iron-oxide": 4.0}
    assert [entry.done for entry in mended.entries] == ["zero", "weighed", "weighed", "weighed"]
    assert mended.ahead[0].material == WATER


def test_a_small_dose_as_a_pre_blend_counts_as_pigment_and_cement():
    loads = {"red-iron-oxide": 0.016, "black-iron-oxide": 0.0015}
    work = bowl(500.0, loads, preblend={"black-iron-oxide"})
    assert small_doses(work.sheet, 0.1) == ("black-iron-oxide",)
    cement, _, blend, _ = weighing_order(work.sheet, work.preblend)
    black = work.sheet.pigments_g["black-iron-oxide"]
    assert (blend.kind, blend.grams) == ("preblend", pytest.approx(10 * black))
    assert cement.grams == pytest.approx(500.0 - 9 * black)
    work = follow(work)
    assert work.inside[BASE] == pytest.approx(500.0)
    assert work.inside["black-iron-oxide"] == pytest.approx(black)


def test_a_bare_bowl_has_no_mistake_to_correct():
    work = put(bowl(500.0, {}).plus(Entry("zero")), 520.0)
    assert not work.over
    assert work.ahead[0].material == WATER


@st.composite
def entered(draw):
    """A sheet, and readings that are exact, a little off, far over, or short."""
    names = draw(
        st.lists(st.sampled_from(sorted(set(PALETTE.pigments) - {"carbon-black"})), min_size=1, max_size=4, unique=True)
    )
    loads = {name: draw(st.floats(0.001, 0.011)) for name in names}
    blends = draw(st.sets(st.sampled_from(names)))
    work = bowl(draw(st.sampled_from([120.0, 260.0, 780.0])), loads, blends, draw(st.sampled_from([0.01, 0.1])))
    factors = draw(st.lists(st.sampled_from([1.0, 1.0, 0.9, 0.5, 1.02, 1.3, 2.0]), min_size=12, max_size=12))
    return work, factors, draw(st.sampled_from(["correct", "leave"]))


@pytest.mark.slow
@settings(max_examples=15)  # each weighs a whole bowl, with a correction looked for at each mistake
@given(entered())
def test_weights_of_bowl_pre_blend_and_correction_add_up(case):
    work, factors, answer = case
    shown = []
    for number in range(60):
        if work.done:
            break
        if work.over:
            slip = correct_weighing(PALETTE, work)
            work = work.plus(Entry(answer, add=slip.to_correct if answer == "correct" else slip.to_leave))
            continue
        step = work.ahead[0]
        if step.kind == "zero":
            work = work.plus(Entry("zero"))
            continue
        grams = round(step.grams * (factors[number] if number < len(factors) else 1.0), 2)
        shown.append(grams)
        work = put(work, grams)
    assert work.done
    assert math.fsum(work.inside.values()) == pytest.approx(math.fsum(shown))  # what the scale showed is what is in
    assert all(
        work.mix.loads[n] == pytest.approx(work.inside[n] / work.inside[BASE])
        for n in work.sheet.pigments_g
        if n in work.inside
    )
    assert work.sheet.pigments_g == bowl_sheet(work)  # the plan is what it was


def bowl_sheet(work: Bowl):
    return plan_batch([work.sheet.wanted], scale_step_g=work.scale_step_g, bulk_step_g=0.1).bowls[0].pigments_g
