"""Correcting a weighing mistake: laws, cases from the bowl, and against brute force."""

from __future__ import annotations

import numpy as np
import pytest

import colormatch as cm
from colormatch.bench.batch import Bowl as Wanted
from colormatch.bench.batch import highest_load, plan_batch
from colormatch.bench.bowl import WATER, Bowl, Entry
from colormatch.bench.weighing_mistake import correct_weighing
from colormatch.difference import delta_e_2000
from colormatch.errors import UnknownNameError
from colormatch.loads import Mix

BASE = "white-cement"
LOADS = {"red-iron-oxide": 0.004, "yellow-iron-oxide": 0.006, "titanium-white": 0.010}


@pytest.fixture(scope="module")
def palette():
    return cm.starter_palette()


def bowl(weighed, loads=LOADS, *, cement_g=260.0, step=0.1, water_g=0.0) -> Bowl:
    """A bowl with all of its cement in, unless `weighed` says how much, and what else was weighed."""
    sheet = plan_batch([Wanted("bowl", Mix.of(BASE, loads), cement_g)], scale_step_g=step, bulk_step_g=0.1).bowls[0]
    inside = {BASE: sheet.cement_g, **weighed, **({WATER: water_g} if water_g else {})}
    return Bowl(sheet, step, 0.1, 0.05, entries=tuple(Entry("weighed", name, grams) for name, grams in inside.items()))


def correct(palette, weighed, loads=LOADS, **changes):
    return correct_weighing(palette, bowl(weighed, loads, **changes))


def bowl_after(answer, weighed, cement_g=260.0):
    """(cement, loads) of the bowl once everything in `to_correct` is in, from nothing but the answer's grams."""
    cement = weighed.get(BASE, cement_g) + answer.to_correct.get(BASE, 0.0)
    names = {*LOADS, *weighed, *answer.to_correct} - {BASE, WATER}
    return cement, {n: (weighed.get(n, 0.0) + answer.to_correct.get(n, 0.0)) / cement for n in sorted(names)}


def test_the_answer_is_what_the_palette_says_of_the_grams(palette):
    weighed = {"red-iron-oxide": 1.6, "titanium-white": 2.6}
    answer = correct(palette, weighed)
    _, loads = bowl_after(answer, weighed)
    wanted = palette.predict(bowl({}).sheet.loads, BASE).lab
    after = palette.predict(loads, BASE).lab
    assert float(delta_e_2000(after, wanted)) == pytest.approx(answer.delta_e_corrected, abs=1e-6)
    assert answer.planned.lab == pytest.approx(wanted)
    assert answer.delta_e_corrected < answer.delta_e_left


def test_nothing_weighed_wrong_means_finish_the_sheet(palette):
    answer = correct(palette, {"red-iron-oxide": 1.04}, step=0.01)
    assert answer.advice == "leave it"
    assert answer.delta_e_left < 0.01
    assert answer.to_leave["yellow-iron-oxide"] == pytest.approx(1.56)


def test_a_small_slip_is_left(palette):
    answer = correct(palette, {"red-iron-oxide": 1.1}, step=0.01)
    assert answer.advice == "leave it"
    assert f"{answer.delta_e_left:.1f} dE00" in answer.words


def test_a_slip_of_1_4_for_1_0_gram_is_corrected(palette):
    answer = correct(palette, {"red-iron-oxide": 1.4})
    assert answer.advice == "correct it"
    assert answer.delta_e_corrected < 0.3 < answer.delta_e_left
    assert answer.beyond_plan["red-iron-oxide"] == pytest.approx(0.4 + answer.to_correct.get("red-iron-oxide", 0.0))


def test_too_much_cement_asks_for_more_of_everything(palette):
    weighed = {BASE: 300.0}
    answer = correct(palette, weighed)
    cement, loads = bowl_after(answer, weighed)
    assert cement >= 300
    assert answer.delta_e_corrected < 0.1
    for name, load in LOADS.items():
        assert loads[name] == pytest.approx(load, rel=0.1)


def test_past_the_cap_is_start_again(palette):
    answer = correct(palette, {"red-iron-oxide": 20.0})
    assert answer.advice == "start again"
    assert answer.words.startswith("Start again: it is past the cap. Holding the shade would take 4940 g more cement")
    assert answer.corrected == answer.left
    assert answer.delta_e_left < 100  # a true difference, not what keeps the search under the cap


def test_far_from_the_shade_is_start_again_even_under_the_cap(palette):
    weighed = {"red-iron-oxide": 6.0}
    answer = correct(palette, weighed)
    assert answer.advice == "start again"
    assert sum(bowl_after(answer, weighed)[1].values()) <= 0.05 + 1e-9


def test_before_and_after_water_are_told_apart(palette):
    before = correct(palette, {"red-iron-oxide": 1.4})
    after = correct(palette, {"red-iron-oxide": 1.4}, water_g=50.0)
    assert "dry" in before.how
    assert "paste" in after.how
    assert after.to_correct[WATER] == pytest.approx(0.25 * after.beyond_plan[BASE], abs=1e-3)
    assert before.to_correct[WATER] == pytest.approx(0.25 * (260 + before.beyond_plan[BASE]), abs=1e-3)


def test_a_pigments_own_maximum_lowers_the_cap(palette):
    low = palette.pigments["carbon-black"].maximum_load
    past = {"carbon-black": round(1.25 * low * 200 + 0.1, 1)}  # however much cement comes to it
    assert correct(palette, past, {"carbon-black": 0.005}, cement_g=200.0).advice == "start again"
    assert sum(past.values()) < 0.05 * 200


def test_another_pigment_in_the_bowl_by_mistake(palette):
    """2 g of black that the recipe never asked for cannot be undone with cement alone."""
    answer = correct(palette, {"black-iron-oxide": 2.0})
    assert answer.advice == "start again"
    assert "more cement" not in answer.words


def test_a_pigment_that_the_palette_does_not_know_is_named(palette):
    with pytest.raises(UnknownNameError, match="no-such"):
        correct(palette, {"no-such": 1.0})


# -- against brute force -------------------------------------------------------------------------


def random_slip(palette, rng):
    """A recipe of 2 to 4 pigments within the cap, some of them weighed, one of them too much."""
    known = [n for n in palette.pigments if n != "carbon-black"]
    names = list(rng.choice(known, size=rng.integers(2, 5), replace=False))
    total = rng.uniform(0.005, 0.048)
    loads = dict(zip(names, (rng.dirichlet(np.ones(len(names))) * total).tolist(), strict=True))
    cement = float(rng.choice([120.0, 260.0, 780.0]))
    done = rng.integers(1, len(names) + 1)
    weighed = {n: round(loads[n] * cement, 1) for n in names[:done]}
    weighed[names[done - 1]] = round(max(0.1, loads[names[done - 1]] * cement * rng.uniform(1.05, 2.0)), 1)
    return loads, cement, weighed, 0.25 * cement


def brute_force(palette, loads, cement, weighed, extra, cap, rng, step=0.1):
    """Least dE00 over many thousand bowls on the scale's marks, narrowing in on the best; inf if none."""
    names = list(loads)
    order = [list(palette.pigments).index(n) for n in names]
    inside = np.array([weighed.get(n, 0.0) for n in names])
    wanted = palette.predict(loads, BASE).lab
    room = np.maximum(cap * (cement + extra) - inside.sum(), 0.0)
    low, high = np.zeros(len(names) + 1), np.append(np.full(len(names), room), extra)
    centre, spread, best = None, high, np.inf
    for turn in range(9):
        count = 16000 if turn == 0 else 3000
        points = rng.uniform(low, high, size=(count, len(names) + 1))
        if turn == 0:  # half of them along the plan, thinned and topped up
            points[::2, :-1] *= rng.random((len(points[::2]), 1)) ** 2
        else:
            points = np.clip(centre + spread * rng.uniform(-1, 1, points.shape), low, high)
        points = np.maximum(np.round(points / step) * step, 0.0)
        after = (inside + points[:, :-1]) / (cement + points[:, -1:])
        allowed = (after.sum(axis=1) <= cap + 1e-9) & (points[:, -1] <= extra + 1e-9)
        if not allowed.any():
            if turn == 0:
                return np.inf
            spread = spread / 2
            continue
        full = np.zeros((int(allowed.sum()), len(palette.pigments)))
        full[:, order] = after[allowed]
        off = delta_e_2000(palette.predict_many(full, base=BASE), wanted)
        if off.min() < best:
            best, centre = float(off.min()), points[allowed][int(off.argmin())]
        spread = spread * 0.45
    return best


def compare(palette, slips, seed):
    gaps, advices = [], []
    for number in range(slips):
        rng = np.random.default_rng([seed, number])
        loads, cement, weighed, extra = random_slip(palette, rng)
        slip = bowl(weighed, loads, cement_g=cement)
        answer = correct_weighing(palette, slip)
        cap = highest_load(0.05, list(loads), {name: palette.pigments[name].maximum_load for name in loads})
        there = {name: load for name, load in slip.sheet.loads.items() if load + weighed.get(name, 0.0) > 0}
        best = brute_force(palette, there, cement, weighed, extra, cap, rng)
        advices.append(answer.advice)
        if np.isinf(best):
            assert answer.advice == "start again"
            continue
        solid = {name: g + weighed.get(name, 0.0) for name, g in answer.to_correct.items() if name in loads}
        assert sum((weighed | solid).values()) <= (cap + 1e-6) * (cement + answer.to_correct.get(BASE, 0.0))
        gaps.append(answer.delta_e_corrected - best)
    return np.array(gaps), advices


@pytest.mark.slow
@pytest.mark.parametrize(("slips", "seed"), [(120, 7), pytest.param(500, 1, marks=pytest.mark.measure)])
def test_random_slips_against_brute_force(palette, slips, seed):
    gaps, advices = compare(palette, slips, seed)
    print(  # noqa: T201
        f"\n{slips} slips: corrected minus brute force, dE00: worst {gaps.max():+.3f}, mean {gaps.mean():+.3f}; "
        + ", ".join(f"{word} {advices.count(word)}" for word in ("leave it", "correct it", "start again"))
    )
    assert len(gaps) > 0.8 * slips
    assert gaps.max() <= 0.1


def test_a_sheet_at_the_cap_that_was_followed_is_left_alone(palette):
    """To the nearest tenth of a gram both doses would round up past the cap; the sheet rounds one of them down."""
    loads = {"red-iron-oxide": 0.025, "yellow-iron-oxide": 0.025}
    answer = correct(palette, bowl({}, loads, cement_g=102.0).sheet.pigments_g, loads, cement_g=102.0)
    assert answer.advice == "leave it"
    assert set(answer.to_leave) == {WATER}


def test_the_maximum_of_a_pigment_that_is_not_in_the_mix_does_not_count(palette):
    loads = {"red-iron-oxide": 0.04}
    with_none = correct(palette, {"red-iron-oxide": 10.4, "carbon-black": 0.0}, {**loads, "carbon-black": 0.0})
    assert with_none.advice == "leave it"
    assert correct(palette, {"red-iron-oxide": 10.4, "carbon-black": 0.5}, loads).advice == "start again"


def test_the_words_name_materials_as_the_maker_does(palette):
    grown = palette.with_pigment("jar-7", like="red-iron-oxide", label="Brick red, second jar")
    answer = correct(grown, {"jar-7": 1.6}, {"jar-7": 0.004, "yellow-iron-oxide": 0.006})
    assert "Yellow iron oxide" in answer.words
    assert not any(name in answer.words for name in (*grown.pigments, *grown.bases))
