"""Time and memory to learn many tiles of 24 pigments: they grow as the tiles do. Run with -s for the figures.

Processor time of 250, 1,000 and 2,000 tiles in the same run; only ratios are compared, against a wide guard. The answer
is that of the dense form, whose matrices are of all readings by all readings.
"""

import time
import tracemalloc

import numpy as np
import pytest

import colormatch as cm
from colormatch.learning import random_recipes
from colormatch.learning.evidence import Choice
from colormatch.learning.information import Point
from colormatch.learning.job import Job, Stand
from colormatch.learning.observe import readings
from colormatch.learning.outliers import _left_out
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


def test_the_memory_grows_as_the_tiles_do(figure):
    """What Python and numpy take while they learn; a matrix of all readings by all readings would be 290 MB."""
    most = []
    for count in (1000, 2000):
        palette, tiles = many_tiles(count)
        tracemalloc.start()
        cm.learn(palette, tiles)
        most.append(tracemalloc.get_traced_memory()[1] / 1e6)
        tracemalloc.stop()
    print(f"\nlearning 1,000 and 2,000 tiles of {PIGMENTS} pigments takes {most} MB")
    figure("learning.memory", f"learning 2,000 tiles of {PIGMENTS} pigments: memory", most[1], "MB", target="<= 500")
    assert most[1] < 2.3 * most[0]
    assert most[1] < 500


def test_240_tiles_give_the_answer_of_the_dense_form():
    palette, tiles = many_tiles(240)
    job = Job(palette, readings(palette, tiles))
    point = Point(job.mean, np.zeros_like(job.mean), *job.model(job.mean))
    straight, choice = job.straightened(point, frozenset()), Choice.of_log(job.before.log_median)
    found = straight.posterior(choice)

    known = straight.slopes @ job.prior @ straight.slopes.T
    for rows, blocks in zip(straight.seen.block_rows, straight.noise(choice.noise), strict=True):
        for at, block in zip(rows, blocks, strict=True):
            known[np.ix_(at, at)] += block
    inverse, across = np.linalg.inv(known), job.prior @ straight.slopes.T
    pull = inverse @ straight.innovation
    np.testing.assert_allclose(job.prior @ found.dual, across @ pull, atol=1e-6)
    np.testing.assert_allclose(found.covariance, job.prior - across @ inverse @ across.T, atol=1e-6)
    density = -0.5 * (straight.innovation @ pull + np.linalg.slogdet(known)[1])
    assert found.log_evidence == pytest.approx(density, abs=1e-6)
    for one, row in zip(_left_out(job, Stand(point, choice, frozenset(), straight)), straight.seen.rows, strict=True):
        covariance = np.linalg.inv(inverse[row, row])
        np.testing.assert_allclose(one.covariance, covariance, atol=1e-6)
        np.testing.assert_allclose(one.error, covariance @ pull[row], atol=1e-6)
