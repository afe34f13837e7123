"""ASTM C979/C979M-16, clause 1.4: how much pigment may go into concrete.

At most 10 % of the mass of cement, and with several pigments together no more in all than the smallest
of their own maximum rates. (The clause in our words, from the standard's published scope.)
"""

from itertools import combinations

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import LoadError
from colormatch.recipes import explain_reach, reach
from colormatch.recipes.problem import Problem

pytestmark = pytest.mark.published(
    source="ASTM C979 clause 1.4; 5 % of 260 g = 13 g is common practice, no source",
    covers=[
        "Limits",
        "Palette",
        "find_recipes",
        "explain_reach",
        "reach",
    ],
)
TEN_PER_CENT = 0.10


@pytest.fixture(scope="module")
def palette():
    return cm.starter_palette()


def test_a_cap_of_ten_per_cent_can_be_set_and_no_more():
    assert cm.Limits(load_cap=TEN_PER_CENT).load_cap == TEN_PER_CENT
    with pytest.raises(LoadError, match="C979"):
        cm.Limits(load_cap=TEN_PER_CENT + 1e-9)


def test_a_prediction_beyond_ten_per_cent_is_refused(palette):
    palette.predict({"red-iron-oxide": TEN_PER_CENT}, "white-cement")
    with pytest.raises(LoadError, match="C979"):
        palette.predict({"red-iron-oxide": TEN_PER_CENT / 2, "titanium-white": TEN_PER_CENT / 2 + 1e-4}, "white-cement")


def test_the_cap_of_every_combination_is_the_smallest_of_its_own_maxima(palette):
    """All 129 sets of one to three starter pigments, carbon black's 2 % among them."""
    problem = Problem(palette, "white-cement", "dry", cm.Limits(load_cap=TEN_PER_CENT))
    own = [pigment.maximum_load for pigment in palette.pigments.values()]
    for size in (1, 2, 3):
        for chosen in combinations(range(len(own)), size):
            used = np.isin(np.arange(len(own)), chosen)
            assert problem.cap_of(used) == min(own[i] for i in chosen)


def test_one_weak_member_lowers_the_total_of_the_whole_mix(palette):
    """The darkest of red with carbon black: with it 2 % in all, without it 10 %."""
    dark = cm.Shade((20, 5, 3))
    wide = cm.Limits(load_cap=TEN_PER_CENT, pigments=["red-iron-oxide", "carbon-black"], must_use=["carbon-black"])
    for recipe in cm.find_recipes(palette, dark, limits=wide):
        assert recipe.total_load <= palette.pigments["carbon-black"].maximum_load + 1e-12
    red_only = cm.Limits(load_cap=TEN_PER_CENT, pigments=["red-iron-oxide"])
    assert cm.find_recipes(palette, dark, limits=red_only)[0].total_load > 0.05


def test_a_pigments_own_maximum_holds_below_ten_per_cent(palette):
    grown = palette.with_pigment("dye", like="red-iron-oxide", maximum_load=0.012)
    limits = cm.Limits(load_cap=TEN_PER_CENT, pigments=["dye", "titanium-white"], must_use=["dye"])
    for recipe in cm.find_recipes(grown, cm.Shade((45, 25, 20)), limits=limits):
        assert recipe.total_load <= 0.012 + 1e-12


def test_what_is_drawn_as_reach_and_offered_as_remedy_keeps_to_it(palette):
    limits = cm.Limits(load_cap=TEN_PER_CENT, pigments=["carbon-black"])
    darkest = palette.predict({"carbon-black": 0.02}, "white-cement").lab[0]
    assert reach(palette, limits=limits).lightness_range[0] == pytest.approx(darkest, abs=1e-6)
    report = explain_reach(palette, cm.Shade((20, 0, 0)), limits=cm.Limits(pigments=["carbon-black"]))
    assert report.distance == pytest.approx(
        float(cm.delta_e_2000([20, 0, 0], palette.predict({"carbon-black": 0.02}, "white-cement").lab)), abs=1e-3
    )
