"""What to weigh: the sums, the cap, and the worked example of 260 g of cement."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.bench.batch import Bowl, Tone, bowls_for, highest_load, plan_batch, round_to, wet_density
from colormatch.errors import ColormatchError, InputError, LoadError, RecipeError
from colormatch.loads import Mix

RED, BLACK = "red-iron-oxide", "black-iron-oxide"


def test_260_grams_of_cement():
    """260 g of cement: cap 13 g, water 65 g at 4 : 1, 50 g of it first (common practice, no source)."""
    (bowl,) = plan_batch([Bowl("A", Mix.of("white-cement", {RED: 0.05}), 260.0)]).bowls
    assert bowl.cement_g == 260.0
    assert bowl.cap_g == pytest.approx(13.0)
    assert bowl.pigments_g == {RED: 13.0}
    assert bowl.water_most_g == 65.0
    assert bowl.water_start_g == 50.0


def test_fill_is_wet_mix():
    """A fill of 325 g of plain mix at 4 : 1 is 260 g of cement and 65 g of water."""
    (bowl,) = bowls_for([Tone("A", Mix.of("white-cement", {}))], fill_g=325.0, waste=0.0)
    assert bowl.cement_g == pytest.approx(260.0)


def test_two_tones_by_their_shares():
    tones = [Tone("body", Mix.of("white-cement", {}), 0.75), Tone("foot", Mix.of("grey-cement", {BLACK: 0.04}), 0.25)]
    batch = plan_batch(bowls_for(tones, fill_g=400.0, pieces=3, waste=0.1), pieces=3, waste=0.1)
    masses = [bowl.total_g for bowl in batch.bowls]
    assert sum(masses) == pytest.approx(1320.0, abs=0.1)
    assert masses[0] / sum(masses) == pytest.approx(0.75, abs=1e-3)
    assert batch.per_piece()[BLACK] == pytest.approx(batch.bowls[1].pigments_g[BLACK] / 3.3)


def test_density_of_plain_mix_is_that_of_its_volumes():
    """Cement 3.1, water 1.0 (from memory): 1.25 g in 1/3.1 + 1/4 ml is 2.183 g/ml, worked in fractions."""
    exact = Fraction(5, 4) / (Fraction(10, 31) + Fraction(1, 4))
    plain = wet_density(Mix.of("white-cement", {}), {})
    assert plain == pytest.approx(float(exact), abs=1e-12)
    densities = {"light": 1.8, "heavy": 5.2}
    for name in densities:  # why the guessed densities hardly matter
        assert 0.98 < wet_density(Mix.of("white-cement", {name: 0.02}), densities) / plain < 1.02


def test_shares_by_volume_and_a_mould_by_volume():
    """A mould of 200 ml: each tone takes its share of the volume, whatever its density."""
    heavy, plain = Mix.of("white-cement", {"heavy": 0.10}), Mix.of("grey-cement", {})
    densities = {"heavy": 5.2}
    tones = [Tone("a", heavy, 0.4), Tone("b", plain, 0.6)]
    fill_g = sum(200.0 * tone.share * wet_density(tone.mix, densities) for tone in tones)
    bowls = bowls_for(tones, fill_g=fill_g, waste=0.0, densities=densities)
    volumes = [bowl.cement_g * (1.25 + bowl.mix.total) / wet_density(bowl.mix, densities) for bowl in bowls]
    assert volumes == pytest.approx([80.0, 120.0])


def test_a_tone_without_share_gets_no_bowl():
    tones = [Tone("body", Mix.of("white-cement", {}), 1.0), Tone("speck", Mix.of("white-cement", {RED: 0.02}), 0.0)]
    assert [b.name for b in bowls_for(tones, fill_g=300.0)] == ["body"]


def test_cost_counts_what_has_a_price_and_names_what_has_none():
    batch = plan_batch([Bowl("A", Mix.of("white-cement", {RED: 0.02, BLACK: 0.01}), 1000.0)])
    cost, missing = batch.cost({"white-cement": 0.8, RED: 7.0, BLACK: None})
    assert cost == pytest.approx(0.8 + 0.02 * 7.0)
    assert missing == (BLACK,)


def test_cap_of_a_mixture_is_the_least_of_all():
    """ASTM C979, clause 1.4: the total of several pigments not above the least of their own maxima."""
    assert highest_load(0.05, [RED, "carbon-black"], {RED: 0.10, "carbon-black": 0.02}) == 0.02
    assert highest_load(0.05, [RED], {RED: 0.10, "carbon-black": 0.02}) == 0.05
    with pytest.raises(InputError, match=r"it must be more than 0 to 0.1"):
        highest_load(0.11, [RED])


def test_two_scales():
    """Cement and water on a kitchen scale of 1 g, pigment on a pocket scale of 0.01 g."""
    bowl = Bowl("A", Mix.of("white-cement", {RED: 0.0123}), 259.7)
    (weighed,) = plan_batch([bowl], scale_step_g=0.01, bulk_step_g=1.0).bowls
    assert (weighed.cement_g, weighed.pigments_g[RED], weighed.water_most_g) == (260.0, 3.2, 65.0)


masses = st.floats(20.0, 1500.0)
steps = st.sampled_from([0.01, 0.1, 0.5, 1.0])


@st.composite
def tones(draw):
    """One to three tones, each with up to four pigments and at most 5 %."""
    count = draw(st.integers(1, 3))
    shares = [draw(st.floats(0.15, 1.0)) for _ in range(count)]
    made = []
    for number, share in enumerate(shares):
        parts = draw(st.lists(st.floats(0.0, 1.0), min_size=0, max_size=4))
        total = draw(st.floats(0.0, 0.05))
        scale = total / max(math.fsum(parts), 1.0)
        loads = {f"p{i}": part * scale for i, part in enumerate(parts)}
        made.append(Tone(f"tone {number}", Mix.of("white-cement", loads), share / math.fsum(shares)))
    return made


@given(tones=tones(), fill=masses, pieces=st.integers(1, 40), waste=st.floats(0, 0.5), step=steps)
def test_all_bowls_add_up_and_none_passes_the_cap(tones, fill, pieces, waste, step):
    bowls = bowls_for(tones, fill_g=fill, pieces=pieces, waste=waste)
    batch = plan_batch(bowls, pieces=pieces, waste=waste, fill_g=fill, scale_step_g=step)
    assert abs(batch.total_g - fill * pieces * (1 + waste)) <= step + 1e-6
    for bowl in batch.bowls:
        assert bowl.pigment_g <= 0.05 * bowl.cement_g + 1e-9
        assert 0 <= bowl.water_start_g <= bowl.water_most_g
        for grams in (bowl.cement_g, bowl.water_start_g, bowl.water_most_g, *bowl.pigments_g.values()):
            assert abs(grams / step - round(grams / step)) < 1e-6


@given(tones=tones(), fill=masses, step=steps)
def test_every_pigment_is_within_a_step_or_the_cap_took_it_down(tones, fill, step):
    bowls = bowls_for(tones, fill_g=fill, waste=0.0)
    for bowl in plan_batch(bowls, scale_step_g=step).bowls:
        for name, load in bowl.wanted.mix.loads.items():
            assert abs(bowl.pigments_g[name] - load * bowl.cement_g) <= 1.5 * step + 1e-9


@given(grams=st.floats(0, 1e4), step=steps)
def test_round_to_is_the_nearest_mark(grams, step):
    assert abs(round_to(grams, step) - grams) <= step / 2 + 1e-6


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: bowls_for([], fill_g=300.0), InputError),
        (lambda: bowls_for([Tone("A", Mix.of("w", {}))], fill_g=0.0), InputError),
        (lambda: bowls_for([Tone("A", Mix.of("w", {}), 0.5)], fill_g=300.0), InputError),
        (lambda: bowls_for([Tone("A", Mix.of("w", {}))], fill_g=float("nan")), InputError),
        (lambda: bowls_for([Tone("A", Mix.of("w", {}))], fill_g=300.0, pieces=0), InputError),
        (lambda: bowls_for([Tone("A", Mix.of("w", {}))], fill_g=300.0, pieces=1.5), InputError),
        (lambda: bowls_for([Tone("A", Mix.of("w", {RED: 2.0}))], fill_g=300.0), LoadError),
        (lambda: bowls_for([Tone("A", Mix.of("w", {RED: float("nan")}))], fill_g=300.0), LoadError),
        (lambda: plan_batch([]), InputError),
        (lambda: plan_batch([Bowl("A", Mix.of("w", {RED: 0.03, BLACK: 0.03}), 260.0)]), LoadError),
        (lambda: plan_batch([Bowl("A", Mix.of("w", {}), 0.2)], bulk_step_g=1.0), RecipeError),
        (lambda: plan_batch([Bowl("A", Mix.of("w", {}), -5.0)]), InputError),
        (lambda: plan_batch([Bowl("A", Mix.of("w", {}), 260.0)], scale_step_g=0.0), InputError),
    ],
)
def test_bad_input_is_refused_in_plain_words(call, error):
    with pytest.raises(
        error, match=r"it must be|must add up|at least one|is allowed|less than the scale can show"
    ) as raised:
        call()
    assert isinstance(raised.value, ColormatchError)
    assert len(str(raised.value)) > 20
