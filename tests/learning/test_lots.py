"""A new bag under the old name is asked about: not absorbed, not blamed on single tiles. Sound seasons are silent."""

from dataclasses import replace

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, training_loads


def with_new_bag(world):
    """The same studio after it bought another bag: 30 % more absorption, 12 % less scattering."""
    other = World(world.seed, pigments=world.pigments)
    paste = world.pastes[WHITE]
    pores = {liquid: 0.88 * share for liquid, share in paste.pores.items()}
    other.pastes[WHITE] = replace(paste, absorption=1.3 * paste.absorption, grains=0.88 * paste.grains, pores=pores)
    return other


@pytest.fixture(scope="module")
def season():
    world, rng = World(0, pigments=SIX), np.random.default_rng(5)
    tiles = tiles_from(world, training_loads(SIX), rng, photo_sd=0.3)
    blanks = [tiles_from(studio, [{}, {}], rng, photo_sd=0.3) for studio in (world, with_new_bag(world))]
    return tiles, *blanks


def test_two_blanks_of_a_new_bag_raise_the_question(season):
    tiles, _, new = season
    _, report = cm.learn(palette_for(SIX), tiles + new)
    (lot,) = report.lots
    assert (lot.kind, lot.name, lot.places) == ("bag", WHITE, (24, 25))
    assert not report.suspects
    assert any("A new bag of White cement? The newest 2 tiles of it came out darker" in one for one in report.warnings)


def test_the_tiles_in_question_are_left_aside(season):
    tiles, _, new = season
    (before, _), (after, _) = (cm.learn(palette_for(SIX), tiles), cm.learn(palette_for(SIX), tiles + new))
    assert cm.delta_e_2000(before.predict({}, WHITE).lab, after.predict({}, WHITE).lab) < 0.2


def test_two_blanks_of_the_same_bag_are_no_question(season):
    tiles, same, _ = season
    assert cm.learn(palette_for(SIX), tiles + same)[1].lots == ()


def test_told_as_a_new_bag_one_blank_teaches_it(season):
    tiles, _, new = season
    palette = palette_for(SIX).with_base("bag-2", like=WHITE)
    learned, report = cm.learn(palette, [*tiles, replace_base(new[0])])
    assert report.lots == ()
    world = with_new_bag(World(0, pigments=SIX))
    loads = {"red-iron-oxide": 0.015, "titanium-white": 0.01}
    assert cm.delta_e_2000(learned.predict(loads, "bag-2").lab, world.lab(loads)) < 1.5


def replace_base(tile):
    return cm.Tile("bag-2", tile.loads, tile.shade)
