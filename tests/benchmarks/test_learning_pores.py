"""Why a pore factor has no slope over the spectrum: where tiles were cast wet too, their evidence is against one.

The slope would be one more number of each wet state: the scattering of base and pigments changes by it, as a logarithm,
from 400 to 550 nm and from 550 to 700 nm. Log evidence of a slope of prior sd 0.1 against none, the fit taken as
straight; 24 tiles dry and wet, studios of four laws (one with pores by Mie theory, filled with water). Run with -s.
"""

from dataclasses import replace

import numpy as np
import pytest

from colormatch import mixture
from colormatch.learning.information import information, posterior
from colormatch.learning.observe import readings
from colormatch.learning.outliers import _started
from colormatch.palette import coefficients_at
from colormatch.spectra import WAVELENGTHS_NM
from tests.learning.trial import SIX, WHITE, palette_for, tiles_from
from tests.worlds.casting import World, training_loads
from tests.worlds.outside import OUTSIDE_WORLDS

ACROSS, SLOPE_SD, STEP = (WAVELENGTHS_NM - 550) / 150, 0.1, 1e-3


def by_slope(job, stand):
    """(N,) derivative of the readings in the slope."""
    out, parameters = np.zeros(job.seen.values.size), job.full(stand.point.parameters)
    places = job.seen.groups[WHITE, "wet"]
    as_found = coefficients_at(job.palette, parameters, WHITE, "wet")

    def lab(sign):
        tilt = np.exp(sign * STEP * ACROSS)
        tilted = replace(as_found, base_s=tilt * as_found.base_s, pigment_s=tilt * as_found.pigment_s)
        return mixture.lab(tilted, job.seen.loads[places])

    for place, slope in zip(places, (lab(1) - lab(-1)) / (2 * STEP), strict=True):
        out[job.seen.rows[place]] = slope
    return out


def evidence_of_a_slope(kind, seed):
    world, rng = kind(seed, pigments=SIX), np.random.default_rng([seed, 24])
    tiles = [tile for state in ("dry", "wet") for tile in tiles_from(world, training_loads(SIX), rng, state=state)]
    palette = palette_for(SIX)
    job, stand = _started(palette, readings(palette, tiles))
    straight = stand.straight
    slopes = np.column_stack([straight.slopes, by_slope(job, stand)])
    told = information(straight.seen.block_rows, straight.noise(stand.choice.noise), slopes, straight.innovation)
    prior = np.pad(straight.prior_of(stand.choice.freedom), (0, 1))
    none = posterior(prior, told).log_evidence
    prior[-1, -1] = SLOPE_SD**2
    return posterior(prior, told).log_evidence - none


@pytest.mark.slow
@pytest.mark.parametrize("studios", [1, pytest.param(4, marks=pytest.mark.measure)])
@pytest.mark.parametrize("kind", [World, *OUTSIDE_WORLDS])
def test_wet_tiles_speak_against_a_slope(kind, studios):
    found = [evidence_of_a_slope(kind, seed) for seed in range(studios)]
    print(f"\n{kind.__name__}: log evidence of a slope {np.round(found, 2)}")
    assert np.mean(found) < 0
