"""Tint ladders as data, and drift from one lot to the next."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import ColormatchError, UnknownNameError
from colormatch.learning import lot_drift, tint_ladder, tint_ladders, trust_in_words
from tests.learning.trial import SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, training_loads

WORLD = World(1, pigments=SIX)
TILES = tiles_from(WORLD, training_loads(SIX), np.random.default_rng(1))
LEARNED, REPORT = cm.learn(palette_for(SIX), TILES)


def test_a_ladder_holds_its_own_tiles_and_the_blank():
    ladder = tint_ladder(LEARNED, "red-iron-oxide", TILES, base=WHITE)
    np.testing.assert_allclose(sorted(ladder.measured_loads), [0, 0.005, 0.02, 0.05])
    np.testing.assert_allclose(ladder.predicted[0], LEARNED.predict({}, WHITE).lab)
    np.testing.assert_allclose(ladder.predicted[-1], LEARNED.predict({"red-iron-oxide": 0.05}, WHITE).lab)
    assert ladder.covariance.shape == (len(ladder.loads), 3, 3)
    assert (np.diff(ladder.predicted[:, 0]) < 0).all()
    assert ladder.delta_e.mean() < 1.5


def test_there_is_a_ladder_for_each_pigment_cast_alone():
    assert [ladder.pigment for ladder in tint_ladders(LEARNED, TILES)] == list(SIX)
    assert tint_ladders(LEARNED, []) == []


def test_a_ladder_ends_at_the_pigments_own_maximum():
    assert tint_ladder(LEARNED, "carbon-black", base=WHITE).loads[-1] == pytest.approx(0.02)
    with pytest.raises(UnknownNameError, match="There is no pigment called 'ochre'"):
        tint_ladder(LEARNED, "ochre", base=WHITE)


def test_drift_is_seen_once_the_new_lot_is_cast():
    """A new lot with two thirds of the strength: unknown at first, then found."""
    palette = LEARNED.with_pigment("red-lot-2", like="red-iron-oxide")
    before = lot_drift(palette, "red-iron-oxide", "red-lot-2")
    assert before.delta_e < 0.01 < before.sd
    assert "no drift can be told" in before.text()
    rng = np.random.default_rng(2)
    tiles = [
        cm.Tile(WHITE, {"red-lot-2": load}, cm.Shade(WORLD.cast({"red-iron-oxide": load / 1.5}, rng=rng), sd=0.7))
        for load in (0.005, 0.02)
    ]
    after = lot_drift(cm.learn(palette, tiles)[0], "red-iron-oxide", "red-lot-2")
    loads = (0.005, 0.01, 0.02, 0.05)
    pairs = [(WORLD.lab({"red-iron-oxide": x}), WORLD.lab({"red-iron-oxide": x / 1.5})) for x in loads]
    truth = np.mean([cm.delta_e_2000(one, other) for one, other in pairs])
    assert after.sd < 0.5 * before.sd
    assert abs(after.delta_e - truth) < 2 * after.sd + 0.3
    assert "mostly lighter" in after.text()


def test_a_new_bag_of_cement_drifts_too():
    palette = LEARNED.with_base("white-bag-2", like=WHITE)
    learned, _ = cm.learn(palette, [cm.Tile("white-bag-2", {}, cm.Shade(WORLD.lab({}) - [4, 0, -3], sd=0.5))])
    drift = lot_drift(learned, WHITE, "white-bag-2")
    assert drift.shift[0] < -0.5
    assert drift.delta_e > 0.5


def test_only_like_is_compared_with_like():
    with pytest.raises(ColormatchError, match="two of a kind"):
        lot_drift(LEARNED, WHITE, "red-iron-oxide")
    with pytest.raises(UnknownNameError, match="There is no pigment or base called 'ochre'"):
        lot_drift(LEARNED, "red-iron-oxide", "ochre")


def test_words_follow_the_size():
    assert [trust_in_words(x) for x in (0.2, 1.5, 3.0, 9.0)] == ["sure", "good", "rough", "a guess"]
