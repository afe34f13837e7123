"""The whole circle: learn, ask for a recipe, cast it; and how few tiles good advice needs. Run with -s for figures."""

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import PHOTO_SD, SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, random_loads, training_loads

pytestmark = pytest.mark.slow

GOAL = 1.0


def test_a_recipe_from_the_learned_palette_gives_the_shade_asked_for(figure):
    errors = []
    for seed in range(4):
        world, rng = World(seed, pigments=SIX), np.random.default_rng([seed, 40])
        learned, _ = cm.learn(palette_for(SIX), tiles_from(world, training_loads(SIX), rng))
        limits = cm.Limits(load_cap=0.05, pigments=SIX)
        for loads in random_loads(rng, SIX, 10):
            target = cm.Shade(world.lab(loads))
            best = cm.find_recipes(learned, target, base=WHITE, limits=limits)[0]
            errors.append(float(cm.delta_e_2000(world.lab(best.loads), target.lab)))
    figure("recipes.cast.mean", "a recipe cast after 24 tiles, 40 targets: mean", np.mean(errors), "dE00")
    figure("recipes.cast.p95", "the same: 95 % are under", np.quantile(errors, 0.95), "dE00")
    print(f"\nclosed loop, 40 targets: mean {np.mean(errors):.2f}, p95 {np.quantile(errors, 0.95):.2f} dE00")
    assert np.mean(errors) <= 1.0
    assert np.quantile(errors, 0.95) <= 2.0


def rung_by_rung():
    """The same tiles from weak to strong: blank, every pigment at 0.5 %, at 2 %, at 5 %, then the tints."""
    return _in_rungs((0.005, 0.02, 0.05))


def best_order():
    """The same tiles in the order that hindsight shows to be best: every pigment once at 2 % comes first."""
    return _in_rungs((0.02, 0.005, 0.05))


def _in_rungs(loads):
    rungs = [{name: load} for load in loads for name in SIX]
    return [{}, *rungs, *({name: 0.02, "titanium-white": 0.02} for name in SIX if name != "titanium-white")]


def tiles_needed(world, seed, shades, rows, ladder=None):
    """Tiles until the mean error over the mixtures in demand is at most GOAL; ladder=None: as advised."""
    palette = learned = palette_for(SIX)
    rng, truth, tiles = np.random.default_rng(seed), np.array([shade.lab for shade in shades]), []
    for rung in ladder or training_loads(SIX):
        loads = rung if ladder else dict(cm.next_tiles(learned, shades, 1, pigments=SIX)[0].loads)
        tiles.append(cm.Tile(WHITE, loads, cm.Shade(world.cast(loads, rng=rng), sd=PHOTO_SD)))
        learned, _ = cm.learn(palette, tiles)
        if cm.delta_e_2000(learned.predict_many(rows, base=WHITE), truth).mean() <= GOAL:
            break
    return len(tiles)


def test_advice_needs_fewer_tiles_than_a_fixed_ladder():
    """The fixed ladder is 24 tiles: cast pigment by pigment, from weak to strong, and in the best order there is."""
    needed = []
    for seed in range(12):
        world, rng = World(seed, pigments=SIX), np.random.default_rng(seed)
        mixtures = random_loads(rng, SIX, 10)
        shades = [cm.Shade(world.lab(loads)) for loads in mixtures]
        rows = np.array([palette_for(SIX).load_vector(loads) for loads in mixtures])
        plans = (None, training_loads(SIX), rung_by_rung(), best_order())
        needed.append([tiles_needed(world, seed, shades, rows, plan) for plan in plans])
    advised, *ladders = np.sum(needed, axis=0)
    print(f"\ntiles to a mean of {GOAL} dE00, as advised and by each ladder: {needed}")
    for name, ladder, most in zip(("by pigment", "by rung", "best order"), ladders, (0.6, 0.6, 0.85), strict=True):
        print(f"advised / ladder {name}: {advised} of {ladder}, {advised / ladder:.0%}")
        assert advised <= most * ladder
