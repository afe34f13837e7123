"""How well 24 photographed tiles predict mixtures nobody has cast, in studios that are not Kubelka-Munk.

Each figure is over ten simulated studios (fixed seeds) with a noise of 0.7 CIELAB units per photographed tile,
held-out mixtures of one to three pigments up to 5 %. Run with -s to see the figures.
"""

import numpy as np
import pytest

import colormatch as cm
from tests.learning.trial import GREY, JARS, PHOTO_SD, SIX, WHITE, palette_for, pooled, season, tiles_from
from tests.worlds.casting import World, random_loads, training_loads

WORLDS = range(10)

pytestmark = pytest.mark.slow


@pytest.fixture
def trials(figure):
    """`trials("key", "in words", **conditions)`: (mean, p95, share within), on the page of figures too."""

    def run(key, what, **conditions):
        mean, p95, within = tried(**conditions)
        figure(f"learn.{key}.mean", f"{what}: mean", mean, "dE00")
        figure(f"learn.{key}.p95", f"{what}: 95 % are under", p95, "dE00")
        figure(f"learn.{key}.within", f"{what}: 90 % regions hold", 100 * within, "%", target="85..95")
        return mean, p95, within

    return run


def tried(**conditions):
    held = [season(seed, held_out=60, **conditions) for seed in WORLDS]
    mean, p95, within = pooled(held)
    print(f"\n{conditions or 'dry, white base'}: mean {mean:.2f}, p95 {p95:.2f} dE00, {within:.1%} within 90 %")
    return mean, p95, within


@pytest.mark.parametrize("base", [WHITE, GREY])
def test_dry_mixtures(base, trials):
    mean, p95, within = trials(f"dry.{base.split('-')[0]}", f"24 tiles, dry mixtures, {base}", base=base)
    assert mean <= 0.8
    assert p95 <= 1.6
    assert 0.85 <= within <= 0.95


def test_documented_pigments_before_any_tile(figure):
    """What the starter curves alone give; forty mixtures in each studio."""
    palette, off = palette_for(SIX), []
    for seed in WORLDS:
        world, mixtures = World(seed, pigments=SIX), random_loads(np.random.default_rng(seed), SIX, 40)
        rows = np.array([palette.load_vector(loads) for loads in mixtures])
        truth = np.array([world.lab(loads) for loads in mixtures])
        off.append(cm.delta_e_2000(palette.predict_many(rows, base=WHITE), truth))
    mean, p95 = np.mean(off), np.quantile(off, 0.95)
    figure("learn.before.mean", "before any tile, known kinds of pigment: mean", mean, "dE00")
    figure("learn.before.p95", "the same: 95 % are under", p95, "dE00")
    assert mean <= 6
    assert p95 <= 12


@pytest.mark.parametrize("base", [WHITE, GREY])
def test_wet_mixtures_after_six_wet_tiles(base, trials):
    what = f"24 tiles and 6 wet ones, wet mixtures, {base}"
    mean, p95, within = trials(f"wet.{base.split('-')[0]}", what, base=base, wet_tiles=6, state="wet")
    assert mean <= 1.0
    assert p95 <= 2.0
    assert 0.85 <= within <= 0.95


def test_pigments_of_which_nothing_is_known(trials):
    mean, p95, within = trials("unknown", "24 tiles, six nameless jars", known=False)
    assert mean <= 0.8
    assert p95 <= 1.6
    assert 0.85 <= within <= 0.95


def test_pigments_of_any_hue_without_a_name(trials):
    """Falls short of 0.8 and 1.6: bands as narrow as 25 nm do not fit on knots every 50 nm, nor in three numbers."""
    mean, p95, within = trials("anyhue", "24 tiles, six nameless jars of random hue", pigments=JARS)
    assert mean <= 1.0
    assert p95 <= 2.6
    assert 0.85 <= within <= 0.95


def test_casting_that_scatters(trials):
    """Each cast 0.8 off its recipe in each of L*, a*, b*: the bands must widen with it."""
    mean, _, within = trials("scatter", "24 tiles, casts that scatter by 0.8", cast_sd=0.8)
    assert mean <= 1.0
    assert 0.85 <= within <= 0.95


@pytest.mark.parametrize("photo_sd", [0.05, 0.4])
def test_better_photographs(photo_sd, trials):
    """Here the bands err a little to the wide side: one floor has to serve studios further from Kubelka-Munk too."""
    mean, _, within = trials(f"photo-{photo_sd:g}", f"24 tiles, photographs of sd {photo_sd:g}", photo_sd=photo_sd)
    assert mean <= 0.55
    assert 0.85 <= within <= 0.98


def test_a_mislabelled_tile_is_named_and_costs_little():
    named, cost = [], []
    palette = palette_for(SIX)
    mixtures = training_loads(SIX)
    for seed in WORLDS:
        world, rng = World(seed, pigments=SIX), np.random.default_rng([seed, 9])
        tiles = tiles_from(world, mixtures, rng)
        place, wrong = int(rng.integers(1, 19)), {SIX[int(rng.integers(len(SIX)))]: 0.02}
        while not world_apart(world, mixtures[place], wrong):
            wrong = {SIX[int(rng.integers(len(SIX)))]: 0.02}
        wrong_one = list(tiles)
        wrong_one[place] = cm.Tile(WHITE, mixtures[place], tiles_from(world, [wrong], rng)[0].shade)
        (good, _), (bad, report) = cm.learn(palette, tiles), cm.learn(palette, wrong_one)
        named.append([one.place for one in report.suspects] == [place])
        held = random_loads(rng, SIX, 60)
        rows = np.array([palette.load_vector(loads) for loads in held])
        truth = world.lab_many(np.array([world.row(loads) for loads in held]))
        errors = [cm.delta_e_2000(p.predict_many(rows, base=WHITE), truth).mean() for p in (good, bad)]
        cost.append(errors[1] - errors[0])
    print(
        f"\nmislabelled: named in {sum(named)} of {len(named)}, costs {np.mean(cost):.3f}, at most {max(cost):.3f} dE00"
    )
    assert all(named)
    assert max(cost) < 0.2


def test_half_a_dose_at_the_top_of_a_ladder():
    """Nothing lies beyond the last rung, so that the curve may bend to it: another dose is a story of its own."""
    named, cost, sound = [], [], []
    palette, mixtures = palette_for(SIX), training_loads(SIX)
    for seed in range(4):
        world, rng = World(seed, pigments=SIX), np.random.default_rng([seed, 9])
        tiles = tiles_from(world, mixtures, rng)
        good, report = cm.learn(palette, tiles)
        sound.append(len(report.suspects) / len(tiles))
        for name in SIX:
            place = mixtures.index({name: 0.05})
            half = tiles_from(world, [{name: 0.025}], rng)[0].shade
            wrong_one = [*tiles[:place], cm.Tile(WHITE, mixtures[place], half), *tiles[place + 1 :]]
            bad, report = cm.learn(palette, wrong_one)
            named.append([one.place for one in report.suspects] == [place])
            held = [loads for loads in random_loads(rng, SIX, 60) if name in loads]
            rows = np.array([palette.load_vector(loads) for loads in held])
            truth = world.lab_many(np.array([world.row(loads) for loads in held]))
            errors = [cm.delta_e_2000(p.predict_many(rows, base=WHITE), truth).mean() for p in (good, bad)]
            cost.append(errors[1] - errors[0])
    print(f"\nhalf a dose at the top: named in {sum(named)} of {len(named)}, costs {np.mean(cost):.2f} dE00 on average")
    assert np.mean(named) >= 0.6
    assert np.mean(sound) <= 0.02
    assert np.mean(cost) <= 0.2


def world_apart(world, loads, other):
    """A wrong label nobody could see is no wrong label."""
    return cm.delta_e_2000(world.lab(loads), world.lab(other)) > 5 * PHOTO_SD
