"""The first recipe counts the uncertainty in: a pigment nobody has cast must not win by a hundredth of a dE00."""

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import SIX, WHITE, tiles_from
from tests.worlds.casting import World, random_loads, training_loads


def season(seed):
    """A world of the nine starter pigments, of which the maker has cast six: 24 tiles; and what is learned."""
    world, rng = World(seed), np.random.default_rng([seed, 40])
    learned, _ = cm.learn(cm.starter_palette(), tiles_from(world, training_loads(SIX), rng))
    return world, rng, learned


@pytest.fixture(scope="module")
def learned():
    return season(0)[2]


@pytest.mark.parametrize("lab", [(60, -5, 5), (52, 18, 20), (70, 5, 25), (45, 3, -8)])
def test_a_pigment_never_cast_is_not_first_where_a_far_safer_recipe_exists(learned, lab):
    recipes = cm.find_recipes(learned, cm.Shade(lab))
    cast_only = cm.find_recipes(learned, cm.Shade(lab), limits=cm.Limits(pigments=SIX))
    surest_cast = min(recipe.expected_delta_e for recipe in cast_only)
    assert recipes[0].expected_delta_e <= max(2 * surest_cast, surest_cast + 0.1)


def test_the_closest_is_always_in_the_list_and_says_so(learned):
    """Also where it stands on a pigment never cast, and another goes before it."""
    targets = [cm.Shade(lab) for lab in ((60, -5, 5), (52, 18, 20), (70, 5, 25), (45, 3, -8), (75, 10, 10))]
    safer = 0
    for recipes in cm.find_recipes(learned, targets):
        closest = [r for r in recipes if "Closest by the model." in r.reasons]
        assert len(closest) == 1
        assert closest[0].delta_e <= min(r.delta_e for r in recipes) + 0.011
        first, other = recipes[0], closest[0]
        if first.expected_delta_e < other.expected_delta_e:
            safer += 1
        elif first is not other:  # as good to every eye, and made of fewer jars
            assert len(first.loads) < len(other.loads)
            assert first.delta_e <= other.delta_e + 0.1
            assert first.expected_delta_e < other.expected_delta_e + 0.1
    assert safer


@pytest.mark.slow
def test_what_is_asked_for_is_cast_though_the_palette_holds_pigments_never_cast():
    errors, uncast = [], 0
    for seed in range(4):
        world, rng, learned = season(seed)
        targets = [cm.Shade(world.lab(loads)) for loads in random_loads(rng, SIX, 15)]
        for target, recipes in zip(targets, cm.find_recipes(learned, targets, WHITE), strict=True):
            errors.append(float(cm.delta_e_2000(world.lab(recipes[0].loads), target.lab)))
            uncast += not set(recipes[0].loads) <= set(SIX)
    said = f"{uncast} of {len(errors)} recipes with a pigment never cast; mean {np.mean(errors):.2f}"
    assert np.mean(errors) <= 1.0, said
    assert np.quantile(errors, 0.95) <= 2.0, said
