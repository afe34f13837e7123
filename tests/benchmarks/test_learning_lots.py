"""New bag under the old name: how often two blanks tell, how often the question is a false alarm. Run with -s.

Twelve studios of four laws, 24 tiles each, then two blanks of the same bag or of one with 30 % more absorption and 12 %
less scattering. White at a photograph's sd of 0.7 is the limit: its blank moves by 1.5 CIELAB units only.
"""

from dataclasses import replace

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import GREY, SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, training_loads
from tests.worlds.outside import OUTSIDE_WORLDS

pytestmark = pytest.mark.slow

STUDIOS = 12


def with_new_bag(world, base):
    """The same studio after it bought another bag."""
    other = type(world)(world.seed, pigments=world.pigments)
    paste = world.pastes[base]
    if hasattr(paste, "grains"):
        pores = {liquid: 0.88 * share for liquid, share in paste.pores.items()}
        changed = replace(paste, absorption=1.3 * paste.absorption, grains=0.88 * paste.grains, pores=pores)
    else:
        changed = replace(paste, absorption=1.3 * paste.absorption, scattering=0.88 * paste.scattering)
    other.pastes = {**world.pastes, base: changed}
    return other


@pytest.mark.parametrize(("base", "photo_sd", "least"), [(WHITE, 0.15, 11), (WHITE, 0.7, 8), (GREY, 0.7, 11)])
def test_a_new_bag_is_asked_about(base, photo_sd, least):
    found = false = 0
    for seed in range(STUDIOS):
        world = (World, *OUTSIDE_WORLDS)[seed % 4](seed, pigments=SIX)
        rng = np.random.default_rng([seed, 5])
        tiles = tiles_from(world, training_loads(SIX), rng, base=base, photo_sd=photo_sd)
        same, new = (
            tiles_from(studio, [{}, {}], rng, base=base, photo_sd=photo_sd)
            for studio in (world, with_new_bag(world, base))
        )
        false += bool(cm.learn(palette_for(SIX), tiles + same)[1].lots)
        found += any(lot.kind == "bag" for lot in cm.learn(palette_for(SIX), tiles + new)[1].lots)
    print(f"\n{base}, photograph {photo_sd}: found in {found} of {STUDIOS}, false alarms {false}")
    assert found >= least
    assert false <= 1
