"""Learning as a maker sees it: what tiles change, what they leave alone, and in which direction."""

from dataclasses import replace

import numpy as np
import pytest

import colormatch as cm
from colormatch.learning import replicate_sd
from colormatch.learning.observe import MISFIT_SD, readings
from colormatch.learning.outliers import _one_more, _started
from colormatch.learning.spread import one_slip_more
from colormatch.palette_file import palette_from_dict, palette_to_dict
from tests.learning.trial import GREY, SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, random_loads, training_loads

WORLD = World(1, pigments=SIX)
PALETTE = palette_for(SIX)
TILES = tiles_from(WORLD, training_loads(SIX), np.random.default_rng(1))
LEARNED, REPORT = cm.learn(PALETTE, TILES)


def test_a_world_that_obeys_the_model_is_found_again():
    """Parameters drawn from the prior, tiles without noise: mixtures are predicted almost exactly."""
    rng = np.random.default_rng(5)
    root = np.linalg.cholesky(PALETTE.covariance + 1e-12 * np.eye(PALETTE.mean.size))
    truth = PALETTE.with_posterior(
        PALETTE.mean + 0.7 * root @ rng.standard_normal(PALETTE.mean.size), PALETTE.covariance
    )
    tiles = [cm.Tile(WHITE, loads, truth.predict(loads, WHITE)) for loads in training_loads(SIX)]
    learned, _ = cm.learn(PALETTE, [cm.Tile(t.base, t.loads, cm.Shade(t.shade.lab, sd=0.05)) for t in tiles])
    rows = np.array([PALETTE.load_vector(loads) for loads in random_loads(rng, SIX, 60)])
    errors = cm.delta_e_2000(learned.predict_many(rows, base=WHITE), truth.predict_many(rows, base=WHITE))
    before = cm.delta_e_2000(PALETTE.predict_many(rows, base=WHITE), truth.predict_many(rows, base=WHITE))
    assert before.mean() > 4
    assert errors.mean() < 0.5


def test_the_order_of_the_tiles_does_not_matter():
    shuffled, _ = cm.learn(PALETTE, TILES[::-1])
    np.testing.assert_allclose(shuffled.mean, LEARNED.mean, atol=2e-3)
    assert shuffled.cast_sd == pytest.approx(LEARNED.cast_sd, rel=1e-2)


def test_a_pigment_never_cast_keeps_its_prior():
    own = PALETTE.layout.pigment("cobalt-blue")
    np.testing.assert_array_equal(LEARNED.mean[own], PALETTE.mean[own])
    np.testing.assert_allclose(LEARNED.covariance[own, own], PALETTE.covariance[own, own], atol=1e-12)
    assert any("cobalt-blue" in warning for warning in REPORT.warnings)


def test_what_is_correlated_is_learned_along():
    """A pigment added as another's twin moves with it; an unrelated one does not."""
    twins = PALETTE.with_pigment("new-jar", like="black-iron-oxide")
    learned, _ = cm.learn(twins, TILES)
    before, after = (p.predict({"new-jar": 0.02}, WHITE) for p in (twins, learned))
    truth = WORLD.lab({"black-iron-oxide": 0.02})
    assert cm.delta_e_2000(after.lab, truth) < 0.6 * cm.delta_e_2000(before.lab, truth)
    assert after.sd < 0.6 * before.sd


def test_doubt_shrinks_and_stays_a_covariance():
    assert np.linalg.eigvalsh(LEARNED.covariance).min() > -1e-9
    assert np.linalg.eigvalsh(PALETTE.covariance - LEARNED.covariance).min() > -1e-9


def test_learning_twice_is_like_learning_once():
    half, _ = cm.learn(PALETTE, TILES[::2])
    both, _ = cm.learn(half, TILES[1::2])
    rows = np.array([PALETTE.load_vector(x) for x in random_loads(np.random.default_rng(2), SIX, 40)])
    apart = cm.delta_e_2000(both.predict_many(rows, base=WHITE), LEARNED.predict_many(rows, base=WHITE))
    assert both.tiles_learned == LEARNED.tiles_learned == len(TILES)
    assert apart.mean() < 0.5


def test_the_inputs_are_left_as_they_were():
    before = PALETTE.mean.copy()
    cm.learn(PALETTE, TILES[:5])
    np.testing.assert_array_equal(PALETTE.mean, before)


def test_a_spectrum_teaches_more_than_the_shade_of_it():
    loads = {"chromium-oxide-green": 0.02}
    spectrum = WORLD.reflectance(loads)
    shade = cm.Shade(WORLD.lab(loads), sd=0.3)
    by_shade, _ = cm.learn(PALETTE, [cm.Tile(WHITE, loads, shade)])
    by_spectrum, _ = cm.learn(PALETTE, [cm.Tile(WHITE, loads, shade, spectrum=spectrum, spectrum_sd=0.003)])
    errors = [np.abs(p.reflectance(loads, WHITE) - spectrum).mean() for p in (by_shade, by_spectrum)]
    assert errors[1] < 0.7 * errors[0]
    own = PALETTE.layout.pigment("chromium-oxide-green")
    doubts = [np.linalg.slogdet(p.covariance[own, own])[1] for p in (by_shade, by_spectrum)]
    assert doubts[1] < doubts[0]


def test_no_cast_is_predicted_better_than_casts_repeat():
    """Exact shades of a studio that is not Kubelka-Munk: the stated scatter stays that of law and casting."""
    exact = [cm.Tile(WHITE, x, cm.Shade(WORLD.lab(x), sd=0.05)) for x in training_loads(SIX)]
    assert cm.learn(PALETTE, exact)[0].cast_sd >= MISFIT_SD


def test_tiles_of_all_states_and_bases_are_learned_together():
    rng = np.random.default_rng(3)
    mixtures = training_loads(SIX)[::4]
    tiles = [
        tile for base in (WHITE, GREY) for state in ("wet", "demould", "sealed")
        for tile in tiles_from(WORLD, mixtures, rng, base=base, state=state)
    ]  # fmt: skip
    learned, report = cm.learn(PALETTE, TILES + tiles)
    assert not report.suspects
    for state in ("wet", "demould", "sealed"):
        rows = np.array([PALETTE.load_vector(x) for x in random_loads(rng, SIX, 30)])
        truth = WORLD.lab_many(
            np.array([WORLD.row({n: r[i] for i, n in enumerate(PALETTE.pigments) if r[i]}) for r in rows]), GREY, state
        )
        before, after = (
            cm.delta_e_2000(p.predict_many(rows, base=GREY, state=state), truth).mean() for p in (PALETTE, learned)
        )
        assert after < min(1.5, 0.5 * before), state


def test_replicates_give_the_scatter_of_casting():
    rng = np.random.default_rng(4)
    loads = [{"red-iron-oxide": 0.02}] * 12 + [{"titanium-white": 0.02}] * 12
    for cast_sd in (0.0, 2.0):
        tiles = tiles_from(WORLD, loads, rng, cast_sd=cast_sd)
        learned, report = cm.learn(PALETTE, tiles)
        assert report.replicate_sd == replicate_sd(tiles)
        assert abs(report.replicate_sd - cast_sd) < 0.5
        assert abs(learned.cast_sd - cast_sd) < 0.6
    assert replicate_sd(TILES) is None


def test_a_photograph_with_a_wide_doubt_counts_for_less():
    loads = {"red-iron-oxide": 0.02}
    sure, unsure = (cm.learn(PALETTE, [cm.Tile(WHITE, loads, cm.Shade((55, 22, 18), sd=sd))])[0] for sd in (0.5, 20.0))
    start = PALETTE.predict(loads, WHITE).lab
    moved = [np.linalg.norm(p.predict(loads, WHITE).lab - start) for p in (sure, unsure)]
    assert moved[0] > 5 * moved[1]


def test_bands_grow_outside_the_loads_that_were_cast():
    red = "red-iron-oxide"

    def tiles(*loads):
        return tiles_from(WORLD, [{red: load} for load in loads], np.random.default_rng(2))

    learned, _ = cm.learn(PALETTE, tiles(0.02, 0.03))
    assert (learned.cast_from, learned.cast_up_to) == ({red: 0.02}, {red: 0.03})
    blind = replace(learned, cast_from={}, cast_up_to={})
    for load, grows in ((0.004, True), (0.02, False), (0.025, False), (0.03, False), (0.05, True)):
        assert (learned.predict({red: load}, WHITE).sd > blind.predict({red: load}, WHITE).sd) == grows
    kept = palette_from_dict(palette_to_dict(learned))
    assert (kept.cast_from, kept.cast_up_to) == (learned.cast_from, learned.cast_up_to)
    again, _ = cm.learn(learned, tiles(0.01, 0.025))
    assert (again.cast_from, again.cast_up_to) == ({red: 0.01}, {red: 0.03})


def test_the_doubt_whether_one_more_tile_is_a_slip_widens_the_bands_by_how_probable_it_is():
    job, stand = _started(PALETTE, readings(PALETTE, TILES))
    tried = _one_more(job, replace(stand, left_out=[replace(one, log_odds=0.0) for one in stand.left_out]))
    likely, hardly = (one_slip_more(job, stand, [replace(tried[0], score=stand.score + odds)]) for odds in (0.0, -3.0))
    assert np.trace(likely) > 0
    np.testing.assert_allclose(hardly, likely * (np.exp(-3) / (1 + np.exp(-3))) / 0.5)
    assert not one_slip_more(job, stand, []).any()
