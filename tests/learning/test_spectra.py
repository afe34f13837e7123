"""Learning from a spectrophotometer, in a studio that is Kubelka-Munk but whose band edges no seven knots follow."""

from math import erf

import numpy as np
import pytest

import colormatch as cm
from colormatch.colorimetry import reflectance_to_lab
from tests.learning.trial import SIX, WHITE, inside
from tests.worlds.casting import random_loads, training_loads

NM = np.arange(400.0, 701.0, 10.0)
PALETTE = cm.starter_palette()


def edge(nm, width):
    """Absorbing below nm, clear above."""
    return np.array([0.5 * (1 - erf((x - nm) / width)) for x in NM])


def band(nm, width):
    return np.exp(-0.5 * ((NM - nm) / width) ** 2)


# absorption and scattering per unit of load; invented, of the shape such pigments have
STUDIO = {
    "red-iron-oxide": (22 * (edge(575, 28) + 0.06), 6.0),
    "yellow-iron-oxide": (14 * (edge(505, 30) + 0.02 + 0.05 * band(640, 40)), 5.0),
    "black-iron-oxide": (70 * np.ones(31), 2.0),
    "titanium-white": (8 * edge(405, 12) + 0.01, 30.0),
    "chromium-oxide-green": (4 * (edge(455, 30) + 0.8 * band(605, 32) + 0.08), 4.0),
    "ultramarine-blue": (7 * (0.6 * band(590, 28) + band(648, 28) + 0.03), 2.0),
}


def reflectance(loads):
    """Kubelka & Munk (1931): R = 1 + q - sqrt(q^2 + 2 q), q = K / S."""
    k = 0.006 + 0.02 * np.exp(-(NM - 400) / 60) + sum(x * STUDIO[name][0] for name, x in loads.items())
    q = k / (1.0 + sum(x * STUDIO[name][1] for name, x in loads.items()))
    return 1 + q - np.sqrt(q**2 + 2 * q)


@pytest.mark.parametrize("sd", [0.002, 0.01])
def test_precise_spectra_do_not_bend_the_curves(sd):
    rng = np.random.default_rng(8)
    tiles = []
    for loads in training_loads(SIX):
        seen = np.clip(reflectance(loads) + sd * rng.standard_normal(31), 0, 1)
        tiles.append(cm.Tile.from_spectrum(WHITE, loads, NM, seen, spectrum_sd=sd))
    learned, report = cm.learn(PALETTE, tiles)
    mixtures = random_loads(rng, SIX, 60)
    truth = reflectance_to_lab(np.array([reflectance(loads) for loads in mixtures]))
    rows = np.array([PALETTE.load_vector(loads) for loads in mixtures])
    lab, covariance = learned.predict_with_covariance(rows, base=WHITE)
    assert cm.delta_e_2000(lab, truth).mean() < 0.8
    assert inside(truth - lab, covariance).mean() > 0.85
    assert not report.suspects
    assert not any("contradict" in warning for warning in report.warnings)
