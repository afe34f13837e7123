"""Time to learn 60 tiles of 12 pigments, against the bare linear algebra of the same fit in the same run.

Run with: python -m pytest tests/benchmarks/test_learning_speed.py --benchmark-only -s
The baseline is what any Gauss-Newton fit of this size cannot do without, done as often as learning does it: a
least-squares solve of the stacked slopes and prior per step, and one inverse for the covariance.
"""

import timeit

import numpy as np
import pytest

import colormatch as cm
from colormatch.learning import fit
from tests.learning.trial import WHITE

PIGMENTS = 12


def sixty_tiles():
    palette = cm.starter_palette()
    for number in range(PIGMENTS - len(palette.pigments)):
        palette = palette.with_pigment(f"jar-{number}", like="brown-iron-oxide")
    rng = np.random.default_rng(0)
    names, tiles = list(palette.pigments), []
    root = np.linalg.cholesky(palette.covariance + 1e-12 * np.eye(palette.mean.size))
    truth = palette.with_posterior(
        palette.mean + 0.5 * root @ rng.standard_normal(palette.mean.size), palette.covariance
    )
    for at in range(60):
        loads = {names[at % PIGMENTS]: (0.005, 0.01, 0.02)[at // PIGMENTS % 3]}
        if at >= 36:
            loads[names[(at * 5 + 1) % PIGMENTS]] = 0.005
        lab = truth.predict(loads, WHITE).lab + 0.7 * rng.standard_normal(3)
        tiles.append(cm.Tile(WHITE, loads, cm.Shade(lab, sd=0.7)))
    return palette, tiles


def bare_algebra(stacked, right, times):
    for _ in range(times):
        np.linalg.lstsq(stacked, right, rcond=None)
    return np.linalg.inv(stacked.T @ stacked)


@pytest.mark.parametrize("what", ["learn", "baseline"])
def test_learning_speed(benchmark, what, monkeypatch):
    palette, tiles = sixty_tiles()
    steps, step = [], fit._step
    monkeypatch.setattr(fit, "_step", lambda *args: steps.append(1) or step(*args))
    cm.learn(palette, tiles)
    monkeypatch.undo()
    n = palette.mean.size
    stacked = np.random.default_rng(1).standard_normal((180 + n, n))
    benchmark.group = "learn 60 tiles, 12 pigments"
    if what == "baseline":
        benchmark.pedantic(bare_algebra, args=(stacked, stacked[:, 0], len(steps)), rounds=9)
        return
    benchmark.pedantic(cm.learn, args=(palette, tiles), rounds=9)
    bare = min(timeit.repeat(lambda: bare_algebra(stacked, stacked[:, 0], len(steps)), number=1, repeat=9))
    took = benchmark.stats["min"]
    print(f"\nlearn {took:.3f} s; bare algebra of its {len(steps)} steps {bare:.3f} s; {took / bare:.1f} times")
