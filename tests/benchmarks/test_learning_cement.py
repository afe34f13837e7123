"""A cement nobody knows: any bag, by a blank, then by ladders of two pigments in it. Run with -s for the figures.

A season of 24 tiles in a white cement, then the bag: 1.3 to 33 times the white's absorption, warm or cold, from less or
more scattering. Studios of four laws in turn, photographs of sd 0.7, thirty mixtures nobody cast in the bag.
"""

from dataclasses import replace

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import PHOTO_SD, SIX, WHITE, inside, palette_for, tiles_from
from tests.worlds.casting import World, random_loads, training_loads
from tests.worlds.outside import OUTSIDE_WORLDS

TOLD_BY = [{}, *({name: load} for name in ("red-iron-oxide", "titanium-white") for load in (0.01, 0.04))]


def with_any_bag(world, rng):
    """The same studio, its white cement now any other."""
    other, paste = type(world)(world.seed, pigments=world.pigments), world.pastes[WHITE]
    across = np.linspace(-1, 1, 31)
    darker = np.exp(rng.uniform(0.3, 3.5) + rng.uniform(-1, 0.5) * across + rng.normal(0, 0.25) * across**2)
    scatter = np.exp(rng.normal(0, 0.3))
    changes = {"absorption": darker * paste.absorption}
    if hasattr(paste, "grains"):
        pores = {liquid: scatter * share for liquid, share in paste.pores.items()}
        changes |= {"grains": scatter * paste.grains, "pores": pores}
    else:
        changes["scattering"] = scatter * paste.scattering
    other.pastes = {**world.pastes, WHITE: replace(paste, **changes)}
    return other


def off_after(seed, counts=(1, 5)):
    """Mean CIEDE2000 in the bag after its first tiles, and the share of photographed mixtures within their regions."""
    world, rng = (World, *OUTSIDE_WORLDS)[seed % 4](seed, pigments=SIX), np.random.default_rng([seed, 31])
    bag, palette = with_any_bag(world, rng), palette_for(SIX).with_base("bag", like=None)
    season = tiles_from(world, training_loads(SIX), rng)
    own = [cm.Tile("bag", tile.loads, tile.shade) for tile in tiles_from(bag, TOLD_BY, rng)]
    mixtures, out = random_loads(np.random.default_rng(seed), SIX, 30), []
    truth = bag.lab_many(np.array([bag.row(loads) for loads in mixtures]))
    seen = truth + PHOTO_SD * rng.standard_normal(truth.shape)
    for count in counts:
        learned, _ = cm.learn(palette, season + own[:count])
        rows = np.array([learned.load_vector(loads) for loads in mixtures])
        lab, covariance = learned.predict_with_covariance(rows, base="bag")
        held = inside(seen - lab, covariance + PHOTO_SD**2 * np.eye(3)).mean()
        out.append((cm.delta_e_2000(lab, truth).mean(), held))
    return out


@pytest.mark.slow
@pytest.mark.parametrize("studios", [8, pytest.param(20, marks=pytest.mark.measure)])
def test_any_cement_is_told_by_a_blank_and_its_ladders(studios, figure):
    off, held = np.mean([off_after(seed) for seed in range(studios)], axis=0).T
    print(f"\nany bag after a blank {off[0]:.2f}, after four more {off[1]:.2f} dE00; {held.round(2)} within")
    if studios == 20:
        figure("learn.cement.blank", "a cement nobody knows, after a blank of it: mean of 20 studios", off[0], "dE00")
        figure("learn.cement.ladders", "the same after two tiles each of two pigments in it", off[1], "dE00")
    assert off[0] <= 3.2
    assert off[1] <= 1.0
    assert (held >= 0.85).all()
