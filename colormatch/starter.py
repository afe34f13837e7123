"""The starter palette: what is known before the maker has cast a single tile.

The curves come from the shipped data files (Mie theory over published optical constants, or marked
"from memory"); colormatch/data/README.md says which is which. The priors around them are wide.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import numpy as np

from .data import read_records
from .palette import Base, Palette, Pigment
from .parameters import CurvePrior, Layout, base_covariance, pigment_covariance
from .states import STATE_PRIOR_MEAN, STATE_PRIOR_SD

REFERENCE_BASE = "white-cement"  # its scattering is 1 by definition; only ratios can be observed
_STATES = ("wet", "demould", "sealed")
# How alike the states are: the same pores fill each time, with water twice (from memory).
_STATE_CORRELATION = np.array([[1.0, 0.6, 0.3], [0.6, 1.0, 0.3], [0.3, 0.3, 1.0]])
_GREY_SCATTER_SD = 0.4  # of the logarithm, against the white's; from memory

# Order of magnitude per kg in any one currency, from memory, so that recipes can be compared by cost
# before the maker has entered what the bags and jars really cost.
_PRICES_PER_KG = {
    "white-cement": 0.8,
    "grey-cement": 0.3,
    "red-iron-oxide": 7.0,
    "yellow-iron-oxide": 8.0,
    "black-iron-oxide": 7.0,
    "brown-iron-oxide": 8.0,
    "titanium-white": 9.0,
    "chromium-oxide-green": 22.0,
    "cobalt-blue": 95.0,
    "ultramarine-blue": 18.0,
    "carbon-black": 14.0,
}


@cache
def starter_palette() -> Palette:
    """Two cements and nine dry pigments by generic chemistry, with wide priors; reads two small files, once.

    >>> starter_palette().predict({"red-iron-oxide": 0.02}, base="white-cement")
    Shade(L*=54.2, a*=18.6, b*=17.1, sd=7.70)
    """
    bases, pigments = read_records("starter_bases.toml"), read_records("starter_pigments.toml")
    layout = Layout(tuple(bases), tuple(pigments), _STATES)
    mean, covariance = np.zeros(layout.size), np.zeros((layout.size, layout.size))
    for name, entry in bases.items():
        # half of it is the shape, smooth over a third of the spectrum: a cement has no band edges; from memory
        absorption = CurvePrior(0.5 * entry["prior_sd_log"], entry["prior_sd_log"], length_nm=150.0)
        scatter_sd = 0.0 if name == REFERENCE_BASE else _GREY_SCATTER_SD
        covariance[layout.base(name), layout.base(name)] = base_covariance(absorption, scatter_sd)
    for name, entry in pigments.items():
        sd = entry["prior_sd_log"]
        # as short as the knots lie apart: a band edge some nm off is a sharp deviation; scattering is smoother and
        # better known (from memory)
        absorption, scattering = CurvePrior(sd, sd, length_nm=50.0), CurvePrior(0.6 * sd, 0.5 * sd, length_nm=300.0)
        covariance[layout.pigment(name), layout.pigment(name)] = pigment_covariance(absorption, scattering)
    for row, state in zip(_STATE_CORRELATION, _STATES, strict=True):
        mean[layout.state(state)] = STATE_PRIOR_MEAN[state]
        for likeness, other in zip(row, _STATES, strict=True):
            shared = likeness * (STATE_PRIOR_SD[state] * STATE_PRIOR_SD[other])
            covariance[layout.state(state), layout.state(other)] = np.diag(shared)
    return Palette(
        bases={name: _base(name, entry) for name, entry in bases.items()},
        pigments={name: _pigment(name, entry) for name, entry in pigments.items()},
        mean=mean,
        covariance=covariance,
        states=_STATES,
    )


def _base(name: str, entry: Mapping[str, Any]) -> Base:
    return Base(
        name=name,
        label=name.replace("-", " ").capitalize(),
        k_shape=np.array(entry["k"], dtype=np.float64),
        scatter_shape=float(entry["scatter"]),
        source=entry["source"],
        price_per_kg=_PRICES_PER_KG.get(name),
    )


def _pigment(name: str, entry: Mapping[str, Any]) -> Pigment:
    return Pigment(
        name=name,
        label=name.replace("-", " ").capitalize(),
        k_shape=np.array(entry["k"], dtype=np.float64),
        s_shape=np.array(entry["s"], dtype=np.float64),
        source=entry["source"],
        from_memory=bool(entry["from_memory"]),
        maximum_load=float(entry["max_load"]),
        colour_index=entry["colour_index"],
        density_g_cm3=float(entry["density_g_cm3"]),
        price_per_kg=_PRICES_PER_KG.get(name),
    )
