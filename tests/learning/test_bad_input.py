"""Bad or meagre input: a clear answer, with wide bands or an error; never a silent wrong one."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import ColormatchError, InputError, LearningError, LoadError, UnknownNameError
from colormatch.workshop.shelf import only
from tests.learning.trial import SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, training_loads

PALETTE = cm.starter_palette()
RED = {"red-iron-oxide": 0.02}


def tile(loads, lab, **details):
    return cm.Tile(WHITE, loads, cm.Shade(lab, sd=0.7), **details)


def test_no_tiles():
    with pytest.raises(LearningError, match="no tiles"):
        cm.learn(PALETTE, [])


@pytest.mark.parametrize("tiles", [None, 3, cm.Tile(WHITE, RED, cm.Shade((60, 10, 5))), "tile", [None]])
def test_things_that_are_no_tiles(tiles):
    with pytest.raises(LearningError, match=r"(?i)tile"):
        cm.learn(PALETTE, tiles)


@pytest.mark.parametrize("palette", [None, "starter", {}])
def test_things_that_are_no_palette(palette):
    with pytest.raises(LearningError, match="Palette"):
        cm.learn(palette, [tile(RED, (60, 10, 20))])
    with pytest.raises(ColormatchError, match="Palette"):
        cm.dry_from_wet(palette, cm.Shade((60, 10, 5)), base=WHITE)


@pytest.mark.parametrize(
    "changes",
    [{"shade": (60, 10, 5)}, {"loads": 3}, {"loads": {"red-iron-oxide": True}}, {"base": []}, {"state": None}],
)
def test_wrong_types_for_the_dry_shade(changes):
    given = {"shade": cm.Shade((60, 10, 5)), "loads": RED, "base": WHITE} | changes
    with pytest.raises(ColormatchError, match=r"\.$"):
        cm.dry_from_wet(PALETTE, given.pop("shade"), given.pop("loads"), **given)


@pytest.mark.parametrize("lab", [(np.nan, 0, 0), (60, np.inf, 0), (400, 0, 0)])
def test_a_shade_that_is_none_never_becomes_a_tile(lab):
    with pytest.raises(ColormatchError, match=r"\.$"):
        tile(RED, lab)


def test_names_the_palette_does_not_know():
    with pytest.raises(UnknownNameError, match="pigment called 'ochre'"):
        cm.learn(PALETTE, [tile({"ochre": 0.02}, (60, 10, 20))])
    with pytest.raises(UnknownNameError, match="base called 'clay'"):
        cm.learn(PALETTE, [cm.Tile("clay", RED, cm.Shade((60, 10, 20)))])
    with pytest.raises(UnknownNameError, match="sealed:wax"):
        cm.learn(PALETTE, [tile(RED, (60, 10, 20), state="sealed:wax")])
    with pytest.raises(LearningError, match="dict"):
        cm.learn(PALETTE, [{"base": WHITE}])


def test_loads_over_ten_per_cent():
    with pytest.raises(LoadError, match="10 %"):
        tile({"red-iron-oxide": 0.2}, (40, 20, 10))


def test_one_tile_moves_its_own_pigment_and_stays_unsure_of_others():
    learned, report = cm.learn(PALETTE, [tile(RED, (55, 22, 18))])
    here, there = learned.predict(RED, WHITE), learned.predict({"yellow-iron-oxide": 0.02}, WHITE)
    assert np.linalg.norm(here.lab - (55, 22, 18)) < 2
    assert there.sd > 2.5 * here.sd
    assert there.sd > 0.8 * PALETTE.predict({"yellow-iron-oxide": 0.02}, WHITE).sd
    assert any("one tile" in warning for warning in report.warnings)
    assert report.coverage is None


def test_the_same_tile_ten_times_is_no_ladder():
    learned, report = cm.learn(PALETTE, [tile(RED, (55, 22, 18))] * 10)
    assert any("one recipe" in warning for warning in report.warnings)
    loads = [RED, {"red-iron-oxide": 0.002}, {"red-iron-oxide": 0.01, "yellow-iron-oxide": 0.02}]
    rows = np.array([learned.load_vector(one) for one in loads])
    _, covariance = learned.predict_with_covariance(rows, base=WHITE, casting=False)
    cast, weaker, mixed = np.sqrt(np.trace(covariance, axis1=1, axis2=2) / 3)
    assert cast < 0.6
    assert weaker > 1.5 * cast
    assert mixed > 2


def test_one_recipe_cast_often_does_not_narrow_what_casting_may_do_elsewhere():
    """The misfit of the law is shared by all casts of a recipe: it can be neither seen nor averaged away."""
    learned, _ = cm.learn(PALETTE, [tile(RED, (55, 22, 18))] * 24)
    assert learned.cast_sd >= PALETTE.cast_sd
    row = learned.load_vector(RED)[None, :]
    _, (covariance,) = learned.predict_with_covariance(row, base=WHITE, casting=False)
    assert np.sqrt(np.trace(covariance) / 3) > 0.25


def test_two_tiles_that_contradict_each_other_leave_wide_bands():
    for palette, name in ((PALETTE, "red-iron-oxide"), (PALETTE.with_pigment("jar"), "jar")):
        learned, report = cm.learn(palette, [tile({name: 0.02}, (50, 20, 15)), tile({name: 0.02}, (80, 0, 0))])
        assert learned.predict({name: 0.02}, WHITE).sd > 5
        assert any("apart" in warning for warning in report.warnings)
        assert any("contradict" in warning for warning in report.warnings)


def test_labels_shuffled_altogether_leave_wide_bands():
    world, mixtures = World(1, pigments=SIX), training_loads(SIX)
    tiles = tiles_from(world, mixtures, np.random.default_rng(1))
    order = np.random.default_rng(0).permutation(len(tiles))
    shuffled = [cm.Tile(WHITE, loads, tiles[at].shade) for loads, at in zip(mixtures, order, strict=True)]
    learned, report = cm.learn(palette_for(SIX), shuffled)
    assert any("contradict" in warning for warning in report.warnings)
    rows = np.array([learned.load_vector(loads) for loads in mixtures])
    lab, covariance = learned.predict_with_covariance(rows, base=WHITE)
    error = world.lab_many(np.array([world.row(loads) for loads in mixtures])) - lab
    far = np.einsum("ni,ni->n", error, np.linalg.solve(covariance, error[..., None])[..., 0])
    assert (far < 6.25).mean() > 0.8


def test_exact_shades_without_any_doubt_can_be_learned():
    loads = training_loads(SIX)[:8]
    world = World(2, pigments=SIX)
    learned, report = cm.learn(PALETTE, [cm.Tile(WHITE, x, cm.Shade(world.lab(x))) for x in loads])
    assert np.isfinite(learned.covariance).all()
    assert report.mean_delta_e < 0.3


def test_blank_tiles_alone():
    learned, _ = cm.learn(PALETTE, [tile({}, (88, 1, 6))] * 3)
    assert np.linalg.norm(learned.predict({}, WHITE).lab - (88, 1, 6)) < 1


def test_a_palette_without_pigments_still_learns_its_cement():
    bare = only(PALETTE, [WHITE], [])
    learned, _ = cm.learn(bare, [tile({}, (80, 0, 4))])
    assert abs(learned.predict({}, WHITE).lab[0] - 80) < abs(bare.predict({}, WHITE).lab[0] - 80)


def test_a_spectrum_that_contradicts_the_shade_is_refused():
    with pytest.raises(InputError, match="34 dE00 from its shade"):
        cm.Tile(WHITE, {}, cm.Shade((50, 0, 0), sd=1), spectrum=np.full(31, 0.9))
