"""The rival the recipe search is held against: scipy's differential evolution on the same model.

One number per pigment, 0..1; the largest `max_pigments` of them count, scaled to the caps. Nothing of
the project's own search is used, only its forward model and CIEDE2000.
"""

import numpy as np
from scipy.optimize import differential_evolution

from colormatch import delta_e_2000


def decode(palette, limits, x):
    """Loads (m, n) within the caps, from numbers (n, m) in 0..1."""
    x = np.array(x.T)
    order = np.argsort(-x, axis=1)
    np.put_along_axis(x, order[:, limits.max_pigments :], 0.0, axis=1)
    x[x < 1e-6] = 0.0
    own = np.array([p.maximum_load for p in palette.pigments.values()])
    cap = np.minimum(np.where(x > 0, own, np.inf).min(axis=1), limits.load_cap)
    loads = x * limits.load_cap
    total = loads.sum(axis=1)
    return loads * np.where(total > cap, cap / np.maximum(total, 1e-12), 1.0)[:, None]


def evolve(palette, target_lab, limits, base="white-cement", seed=0, **options):
    """The result of one run: `.fun` is the least CIEDE2000 found."""
    n = len(palette.pigments)

    def distance(x):
        loads = decode(palette, limits, x.reshape(n, -1))
        return delta_e_2000(palette.predict_many(loads, base=base), target_lab)

    settings = {"tol": 1e-8, "maxiter": 600, "popsize": 20, "polish": False} | options
    return differential_evolution(distance, [(0, 1)] * n, seed=seed, vectorized=True, updating="deferred", **settings)
