"""Bowls of a two-tone piece: they add up, keep the cap, and hold the shares by volume."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import colormatch as cm
from colormatch.design import Design, Mould, Tone, bowl_weights, tone_cap, wet_density
from colormatch.errors import InputError, LoadError, UnknownNameError

PALETTE = cm.starter_palette()
RED = {"red-iron-oxide": 0.02, "yellow-iron-oxide": 0.012}


def design(tones, fill_g=None, fill_ml=None, pieces=1, waste=0.1):
    return Design("layered", tones, Mould("Cup", "cup", fill_g=fill_g, fill_ml=fill_ml), pieces, waste)


def halves(first, second=None, base="white-cement"):
    return (Tone(base, first, 0.5), Tone(base, second or {}, 0.5))


@st.composite
def designs(draw):
    def loads():
        names = draw(st.lists(st.sampled_from(list(PALETTE.pigments)), max_size=4, unique=True))
        parts = [draw(st.floats(0.01, 1)) for _ in names]
        cap = min([0.05, *(PALETTE.pigments[name].maximum_load for name in names)])
        total = draw(st.floats(0.01, 1)) * cap
        return {name: total * part / sum(parts) for name, part in zip(names, parts, strict=True)}

    share = draw(st.floats(0.05, 0.95))
    bases = st.sampled_from(list(PALETTE.bases))
    tones = (Tone(draw(bases), loads(), share), Tone(draw(bases), loads(), 1 - share))
    fill = {draw(st.sampled_from(["fill_g", "fill_ml"])): draw(st.floats(60, 5000))}
    return design(tones, pieces=draw(st.integers(1, 40)), waste=draw(st.floats(0, 0.5)), **fill)


@settings(max_examples=300, deadline=None)
@given(designs(), st.sampled_from([0.01, 0.1, 0.5, 1.0]))
def test_bowls_add_up_and_keep_the_cap(plan, step):
    bowls = bowl_weights(plan, PALETTE, scale_step_g=step)
    if plan.mould.fill_g is not None:
        piece = plan.mould.fill_g
    else:
        piece = sum(tone.share * wet_density(tone.loads, PALETTE) for tone in plan.tones) * plan.mould.fill_ml
    wanted = piece * plan.pieces * (1 + plan.waste)
    assert abs(sum(bowl.total_g for bowl in bowls) - wanted) <= step / 2 + 1e-6
    for bowl, tone in zip(bowls, plan.tones, strict=True):
        smallest = min([0.05, *(PALETTE.pigments[name].maximum_load for name in tone.loads)])
        assert bowl.pigment_g <= smallest * bowl.cement_g + 1e-9
        weighings = [bowl.cement_g, bowl.water_g, *bowl.pigments_g.values()]
        assert all(abs(g / step - round(g / step)) < 1e-4 for g in weighings)
        assert all(g >= 0 for g in weighings)
        # Water takes up the rounding of cement and of each pigment: at most half a tick each, and its own.
        assert abs(bowl.water_g - 0.25 * bowl.cement_g) <= step * (2 + len(tone.loads))


@settings(max_examples=200, deadline=None)
@given(designs())
def test_shares_are_by_volume(plan):
    one, two = bowl_weights(plan, PALETTE, scale_step_g=0.01)
    share = one.volume_ml / (one.volume_ml + two.volume_ml)
    assert share == pytest.approx(plan.tones[0].share, abs=2e-3)


def test_the_bench_rule_of_4_to_1_and_5_per_cent():
    """260 g of cement: 65 g of water at 4:1, cap 13 g at 5 % (common practice, no source)."""
    full = Tone("white-cement", {"red-iron-oxide": 0.05}, 0.5)
    both = design((full, full), fill_g=2 * (260 + 65 + 13), waste=0)
    for bowl in bowl_weights(both, PALETTE):
        assert (bowl.cement_g, bowl.water_g, bowl.cap_g) == (260.0, 65.0, pytest.approx(13.0))
        assert bowl.pigments_g == {"red-iron-oxide": 13.0}


def test_density_of_plain_mix_is_that_of_its_volumes():
    """Cement 3.1, water 1.0 (from memory): 1.25 g in 1/3.1 + 1/4 ml is 2.183 g/ml, worked in fractions."""
    exact = Fraction(5, 4) / (Fraction(10, 31) + Fraction(1, 4))
    assert wet_density({}, PALETTE) == pytest.approx(float(exact), abs=1e-12)
    heavy = max(wet_density({name: 0.02}, PALETTE) for name in PALETTE.pigments)
    assert heavy / wet_density({}, PALETTE) < 1.02  # why the guessed densities hardly matter


def test_a_coarse_scale_is_said():
    tones = halves({"black-iron-oxide": 0.002})
    fine, coarse = (bowl_weights(design(tones, fill_g=400), PALETTE, scale_step_g=s)[0] for s in (0.01, 1.0))
    assert fine.rounding_delta_e < 0.3
    assert not fine.warnings
    assert coarse.rounding_delta_e > 0.5
    assert "rounding moves this tone" in coarse.warnings[0]


def test_over_the_cap_is_refused_with_the_value():
    with pytest.raises(LoadError, match=r"6\.00%.*5\.00%"):
        bowl_weights(design(halves({"red-iron-oxide": 0.06}), fill_g=300), PALETTE)
    carbon = PALETTE.pigments["carbon-black"].maximum_load
    assert tone_cap(Tone("white-cement", {"carbon-black": 0.01}), PALETTE) == carbon < 0.05
    with pytest.raises(LoadError, match="carbon-black"):
        tone_cap(Tone("white-cement", {"carbon-black": 0.01, "red-iron-oxide": 0.02}), PALETTE)


def test_a_bowl_too_small_for_the_scale_is_refused():
    with pytest.raises(InputError, match="too small for a scale"):
        bowl_weights(design(halves({}), fill_g=3, waste=0), PALETTE, scale_step_g=2)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Tone("white-cement", {}, 0.0), "share"),
        (lambda: design((Tone("white-cement", {}, 0.5), Tone("white-cement", {}, 0.4)), fill_g=9), "add up to 0.9"),
        (lambda: design(halves({}), fill_g=300, pieces=0), "number of pieces"),
        (lambda: design(halves({}), fill_g=300, waste=-0.1), "waste"),
        (lambda: design(halves({}), fill_g=300, fill_ml=200), "either fill_g"),
        (lambda: Mould("Cup", "vase", fill_g=300), "no form called 'vase'"),
        (lambda: Design("marbled", halves({}), Mould("Cup", "cup", fill_g=300)), "swirled"),
        (lambda: design((Tone("white-cement"),), fill_g=300), "has 1"),
    ],
)
def test_nonsense_is_refused_in_words(make, words):
    with pytest.raises(InputError, match=words):
        make()


def test_an_unknown_pigment_is_named():
    with pytest.raises(UnknownNameError, match="jar-9"):
        bowl_weights(design(halves({"jar-9": 0.01}), fill_g=300), PALETTE)
