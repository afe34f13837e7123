"""Palettes and targets for the tests of the recipe search; invented, no measured material behind them."""

import numpy as np

import colormatch as cm


def varied_palette(n, seed=5):
    """n pigments: the starter ones and further lots of them, every curve moved at random."""
    palette, names = cm.starter_palette(), list(cm.starter_palette().pigments)
    for i in range(n - len(names)):
        palette = palette.with_pigment(f"lot-{i}", like=names[i % len(names)])
    mean = palette.mean.copy()
    mean[palette.layout.all_pigments] += 0.3 * np.random.default_rng(seed).standard_normal(
        palette.layout.all_pigments.stop - palette.layout.all_pigments.start
    )
    return palette.with_posterior(mean, palette.covariance)


def targets_in_and_out_of_reach(palette, base, count, seed=1):
    """(count, 3) CIELAB: half mixes of three pigments under the cap, half anywhere in a wide box."""
    rng, n = np.random.default_rng(seed), len(palette.pigments)
    loads = np.zeros((count // 2, n))
    for row in loads:
        row[rng.choice(n, 3, replace=False)] = rng.dirichlet([1, 1, 1]) * rng.uniform(0.002, 0.019)
    m = count - count // 2
    box = [rng.uniform(20, 95, m), rng.uniform(-40, 40, m), rng.uniform(-40, 60, m)]
    return np.vstack([palette.predict_many(loads, base=base), np.column_stack(box)])
