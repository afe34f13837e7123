"""Grams a scale can show: the best of all neighbours, and never over a cap."""

from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import colormatch as cm
from colormatch import delta_e_2000
from colormatch.errors import LoadError, RecipeError

from .palettes import targets_in_and_out_of_reach


def within_limits(palette, limits, grams):
    """Every limit, from the definitions and not by the search's own code."""
    used = {name: g for name, g in grams.items() if g > 0}
    total = sum(used.values())
    caps = [limits.load_cap, 0.10, *(palette.pigments[name].maximum_load for name in used)]
    return (
        total <= min(caps) * limits.cement_g + 1e-6
        and all(g >= 0 for g in grams.values())
        and len(used) <= limits.max_pigments
        and all(g <= limits.stock_g.get(name, np.inf) + 1e-6 for name, g in used.items())
        and set(limits.must_use) <= set(used)
    )


@pytest.mark.slow
@pytest.mark.parametrize(("cement_g", "step"), [(780.0, 0.1), (250.0, 0.1), (400.0, 1.0)])
def test_the_rounded_recipe_is_the_best_of_all_its_neighbours(palette, cement_g, step):
    """Every recipe near its target against all 3^k combinations of one step up, down or none, by enumeration.

    Beyond 5 dE00 recipes are ranked and rounded by a distance that keeps hue, not by CIEDE2000.
    """
    limits = cm.Limits(cement_g=cement_g, scale_step_g=step)
    targets = targets_in_and_out_of_reach(palette, "white-cement", 20, seed=8)
    checked = 0
    for recipes in cm.find_recipes(palette, [cm.Shade(t) for t in targets], limits=limits):
        for recipe in recipes:
            if recipe.delta_e > 5:
                continue
            names = list(recipe.grams)
            for moves in product((-step, 0.0, step), repeat=len(names)):
                grams = {name: recipe.grams[name] + move for name, move in zip(names, moves, strict=True)}
                if any(g < -1e-9 for g in grams.values()) or not within_limits(palette, limits, grams):
                    continue
                loads = {name: max(g, 0.0) / cement_g for name, g in grams.items()}
                neighbour = delta_e_2000(recipe.target.lab, palette.predict(loads, "white-cement").lab)
                assert recipe.delta_e <= neighbour + 1e-6
                checked += 1
    assert checked > 500


def test_grams_are_whole_steps_and_loads_follow_from_them(palette):
    limits = cm.Limits(cement_g=333.0, scale_step_g=0.05)
    for recipe in cm.find_recipes(palette, cm.Shade((62, 12, 18)), limits=limits):
        for name, grams in recipe.grams.items():
            assert grams / 0.05 == pytest.approx(round(grams / 0.05), abs=1e-6)
            assert recipe.loads[name] == pytest.approx(grams / 333.0)
        assert recipe.total_load == pytest.approx(sum(recipe.grams.values()) / 333.0)


def test_a_finer_scale_is_no_worse(palette):
    targets = [cm.Shade(t) for t in targets_in_and_out_of_reach(palette, "white-cement", 12)]
    coarse, fine = (
        [min(r.delta_e for r in rs) for rs in cm.find_recipes(palette, targets, limits=cm.Limits(scale_step_g=step))]
        for step in (1.0, 0.01)
    )
    near = np.array(coarse) <= 5  # beyond, nearness is judged by a distance that keeps hue
    assert near.sum() >= 4
    assert np.mean(np.array(fine)[near]) < np.mean(np.array(coarse)[near])
    assert max((np.array(fine) - coarse)[near]) < 0.02


def test_a_scale_too_coarse_for_any_dose_leaves_the_bare_base(palette):
    limits = cm.Limits(cement_g=10.0, scale_step_g=1.0)  # one step is 10 % of the cement
    recipe = cm.find_recipes(palette, cm.Shade((52, 18, 20)), limits=limits)[0]
    assert dict(recipe.grams) == {}
    assert recipe.total_load == 0


MAXIMA = (0.1, 0.06, 0.03, 0.02, 0.01, 0.005)


def palette_with_own_maxima():
    """Six lots of starter pigments with maxima from 10 % down to 0.5 %."""
    palette, names = cm.starter_palette(), list(cm.starter_palette().pigments)
    for i, maximum in enumerate(MAXIMA):
        palette = palette.with_pigment(f"own-{i}", like=names[(2 * i) % len(names)], maximum_load=maximum)
    return palette


OWN = palette_with_own_maxima()
OWN_NAMES = [f"own-{i}" for i in range(len(MAXIMA))]


@st.composite
def anything(draw):
    """Limits, a target and a base, in the ranges a studio and a careless hand could come up with."""
    allowed = draw(st.lists(st.sampled_from(OWN_NAMES), min_size=1, max_size=4, unique=True))
    must = draw(st.lists(st.sampled_from(allowed), max_size=1, unique=True))
    stock = draw(st.dictionaries(st.sampled_from(allowed), st.floats(0.0, 60.0), max_size=2))
    others = [name for name in OWN_NAMES if name not in allowed]
    fixed = {}
    if others and draw(st.booleans()):
        fixed = {draw(st.sampled_from(others)): draw(st.floats(1e-4, 0.02))}
    limits = {
        "load_cap": draw(st.floats(0.0, 0.10)),
        "max_pigments": draw(st.integers(1, 4)),
        "cement_g": draw(st.floats(5.0, 5000.0)),
        "scale_step_g": draw(st.sampled_from([0.001, 0.01, 0.1, 0.5, 1.0, 5.0])),
        "pigments": allowed,
        "must_use": must,
        "stock_g": stock,
        "fixed_loads": fixed,
    }
    lab = (draw(st.floats(0, 100)), draw(st.floats(-80, 80)), draw(st.floats(-80, 80)))
    return limits, lab, draw(st.sampled_from(list(OWN.bases)))


def never_over_a_limit(case):
    fields, lab, base = case
    try:
        limits = cm.Limits(**fields)
        recipes = cm.find_recipes(OWN, cm.Shade(lab), base, limits, count=3)
    except (RecipeError, LoadError):
        return  # limits that contradict each other, said so
    assert recipes
    for recipe in recipes:
        assert within_limits(OWN, limits, recipe.grams)
        assert set(recipe.grams) <= {*limits.pigments, *limits.fixed_loads}
        assert np.isfinite([recipe.delta_e, recipe.expected_delta_e, recipe.inconstancy]).all()
        for name, load in limits.fixed_loads.items():
            assert abs(recipe.loads.get(name, 0.0) - load) <= limits.step_load * (1 + 1e-6)
        finer = recipe.preblended
        assert within_limits(OWN, limits, finer.grams)


RELAXED = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large]}


@pytest.mark.slow
@settings(max_examples=200, **RELAXED)
@given(anything())
def test_never_over_a_limit(case):
    never_over_a_limit(case)


@pytest.mark.measure
@pytest.mark.timeout(3600)
@settings(max_examples=10_000, **RELAXED)
@given(anything())
def test_never_over_a_limit_in_ten_thousand_cases(case):
    never_over_a_limit(case)
