"""Whether stated 90 % regions hold in each world by itself: 24 and 12 tiles, known and nameless jars, slip or none.

Twenty studios of each law, 60 shades in each, photographs of sd 0.7; after slips the shades are cast with the scatter
of the tiles. They shall hold 85 to 95 %, and do in 28 of 32; where they do not:
- 96 and 97 % with 12 tiles of nameless jars, careful, in two worlds: the freedom that is stated of them serves pigments
  stranger than those at hand.
- 77 and 83 % with 12 tiles of nameless jars and a slip, in two worlds. A pigment has two tiles, the top of its ladder
  and a tint with white, and curves of which nothing is known follow both: in none of 80 studios of the four worlds is
  the slip named. Half a dose in the tint, which alone tells the scattering, hides most: 73 to 86 % by world (81 % in
  all), 83 to 91 % at the top of a ladder.
In a world that is the model itself, pigments drawn from the prior, 11 of these tiles hold 94 % (known jars) and 93 %
(nameless), with a slip 93 and 92 % (40 studios, by hand): what is missing elsewhere is what the law and the starter
curves miss.
"""

import numpy as np
import pytest

import colormatch as cm
from tests.benchmarks.test_learning_lots import CAST_SD, cast
from tests.learning.trial import PHOTO_SD, SIX, WHITE, palette_for, pooled, predict, without_names
from tests.worlds.casting import World, training_loads
from tests.worlds.outside import OUTSIDE_WORLDS

SEASON = training_loads(SIX)
FEW = [loads for place, loads in enumerate(SEASON) if place % 3 == 0 or place > 18]  # blank, tops of ladders, tints


def studio(kind, seed, mixtures, known, slips):
    """What one studio's tiles say of shades nobody cast."""
    world, rng, palette = kind(seed, pigments=SIX), np.random.default_rng([seed, 77]), palette_for(SIX)
    tiles = cast(world, mixtures, rng, WHITE, PHOTO_SD, slips)
    if not known:
        palette, tiles = without_names(palette, tiles)
    learned, report = cm.learn(palette, tiles)
    scatter = CAST_SD if slips else 0.0  # the next cast scatters as the tiles did
    return predict(world, learned, report, np.random.default_rng(seed), known=known, count=60, cast_sd=scatter)


@pytest.mark.measure
@pytest.mark.parametrize("kind", [World, *OUTSIDE_WORLDS])
@pytest.mark.parametrize("mixtures", [SEASON, FEW], ids=["24", "12"])
@pytest.mark.parametrize("known", [True, False], ids=["known", "nameless"])
@pytest.mark.parametrize("slips", [False, True], ids=["careful", "slip"])
def test_regions_hold(kind, mixtures, known, slips, figure):
    mean, _, within = pooled([studio(kind, seed, mixtures, known, slips) for seed in range(20)])
    jars, care = "known jars" if known else "nameless jars", "a slip" if slips else "careful"
    count = "24" if mixtures is SEASON else "12"
    print(f"\n{kind.__name__}, {count} tiles, {jars}, {care}: mean {mean:.2f} dE00, {within:.1%} within 90 %")
    key = f"learn.bands.{kind.__name__}.{count}.{'known' if known else 'nameless'}.{'slip' if slips else 'careful'}"
    what = f"{kind.__name__}, {count} tiles, {jars}, {care}: 90 % regions hold"
    figure(key, what, 100 * within, "%", target="85..95")
    assert 0.7 <= within <= 0.99
