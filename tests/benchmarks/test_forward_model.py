"""Forward model against the arithmetic it cannot do without: two matrix products and a square root.

Run with `pytest tests/benchmarks --benchmark-only -s`.
"""

import numpy as np
import pytest

from colormatch.spectra import N_BANDS
from tests.benchmarks.stopwatch import seconds
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


def test_forward_model_against_two_products_and_a_root(benchmark, palette, loads):
    coefficients = palette.coefficients("white-cement")
    k, s = coefficients.pigment_k, coefficients.pigment_s
    base = seconds(lambda: bare(loads, k, s), times=9)
    model = seconds(lambda: palette.predict_many(loads, base="white-cement"), times=9)
    benchmark.pedantic(lambda: palette.predict_many(loads, base="white-cement"), rounds=3)
    print(
        f"\nforward model {RECIPES / model / 1e6:.2f} M recipes/s, bare products and root "
        f"{RECIPES / base / 1e6:.2f} M/s, {model / base:.1f} x the bare (12 pigments, 31 bands)"
    )
    assert model / base <= TIMES_THE_BARE or RECIPES / model >= WANTED_PER_SECOND
