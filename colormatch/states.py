"""The states of a piece: dry, wet, at demould, sealed, and on the way from wet to dry.

Dry cast cement is rough, porous and matte: no boundary term. In the other states liquid or sealer
fills the pores, which lowers the scattering, and a film covers part of the surface. How much of
each is learned from the maker's own pairs of tiles, because published models all predict less
darkening than measured concrete shows (Levinson & Akbari, Cem. Concr. Res. 32 (2002) 1679). A slope over the spectrum
is not among it: wet tiles speak against one (tests/benchmarks/test_learning_pores.py).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, number_between
from .errors import UnknownNameError
from .surface import film_constants

STATES = ("demould", "wet", "dry", "sealed")  # in the order in which a piece goes through them

# Water at 550 nm (Hale & Querry 1973: 1.333); an acrylic or wax sealer about 1.49 (from memory).
FILM_INDEX = {"wet": 1.333, "demould": 1.333, "sealed": 1.49}

# Rate of the exponential law in the degree of saturation; Lobell & Asner (2002) fitted soils, cement
# is not in their table, so this is a guess that daily photographs of one drying piece would replace.
SATURATION_RATE = 3.0

# Log pore factors of base and pigments, logit of the film's cover. Wet: a base of reflectance 0.59 falls by the
# 0.23 that Levinson & Akbari (2002) measured on concrete. Young paste is darker still (same source); how much, and
# all else, is from memory. The spreads were chosen over simulated studios (tests/benchmarks/test_learning_*.py).
STATE_PRIOR_MEAN = {
    "wet": np.array([np.log(0.45), -0.25, 0.5]),
    "demould": np.array([np.log(0.33), -0.25, 0.5]),
    "sealed": np.array([np.log(0.55), -0.25, -0.3]),
}
STATE_PRIOR_SD = {
    "wet": np.array([0.5, 0.25, 1.5]),
    "demould": np.array([0.6, 0.3, 1.5]),
    "sealed": np.array([0.5, 0.25, 1.7]),
}

OUTER_REFLECTION = 0.04  # of a smooth surface of index 1.5, straight on (Fresnel)


@dataclass(frozen=True, slots=True)
class StateFactors:
    """What a state does to the light: factors on the scattering, and the film on top.

    pore_base, pore_pigment: factors on the base's and the pigments' scattering, > 0.
    cover: share of the surface under a film, 0..1. index: refractive index of the film, > 1.
    inner: the share of the light that a film found from the tiles throws back inside, in place of the index's.
    """

    pore_base: float
    pore_pigment: float
    cover: float
    index: float
    inner: float | None = None

    @property
    def film(self) -> tuple[float, float]:
        """Gain and p of the film; see `surface.film_constants`."""
        if self.inner is None:
            return film_constants(self.index)
        return (1 - OUTER_REFLECTION) * (1 - self.inner), self.inner


DRY = StateFactors(pore_base=1.0, pore_pigment=1.0, cover=0.0, index=1.333)


def state_kind(state: str) -> str:
    """`"sealed"` for `"sealed:beeswax"`, the state itself otherwise; raises UnknownNameError."""
    kind, colon, name = state.partition(":") if isinstance(state, str) else (state, "", "")
    if kind not in STATES or (colon and not (kind == "sealed" and name.strip() and name.isprintable())):
        raise UnknownNameError("state", state, (*STATES, "sealed:<name of the sealer>"))
    return kind


def state_words(state: str) -> str:
    """`at demould`, `dry`, `sealed with beeswax`: for `demould`, `dry`, `sealed:beeswax`."""
    return "at demould" if state == "demould" else state.replace(":", " with ")


def in_order(states: Iterable[str]) -> list[str]:
    """States in the order in which a piece goes through them, any other last."""
    places = {state: place for place, state in enumerate(STATES)}
    return sorted(states, key=lambda state: (places.get(state.partition(":")[0], len(STATES)), state))


def through_film(reflectance: FloatArray, factors: StateFactors) -> FloatArray:
    """Reflectance factor (...) seen through a film over a share `cover` of the surface."""
    if factors.cover == 0.0:
        return reflectance
    gain, p = factors.film
    return reflectance * ((1 - factors.cover) + factors.cover * gain / (1 - p * reflectance))


def film_slope(reflectance: FloatArray, factors: StateFactors) -> FloatArray:
    """Derivative of `through_film` in the reflectance."""
    gain, p = factors.film
    return (1 - factors.cover) + factors.cover * gain / (1 - p * reflectance) ** 2


def drying_share(saturation: ArrayLike, rate: float = SATURATION_RATE) -> FloatArray:
    """How far the colour has come from wet (0) to dry (1) at a degree of saturation 1..0.

    (exp(-c s) - exp(-c)) / (1 - exp(-c)): the exponential law of Lobell & Asner, Soil Sci. Soc. Am. J.
    66 (2002) 722, scaled so that both ends are met. Most of the change comes late, as the last
    water leaves.
    """
    s = np.asarray(saturation, dtype=np.float64)
    for value in (s.min(), s.max()):
        number_between(float(value), name="The degree of saturation", low=0, high=1)
    end = np.exp(-rate)
    return np.asarray((np.exp(-rate * s) - end) / (1 - end), dtype=np.float64)


def drying_law_covariance(share: float, apart: FloatArray) -> FloatArray:
    """(3, 3) what that law misses between its ends, `apart` (3,) in CIELAB: a tenth of it midway; a judgement."""
    miss = 0.4 * share * (1 - share) * apart
    return np.outer(miss, miss)
