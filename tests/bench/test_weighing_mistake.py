"""Correcting a weighing mistake: laws, cases from the bowl, and against brute force."""

from __future__ import annotations

import numpy as np
import pytest

import colormatch as cm
from colormatch.bench.batch import Bowl, plan_batch
from colormatch.bench.weighing_mistake import correct_weighing
from colormatch.difference import delta_e_2000
from colormatch.errors import InputError, UnknownNameError
from colormatch.loads import Mix

BASE = "white-cement"
LOADS = {"red-iron-oxide": 0.004, "yellow-iron-oxide": 0.006, "titanium-white": 0.010}


@pytest.fixture(scope="module")
def palette():
    return cm.starter_palette()


def correct(palette, loads=LOADS, base=BASE, slip=None, weighed=None, **changes):
    inside = {**(weighed or {}), **(dict([slip]) if slip else {})}
    return correct_weighing(palette, Mix.of(base, loads), **{"cement_g": 260.0, "weighed": inside, **changes})


def bowl_after(answer, weighed, cement_g=260.0):
    """(cement, loads) of the bowl once everything in `to_correct` is in, from nothing but the answer's grams."""
    cement = weighed.get(BASE, cement_g) + answer.to_correct.get(BASE, 0.0)
    names = {*LOADS, *weighed, *answer.to_correct} - {BASE, "water"}
    return cement, {n: (weighed.get(n, 0.0) + answer.to_correct.get(n, 0.0)) / cement for n in sorted(names)}


def test_the_answer_is_what_the_palette_says_of_the_grams(palette):
    weighed = {"red-iron-oxide": 1.6, "titanium-white": 2.6}
    answer = correct(palette, weighed=weighed)
    _, loads = bowl_after(answer, weighed)
    after = palette.predict(loads, BASE).lab
    wanted = palette.predict(LOADS, BASE).lab
    assert float(delta_e_2000(after, wanted)) == pytest.approx(answer.delta_e_corrected, abs=1e-6)
    assert sum(loads.values()) == pytest.approx(answer.total_load)
    assert answer.delta_e_corrected < answer.delta_e_left


def test_nothing_weighed_wrong_means_finish_the_sheet(palette):
    answer = correct(palette, weighed={"red-iron-oxide": 1.04}, scale_step_g=0.01)
    assert answer.advice == "leave it"
    assert answer.delta_e_left < 0.01
    assert answer.to_leave["yellow-iron-oxide"] == pytest.approx(1.56)


def test_a_small_slip_is_left_and_says_how_small(palette):
    answer = correct(palette, weighed={}, slip=("red-iron-oxide", 1.1))
    assert answer.advice == "leave it"
    assert f"{answer.delta_e_left:.1f} dE00" in answer.words


def test_a_slip_of_1_4_for_1_0_gram_is_corrected(palette):
    answer = correct(palette, slip=("red-iron-oxide", 1.4))
    assert answer.advice == "correct it"
    assert answer.delta_e_corrected < 0.3 < answer.delta_e_left
    assert answer.extra_g == pytest.approx(sum(answer.beyond_plan.values()))


def test_too_much_cement_asks_for_more_of_everything(palette):
    weighed = {BASE: 300.0}
    answer = correct(palette, weighed=weighed, slip=None)
    cement, loads = bowl_after(answer, weighed)
    assert cement >= 300
    assert answer.delta_e_corrected < 0.1
    for name, load in LOADS.items():
        assert loads[name] == pytest.approx(load, rel=0.1)


def test_unlimited_cement_brings_every_shade_back(palette):
    answer = correct(palette, slip=("red-iron-oxide", 3.0), extra_cement_g=2000.0)
    assert answer.cement_needed_g == pytest.approx(3.0 / 0.004 - 260)
    assert answer.delta_e_corrected < 0.1


def test_past_the_cap_is_said_so(palette):
    answer = correct(palette, slip=("red-iron-oxide", 20.0), extra_cement_g=50.0)
    assert answer.advice == "start again"
    assert answer.words.startswith("Past the cap")
    assert "g more cement" in answer.words


def test_far_from_the_shade_is_start_again_even_under_the_cap(palette):
    answer = correct(palette, slip=("red-iron-oxide", 6.0))
    assert answer.advice == "start again"
    assert answer.total_load <= 0.05 + 1e-9


def test_before_and_after_water_are_told_apart(palette):
    before = correct(palette, slip=("red-iron-oxide", 1.4))
    after = correct(palette, slip=("red-iron-oxide", 1.4), water_in=True)
    assert "dry" in before.words
    assert "paste" in after.words
    assert after.to_correct["water"] == pytest.approx(0.25 * after.beyond_plan[BASE], abs=1e-3)
    assert before.to_correct["water"] == pytest.approx(0.25 * (260 + before.beyond_plan[BASE]), abs=1e-3)


def test_a_pigments_own_maximum_lowers_the_cap():
    palette = cm.starter_palette()
    low = palette.pigments["carbon-black"].maximum_load
    answer = correct(palette, loads={"carbon-black": 0.005}, cement_g=200, slip=("carbon-black", 1.3))
    assert answer.cap == pytest.approx(min(0.05, low))
    assert answer.total_load <= answer.cap + 1e-9


def test_another_pigment_in_the_bowl_by_mistake(palette):
    """2 g of black that the recipe never asked for cannot be undone with cement alone."""
    answer = correct(palette, slip=("black-iron-oxide", 2.0))
    assert answer.advice == "start again"
    assert np.isinf(answer.cement_needed_g)
    assert "inf" not in answer.words


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"slip": ("no-such", 1.0)}, UnknownNameError),
        ({"base": "no-such"}, UnknownNameError),
        ({"slip": ("red-iron-oxide", float("nan"))}, InputError),
        ({"slip": ("red-iron-oxide", -1.0)}, InputError),
        ({"cement_g": 0.0}, InputError),
        ({"loads": {}}, InputError),
    ],
)
def test_bad_input_is_refused(palette, changes, error):
    with pytest.raises(error, match=r"\.$"):
        correct(palette, **changes)


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
        answer = correct(palette, loads=loads, cement_g=cement, weighed=weighed, extra_cement_g=extra)
        best = brute_force(palette, loads, cement, weighed, extra, answer.cap, rng)
        advices.append(answer.advice)
        if np.isinf(best):
            assert answer.advice == "start again"
            continue
        assert answer.total_load <= answer.cap + 1e-9
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
    bowl = plan_batch([Bowl("tone", Mix.of(BASE, loads), 102.0)]).bowls[0]
    answer = correct(palette, loads=loads, cement_g=102.0, weighed=bowl.pigments_g)
    assert answer.advice == "leave it"
    assert set(answer.to_leave) == {"water"}


def test_the_maximum_of_a_pigment_that_is_not_in_the_mix_does_not_count(palette):
    with_none = correct(palette, loads={**LOADS, "carbon-black": 0.0}, weighed={"carbon-black": 0.0})
    assert with_none.cap == correct(palette).cap == 0.05
    assert correct(palette, weighed={"carbon-black": 0.5}).cap == palette.pigments["carbon-black"].maximum_load


def test_the_words_name_materials_as_the_maker_does(palette):
    grown = palette.with_pigment("jar-7", like="red-iron-oxide", label="Brick red, second jar")
    loads = {"jar-7": 0.004, "yellow-iron-oxide": 0.006}
    answer = correct(grown, loads=loads, weighed={"jar-7": 1.6})
    assert "Yellow iron oxide" in answer.words
    assert not any(name in answer.words for name in (*grown.pigments, *grown.bases))
