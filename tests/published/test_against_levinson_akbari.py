"""Measured concrete: Levinson & Akbari, "Effects of composition and exposure on the solar reflectance of
portland cement concrete", LBNL report, December 2001 (abstract).

Eight smooth concretes, mean albedo 0.59; wetting lowers it by 0.23 on average, hydration raised it by 0.08 until
six weeks after casting. Theirs is solar broadband, ours visible, so the bands are wide on purpose.
"""

import numpy as np
import pytest

import colormatch as cm
from colormatch.kubelka_munk import ks_from_reflectance, reflectance_from_ks
from colormatch.states import DRY, through_film

pytestmark = pytest.mark.published(
    source="Levinson & Akbari, LBNL report 2001",
    covers=[
        "starter_palette",
    ],
)


def changed(reflectance, state):
    """A grey of that dry reflectance, carried through the starter palette's factors of a state."""
    factors = cm.starter_palette().state_factors(state)
    bare = reflectance_from_ks(ks_from_reflectance(reflectance) / factors.pore_base)
    return float(through_film(np.asarray(bare), factors))


def test_wetting_darkens_as_measured():
    assert 0.30 < changed(0.59, "wet") < 0.45


def test_curing_lightens_as_measured():
    """The step from demould to dry holds more than the water: 0.02 to 0.15 of it is hydration."""
    assert DRY.cover == 0
    assert changed(0.59, "demould") < changed(0.59, "wet") < 0.59
