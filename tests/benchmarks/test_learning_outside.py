"""How well 24 photographed tiles predict mixtures in studios of laws the package was never fitted to.

As test_learning_accuracy.py, in the worlds of `tests/worlds/outside.py`, eight studios each. Run with -s to see
the figures; the bounds are a little above what was measured when the worlds were written.
"""

import pytest

from tests.learning.trial import GREY, JARS, WHITE, pooled, season
from tests.worlds.outside import OUTSIDE_WORLDS

pytestmark = [pytest.mark.slow, pytest.mark.parametrize("kind", OUTSIDE_WORLDS)]


def trials(kind, **conditions):
    mean, p95, within = pooled([season(seed, kind=kind, held_out=60, **conditions) for seed in range(8)])
    print(f"\n{kind.__name__}, {conditions}: mean {mean:.2f}, p95 {p95:.2f} dE00, {within:.1%} within 90 %")
    return mean, p95, within


@pytest.mark.parametrize("base", [WHITE, GREY])
def test_dry_mixtures(kind, base):
    mean, p95, within = trials(kind, base=base)
    assert mean <= 1.0
    assert p95 <= 2.0
    assert 0.85 <= within <= 0.95


@pytest.mark.parametrize("base", [WHITE, GREY])
def test_dry_mixtures_with_better_photographs(kind, base):
    """On grey the bands err to the wide side."""
    mean, p95, within = trials(kind, base=base, photo_sd=0.2)
    assert mean <= 0.6
    assert p95 <= 1.5
    assert 0.85 <= within <= 0.99


def test_nameless_jars(kind):
    mean, p95, within = trials(kind, pigments=JARS)
    assert mean <= 1.0
    assert p95 <= 2.0
    assert 0.85 <= within <= 0.95


def test_at_demould_before_any_piece_was_measured_there(kind):
    mean, _, within = trials(kind, state="demould")
    assert mean <= 4.5
    assert within >= 0.85


@pytest.mark.parametrize("base", [WHITE, GREY])
def test_wet_mixtures_after_six_wet_tiles(kind, base):
    """Falls short of 1.0 and 2.0 where water darkens more than the model's film and pores can say from six tiles."""
    mean, p95, within = trials(kind, base=base, wet_tiles=6, state="wet")
    assert mean <= 1.1
    assert p95 <= 2.3
    assert 0.82 <= within <= 0.95
