"""Forward model against the arithmetic it cannot do without: two matrix products and a square root.

Run with `pytest tests/benchmarks --benchmark-only -s`.
"""

from time import process_time

import numpy as np
import pytest

from colormatch.spectra import N_BANDS
from tests.recipes.palettes import varied_palette

RECIPES = 200_000
ROWS_AT_ONCE = 2048
TIMES_THE_BARE = 3.0
WANTED_PER_SECOND = 1.5e6


@pytest.fixture(scope="module")
def palette():
    return varied_palette(12)


@pytest.fixture(scope="module")
def loads():
    return np.random.default_rng(0).random((RECIPES, 12)) * 0.004


def bare(loads, k, s):
    """K and S of every recipe on the 31 bands, and one square root; no colour yet."""
    out = np.empty((ROWS_AT_ONCE, N_BANDS))
    for start in range(0, len(loads), ROWS_AT_ONCE):
        rows = loads[start : start + ROWS_AT_ONCE]
        np.sqrt(rows @ k * (rows @ s), out=out[: len(rows)])
    return out


def best_of(times, work):
    """Processor seconds, the least of several runs."""
    taken = []
    for _ in range(times):
        start = process_time()
        work()
        taken.append(process_time() - start)
    return min(taken)


def test_forward_model_against_two_products_and_a_root(benchmark, palette, loads):
    coefficients = palette.coefficients("white-cement")
    k, s = coefficients.pigment_k, coefficients.pigment_s
    base = best_of(9, lambda: bare(loads, k, s))
    model = best_of(9, lambda: palette.predict_many(loads, base="white-cement"))
    benchmark.pedantic(lambda: palette.predict_many(loads, base="white-cement"), rounds=3)
    print(
        f"\nforward model {RECIPES / model / 1e6:.2f} M recipes/s, bare products and root "
        f"{RECIPES / base / 1e6:.2f} M/s, {model / base:.1f} x the bare (12 pigments, 31 bands)"
    )
    assert model / base <= TIMES_THE_BARE or RECIPES / model >= WANTED_PER_SECOND
