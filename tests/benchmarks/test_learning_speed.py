"""Time to learn many tiles of 24 pigments: it grows as the tiles do. Run with -s for the figures.

Processor time of 250, 1,000 and 2,000 tiles in the same run; only ratios are compared, against a wide guard.
"""

import time

import numpy as np
import pytest

import colormatch as cm
from colormatch.learning import random_recipes
from tests.learning.trial import WHITE

pytestmark = pytest.mark.slow

PIGMENTS = 24


def many_tiles(count):
    palette = cm.starter_palette()
    for number in range(PIGMENTS - len(palette.pigments)):
        palette = palette.with_pigment(f"jar-{number}", like=list(palette.pigments)[number % 9])
    rng = np.random.default_rng(0)
    root = np.linalg.cholesky(palette.covariance + 1e-12 * np.eye(palette.mean.size))
    moved = palette.mean + 0.3 * root @ rng.standard_normal(palette.mean.size)
    truth = palette.with_posterior(moved, palette.covariance)
    rows = random_recipes(palette, count, cap=0.05, seed=count)
    labs = truth.predict_many(rows, base=WHITE) + rng.normal(0, 0.75, (count, 3))
    names = list(palette.pigments)
    return palette, [
        cm.Tile(WHITE, {name: float(x) for name, x in zip(names, row, strict=True) if x > 0}, cm.Shade(lab, sd=0.7))
        for row, lab in zip(rows, labs, strict=True)
    ]


def test_the_cost_grows_as_the_tiles_do(figure):
    took = []
    for count in (250, 1000, 2000):
        palette, tiles = many_tiles(count)
        start = time.process_time()
        cm.learn(palette, tiles)
        took.append(time.process_time() - start)
    print(f"\nlearning 250, 1,000 and 2,000 tiles of {PIGMENTS} pigments: {took} s of processor time")
    title = f"learning 2,000 tiles of {PIGMENTS} pigments"
    figure("learning.2000", f"{title}: processor time", took[2], "s", target="<= 2.5")
    figure("learning.growth", f"{title}: growth from 1,000", took[2] / took[1], "times", target="<= 2.6")
    assert took[1] < 8 * took[0]
    assert took[2] < 4 * took[1]
