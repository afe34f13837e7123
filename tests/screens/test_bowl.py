"""Weighing step by step: nothing is lost, a slip is answered, the mended bowl is near the shade wanted."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.bench.batch import Batch, Bowl, plan_batch
from colormatch.difference import delta_e_2000
from colormatch.loads import Mix
from colormatch.screens.bowl import FIRST, REST, begin, put_in, settle
from colormatch.starter import starter_palette

PALETTE = starter_palette()
LOADS = {"red-iron-oxide": 0.016, "yellow-iron-oxide": 0.008}


def batch(cement_g: float = 500.0) -> Batch:
    return plan_batch([Bowl("bowl", Mix.of("white-cement", LOADS), cement_g)])


def test_a_bowl_weighed_as_written_holds_what_the_sheet_says() -> None:
    work = begin(batch(), 0)
    while not work.done:
        work = put_in(work, work.ahead[0].grams, PALETTE)
    bowl = work.bowl
    wanted = {bowl.base: bowl.cement_g, **bowl.pigments_g, FIRST: bowl.water_start_g}
    wanted[REST] = pytest.approx(bowl.water_most_g - bowl.water_start_g)
    assert work.weighed == wanted


def test_too_little_asks_for_the_rest() -> None:
    work = put_in(begin(batch(), 0), 480.0, PALETTE)
    assert work.ahead[0].material == "white-cement"
    assert work.ahead[0].grams == pytest.approx(20.0)
    assert "20 g is still missing" in work.note


def test_a_step_of_the_scale_is_no_slip() -> None:
    work = put_in(begin(batch(), 0), 500.0, PALETTE)
    assert put_in(work, work.ahead[0].grams + 0.05, PALETTE).slip is None


@settings(max_examples=15, deadline=None)
@given(st.floats(1.2, 1.5))
def test_a_mended_slip_ends_near_the_shade_wanted(times: float) -> None:
    work = put_in(begin(batch(), 0), 500.0, PALETTE)
    work = put_in(work, round(work.ahead[0].grams * times, 1), PALETTE)
    assert work.slip is not None
    answer = work.slip
    work = settle(work, mend=True)
    while not work.done:
        work = put_in(work, work.ahead[0].grams, PALETTE)
    cement = work.weighed["white-cement"]
    loads = {name: work.weighed[name] / cement for name in LOADS}
    lab = PALETTE.predict(loads, "white-cement").lab
    wanted = PALETTE.predict(LOADS, "white-cement").lab
    assert float(delta_e_2000(lab, wanted)) == pytest.approx(answer.delta_e_corrected, abs=0.15)
    assert sum(loads.values()) <= answer.cap + 1e-9


def test_leaving_a_slip_finishes_the_sheet() -> None:
    work = put_in(begin(batch(), 0), 500.0, PALETTE)
    work = settle(put_in(work, work.ahead[0].grams + 1.0, PALETTE), mend=False)
    assert [step.material for step in work.ahead] == ["yellow-iron-oxide", FIRST, REST]
    assert work.ahead[0].grams == pytest.approx(4.0)


def test_too_much_water_is_noted_but_stops_nothing() -> None:
    work = begin(batch(), 0)
    while work.ahead[0].material != FIRST:
        work = put_in(work, work.ahead[0].grams, PALETTE)
    work = put_in(work, work.ahead[0].grams + 10, PALETTE)
    assert work.slip is None
    assert "10 g more water" in work.note
