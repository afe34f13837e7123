"""From the wet piece to its dry shade."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import InputError
from colormatch.learning import dry_from_wet, random_recipes, recipes_near
from tests.learning.trial import SIX, WHITE, inside, palette_for, tiles_from
from tests.worlds.casting import World, random_loads, training_loads


def season(seed, demould_tiles):
    world, rng = World(seed, pigments=SIX), np.random.default_rng(seed)
    tiles = tiles_from(world, training_loads(SIX), rng)
    tiles += tiles_from(world, random_loads(rng, SIX, demould_tiles), rng, state="demould")
    return world, cm.learn(palette_for(SIX), tiles)[0], rng


def errors(world, palette, rng, count, *, known):
    error, covariance = [], []
    for loads in random_loads(rng, SIX, count):
        shade = cm.Shade(world.cast(loads, state="demould", rng=rng), sd=0.7)
        dry = dry_from_wet(palette, shade, loads if known else None, base=WHITE)
        error.append(world.lab(loads) - dry.lab)
        covariance.append(dry.covariance)
    return np.array(error), np.array(covariance)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 4])
def test_the_recipe_narrows_the_band_and_both_hold(seed):
    world, palette, rng = season(seed, 6)
    with_recipe, narrow = errors(world, palette, rng, 25, known=True)
    without, wide = errors(world, palette, rng, 12, known=False)
    assert np.trace(narrow.mean(axis=0)) < 0.5 * np.trace(wide.mean(axis=0))
    assert np.linalg.norm(with_recipe, axis=1).mean() < 1.2
    assert np.linalg.norm(without, axis=1).mean() < 3.0
    assert inside(with_recipe, narrow).mean() >= 0.8
    assert inside(without, wide).mean() >= 0.7


def test_an_odd_piece_is_corrected_by_what_it_shows():
    _, palette, _ = season(1, 6)
    loads = {"red-iron-oxide": 0.02}
    expected = palette.predict(loads, WHITE, "demould")
    dry = palette.predict(loads, WHITE)
    lighter = dry_from_wet(palette, cm.Shade(expected.lab + np.array([3.0, 0.0, 0.0]), sd=0.3), loads, base=WHITE)
    assert dry.lab[0] < lighter.lab[0] < dry.lab[0] + 4
    as_expected = dry_from_wet(palette, cm.Shade(expected.lab, sd=0.3), loads, base=WHITE)
    np.testing.assert_allclose(as_expected.lab, dry.lab, atol=1e-9)
    assert as_expected.sd < dry.sd


def test_without_any_wet_tile_the_band_is_wide():
    _, palette, _ = season(1, 0)
    shade = palette.predict({"red-iron-oxide": 0.02}, WHITE, "demould")
    assert dry_from_wet(palette, cm.Shade(shade.lab, sd=0.7), base=WHITE).sd > 1.5


def test_a_dry_state_is_refused():
    palette = cm.starter_palette()
    with pytest.raises(InputError, match="demould"):
        dry_from_wet(palette, cm.Shade((50, 0, 0)), base=WHITE, state="sealed")


def test_random_recipes_keep_every_limit():
    palette = cm.starter_palette()
    loads = random_recipes(palette, 500, cap=0.05, seed=0)
    assert loads.min() == 0.0
    assert loads.sum(axis=1).max() <= 0.05 + 1e-12
    assert (np.count_nonzero(loads, axis=1) <= 3).all()
    black = loads[:, list(palette.pigments).index("carbon-black")] > 0
    assert loads[black].sum(axis=1).max() <= 0.02 + 1e-12  # its own maximum holds for the total


def test_recipes_near_a_shade_are_near_it():
    palette = cm.starter_palette()
    lab = palette.predict({"red-iron-oxide": 0.01, "yellow-iron-oxide": 0.02}, WHITE).lab
    near = recipes_near(palette, lab, base=WHITE, count=40)
    off = cm.delta_e_2000(palette.predict_many(near, base=WHITE), lab)
    assert (off[40:] < 1).sum() > 10 > (off[:40] < 1).sum()  # drawing them closer helps
    assert len({tuple(np.flatnonzero(row)) for row in near[off < 1]}) > 3
