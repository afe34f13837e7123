"""Dry from wet without a recipe: a line through her own pairs, with the error of each pair from the others."""

from functools import cache

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import InputError
from colormatch.learning.pairs import drying_map
from tests.learning.trial import SIX, WHITE
from tests.worlds.casting import World, random_loads

SHIFT = np.array([9.0, -1.0, 2.0])


@cache
def pairs_of(seed, count, sd=0.7):
    world, rng = World(seed, pigments=SIX), np.random.default_rng([seed, 3])
    mixtures = random_loads(rng, SIX, count)
    return [
        tuple(cm.Shade(world.cast(loads, state=state, rng=rng, photo_sd=sd), sd=sd) for state in ("demould", "dry"))
        for loads in mixtures
    ]


def test_pairs_predict_other_pieces_as_well_as_they_say():
    """Two studios, eight pairs each, sixty other pieces."""
    off, stated = [], []
    for seed in (1, 4):
        own = drying_map(pairs_of(seed, 8))
        others = pairs_of(seed, 68)[8:]
        off += [float(cm.delta_e_2000(own.dry(wet).lab, dry.lab)) for wet, dry in others]
        stated.append(own.delta_e)
    assert np.mean(off) < 3.0
    assert np.mean(stated) == pytest.approx(np.mean(off), rel=0.4)


def test_the_band_holds_other_pieces():
    own, others = drying_map(pairs_of(1, 8)), pairs_of(1, 68)[8:]
    error = np.array([dry.lab - own.dry(wet).lab for wet, dry in others])
    covariance = np.array([own.dry(wet).covariance + dry.covariance for wet, dry in others])
    far = np.einsum("ni,ni->n", error, np.linalg.solve(covariance, error[..., None])[..., 0])
    assert (far < 6.2514).mean() >= 0.8


def test_a_shift_common_to_all_pairs_is_found():
    wet = [cm.Shade((30.0 + 4 * at, 10, 10), sd=0.5) for at in range(8)]
    own = drying_map([(one, cm.Shade(one.lab + SHIFT, sd=0.5)) for one in wet])
    np.testing.assert_allclose(own.dry(wet[3]).lab, wet[3].lab + SHIFT, atol=0.5)
    assert own.delta_e < 1.5


@pytest.mark.slow
def test_pairs_are_taken_where_they_are_surer_than_the_average_over_recipes():
    palette, pairs = cm.starter_palette(), pairs_of(1, 8)
    wet = pairs[0][0]
    without, few, enough = (cm.dry_from_wet(palette, wet, base=WHITE, pairs=pairs[:n]) for n in (0, 3, 8))
    assert without.sd == few.sd > 3.0  # about 5 dE00, until pairs of her own tell
    assert enough.sd < 0.7 * without.sd
    np.testing.assert_allclose(enough.lab, drying_map(pairs).dry(wet).lab)


@pytest.mark.parametrize("pairs", [3, "pairs", [(1, 2)], [cm.Shade((1, 2, 3))]])
def test_things_that_are_no_pairs(pairs):
    with pytest.raises(InputError, match=r"wet Shade, dry Shade"):
        cm.dry_from_wet(cm.starter_palette(), cm.Shade((40, 5, 5)), base=WHITE, pairs=pairs)
