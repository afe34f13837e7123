"""The whole chain: 24 tiles and the wanted pieces photographed beside a chart, learned, asked for, and cast.

Each studio has its camera and its lamp; one of its tiles got half the dose that was written down. The casts' optics,
the cameras and the lamps are those of `tests.worlds`, not the package's.
"""

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import SIX, WHITE, palette_for
from tests.worlds.camera import CAMERAS, LAMPS, photograph
from tests.worlds.casting import World, random_loads, training_loads
from tests.worlds.scenes import studio_scene

CAST_SD, WANTED, IN_A_FRAME = 0.5, 9, 9


def photographed(labs, spectra, seed):
    """The shades of up to nine pieces in one frame with a chart, each of a spectrum brought to its cast's CIELAB."""
    from colormatch.photo.population import recoloured

    rng = np.random.default_rng([seed, 5])
    camera, lamp = list(CAMERAS)[seed % 3], list(LAMPS)[seed // 3 % 6]
    pose = {"turn": rng.uniform(0, 360), "tilt": rng.uniform(0, 20), "tilt_axis": rng.uniform(0, 360)}
    scene = studio_scene(recoloured(spectra, labs), size=(1200, 900), **pose)
    data, facts = photograph(scene, camera, lamp, seed=int(rng.integers(1 << 30)))
    regions = [facts.regions[f"tile {place + 1}"] for place in range(len(labs))]
    return [photo.shade for photo in cm.measure_regions(data, regions=regions, reference=cm.Chart24())]


def in_frames(labs, spectra, seed):
    places = range(0, len(labs), IN_A_FRAME)
    return [
        shade
        for at in places
        for shade in photographed(labs[at : at + IN_A_FRAME], spectra[at : at + IN_A_FRAME], seed + 1000 * at)
    ]


def studio(seed):
    """dE00 that recipes come out at, that of single casts, and what was promised, for nine wanted shades."""
    world, rng = World(seed, pigments=SIX), np.random.default_rng([seed, 60])
    written = training_loads(SIX)
    poured = [dict(loads) for loads in written]
    slip = int(rng.choice([place for place, loads in enumerate(written) if len(loads) == 1]))
    poured[slip] = {name: load / 2 for name, load in poured[slip].items()}
    spectra = np.array([world.reflectance(loads) for loads in poured])
    labs = np.array([world.cast(loads, rng=rng, cast_sd=CAST_SD, photo_sd=0) for loads in poured])
    tiles = [cm.Tile(WHITE, loads, one) for loads, one in zip(written, in_frames(labs, spectra, seed), strict=True)]
    learned, _ = cm.learn(palette_for(SIX), tiles)
    mixtures = random_loads(rng, SIX, WANTED)
    true = np.array([world.lab(loads) for loads in mixtures])
    wanted = photographed(true, np.array([world.reflectance(loads) for loads in mixtures]), seed)
    recipes = [found[0] for found in cm.find_recipes(learned, wanted, WHITE, cm.Limits(pigments=SIX))]
    mean = np.array([world.lab(recipe.loads) for recipe in recipes])
    casts = mean + CAST_SD * rng.standard_normal(mean.shape)
    promised = np.array([recipe.expected_delta_e for recipe in recipes])
    return cm.delta_e_2000(mean, true), cm.delta_e_2000(casts, true), promised


def chain(seeds):
    reached, cast, promised = (np.concatenate(each) for each in zip(*map(studio, seeds), strict=True))
    ratio = promised.mean() / cast.mean()
    print(f"\n{len(reached)} recipes: mean {reached.mean():.2f}, p95 {np.quantile(reached, 0.95):.2f} dE00; "
          f"single casts {cast.mean():.2f}, promised {promised.mean():.2f}, ratio {ratio:.2f}")  # fmt: skip
    return reached, ratio


@pytest.mark.slow
def test_from_photographs_to_a_piece_in_three_studios():
    """One of them is the unlucky one: half a dose at the top of a ladder that learning cannot tell from a weak jar."""
    reached, ratio = chain(range(3))
    assert reached.mean() <= 1.2
    assert 0.6 <= ratio <= 1.6


@pytest.mark.measure
def test_from_photographs_to_a_piece_in_eighteen_studios(figure):
    """Every camera under every lamp. Reached: mean 0.67, 95 % under 1.66 (short of 1.5), ratio 1.14.

    18 tell the 95 % badly: of 300 to 317 it was 1.56, of 318 to 353 1.43 (by hand, photographs as read before, of which
    100 to 117 gave 1.82). With exact shades of tiles and target 300 to 317 give 0.56 and 1.24; exact shades of tiles
    alone 0.90 and 2.19: what a camera sees wrongly in tiles and target alike cancels. Of 500 to 535 (by hand): 0.70 and
    1.68; without the slip 0.66 and 1.55, with an exact target 0.65 and 1.44, with both 0.62 and 1.45. By what the
    frames of the tiles differ is no part of it: taken off exactly, 0.70 and 1.69.
    """
    reached, ratio = chain(range(100, 118))
    title = "photographed tiles and target to a recipe cast, 18 studios with a slip each"
    figure("chain.mean", f"{title}: mean", reached.mean(), "dE00", target="<= 0.75")
    figure("chain.p95", f"{title}: 95 % are under", np.quantile(reached, 0.95), "dE00", target="<= 1.5")
    figure("chain.ratio", f"{title}: promised to single casts", ratio, target="0.7..1.4")
    assert reached.mean() <= 0.75
    assert np.quantile(reached, 0.95) <= 2.0
    assert 0.7 <= ratio <= 1.4
