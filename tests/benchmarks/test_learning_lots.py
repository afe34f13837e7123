"""New bag under the old name: how often two blanks tell, how often the question is a false alarm. Run with -s.

Studios of four laws, 24 tiles each, then two blanks of the same bag or of one with 30 % more absorption and 12 %
less scattering. White at a photograph's sd of 0.7 is the limit: its blank moves by 1.5 CIELAB units only.
"""

from dataclasses import replace

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import GREY, SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, random_loads, training_loads
from tests.worlds.outside import OUTSIDE_WORLDS

pytestmark = pytest.mark.slow

CAST_SD = 0.3  # of casts with slips, CIELAB


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


def cast(studio, mixtures, rng, base, photo_sd, slips):
    """Tiles; with slips doses are 3 % off, casts scatter, and of a whole season one tile got half its dose."""
    if not slips:
        return tiles_from(studio, mixtures, rng, base=base, photo_sd=photo_sd)
    wrong = int(rng.integers(1, len(mixtures))) if len(mixtures) > 2 else None
    out = []
    for place, loads in enumerate(mixtures):
        share = 0.5 if place == wrong else 1.0
        weighed = {name: load * share * np.exp(0.03 * rng.standard_normal()) for name, load in loads.items()}
        (tile,) = tiles_from(studio, [weighed], rng, base=base, photo_sd=photo_sd, cast_sd=CAST_SD)
        out.append(cm.Tile(base, loads, tile.shade))
    return out


def asked(studios, base, photo_sd, slips, first=0):
    """Shares of studios asked about a new bag, asked although it is the same, and dE00 off after one blank of it."""
    palette, found, false, off = palette_for(SIX), [], [], []
    for seed in range(first, first + studios):
        world, rng = (World, *OUTSIDE_WORLDS)[seed % 4](seed, pigments=SIX), np.random.default_rng([seed, 5])
        other = with_new_bag(world, base)
        tiles = cast(world, training_loads(SIX), rng, base, photo_sd, slips)
        same, new = (cast(studio, [{}, {}], rng, base, photo_sd, slips) for studio in (world, other))
        false.append(bool(cm.learn(palette, tiles + same)[1].lots))
        found.append(any(lot.kind == "bag" for lot in cm.learn(palette, tiles + new)[1].lots))
        known = [*tiles, cm.Tile("bag-2", {}, new[0].shade)]
        learned, _ = cm.learn(palette.with_base("bag-2", like=base), known)
        mixtures = random_loads(rng, SIX, 30)
        rows = np.array([learned.load_vector(loads) for loads in mixtures])
        truth = other.lab_many(np.array([other.row(loads) for loads in mixtures]), base)
        off.append(cm.delta_e_2000(learned.predict_many(rows, base="bag-2"), truth).mean())
    print(f"\n{base}, photograph {photo_sd}, slips {slips}: found {np.mean(found):.0%} of {studios}, "
          f"false alarms {np.mean(false):.1%}, {np.mean(off):.2f} dE00 off after one blank")  # fmt: skip
    return np.mean(found), np.mean(false), np.mean(off)


@pytest.mark.parametrize(
    ("base", "photo_sd", "slips", "least"),
    [(WHITE, 0.15, True, 0.9), (WHITE, 0.7, False, 0.8), (GREY, 0.7, False, 0.9)],
)
def test_a_new_bag_is_asked_about(base, photo_sd, slips, least):
    found, false, off = asked(12, base, photo_sd, slips)
    assert found >= least
    assert false <= 1 / 12
    assert off <= 1.3


@pytest.mark.measure
@pytest.mark.parametrize("first", [0, 40])
@pytest.mark.parametrize("base", [WHITE, GREY])
@pytest.mark.parametrize("slips", [False, True])
@pytest.mark.parametrize(("photo_sd", "least"), [(0.15, 0.95), (0.7, 0.8)])
def test_a_new_bag_in_forty_studios(base, photo_sd, slips, least, first):
    """White at 0.7 with slips is the hardest: a perfectly known base would give 84 %.

    The evidence it takes to ask was chosen on the first forty of white at 0.7 with slips (32 found, 2 asked about in
    vain), not on the other forty (34 and 2).
    """
    found, false, off = asked(40, base, photo_sd, slips, first)
    assert found >= least
    assert false <= 0.05
    assert off <= 1.2
