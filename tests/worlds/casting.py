"""A simulated studio: pigments, cements and castings whose optics are NOT the package's model.

Differences from the package: exact multiple scattering (`transfer`) seen along the normal instead of
Kubelka-Munk; grains by Mie theory with sizes that change from world to world; pigments that clump as the
load rises (the dose curve flattens) and crowd each other; water that fills pores (pore scattering recomputed
by Mie with water or sealer inside) and surrounds the pigments too; a film over part of the surface, lit by
what the exact theory sends back.  Everything about a world follows from its seed.  Lengths in micrometres,
loads in g pigment per g dry cement, Lab for D65 and the 2 degree observer.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from colormatch.colorimetry import reflectance_to_lab

from .materials import (
    SOLID_INDEX,
    STARTER_BASES,
    STARTER_PIGMENTS,
    WATER_INDEX,
    Array,
    PowderMaker,
    draw_fillings,
    draw_paste,
)
from .transfer import diffuse_reflectance, normal_reflectance, similarity

STARTER_NAMES = tuple(STARTER_PIGMENTS)
BASE_NAMES = tuple(STARTER_BASES)
STATES = ("dry", "wet", "demould", "sealed")


@cache
def film_terms(index: float) -> tuple[float, float]:
    """Normal Fresnel reflectance R_l and p = 1 - (1 - r_e) / n^2, r_e by integrating Fresnel's equations."""
    cosine, weights = np.polynomial.legendre.leggauss(200)
    cosine, weights = 0.5 * (cosine + 1), 0.5 * weights
    inner = np.sqrt(1 - (1 - cosine**2) / index**2)
    across = ((cosine - index * inner) / (cosine + index * inner)) ** 2
    along = ((index * cosine - inner) / (index * cosine + inner)) ** 2
    external = float((across + along) @ (weights * cosine))
    return ((index - 1) / (index + 1)) ** 2, 1 - (1 - external) / index**2


def training_loads(
    pigments: Sequence[str],
    *,
    white: str = "titanium-white",
    loads: Sequence[float] = (0.005, 0.02, 0.05),
) -> list[dict[str, float]]:
    """Blank, a ladder of each pigment, and one tint of each with white (2 % + 2 %)."""
    ladder = [{name: load} for name in pigments for load in loads]
    tints = [{name: 0.02, white: 0.02} for name in pigments if name != white and white in pigments]
    return [{}, *ladder, *tints]


def random_loads(
    rng: np.random.Generator, pigments: Sequence[str], count: int, *, cap: float = 0.05, most: int = 3
) -> list[dict[str, float]]:
    """`count` mixtures of 1..most pigments, total at most `cap` (at most 0.02 where carbon black is in)."""
    mixtures = []
    for _ in range(count):
        size = int(rng.integers(1, min(most, len(pigments)) + 1))
        names = [pigments[place] for place in rng.choice(len(pigments), size=size, replace=False)]
        largest = min(cap, 0.02) if "carbon-black" in names else cap
        shares = rng.dirichlet(np.ones(size)) * largest * rng.uniform(0.1, 1.0)
        mixtures.append({name: float(share) for name, share in zip(names, shares, strict=True)})
    return mixtures


class World:
    """One studio.  Pigment names other than the starters' (``jar-1``) are unknown powders of random hue.

    `distance` scales how far sizes, strengths, curves and cements lie from the starter data (0: nearest).
    """

    bases: tuple[str, ...] = BASE_NAMES
    states: tuple[str, ...] = STATES

    def __init__(self, seed: int, *, pigments: Sequence[str] = STARTER_NAMES, distance: float = 1.0) -> None:
        self.seed, self.pigments, self.distance = seed, tuple(pigments), distance
        rng = self._stream("studio")
        air_share = rng.uniform(0.0, 0.25)  # of the volume around the pigments
        self.crowding = rng.uniform(0.0, 0.3)  # part of all pigment scattering lost at 5 % load, nearly
        self.clumping = {  # part of a pigment's effect lost at 5 % load, nearly
            name: float(self._stream(f"{name} clumps").uniform(0.0, 0.12)) for name in self.pigments
        }
        self.fillings = draw_fillings(rng)
        self.pastes = {name: draw_paste(self._stream(name), name, distance=distance) for name in self.bases}
        maker = PowderMaker(
            self._stream,
            dry_medium=round(SOLID_INDEX - (SOLID_INDEX - 1.0) * air_share, 2),
            wet_medium=round(SOLID_INDEX - (SOLID_INDEX - WATER_INDEX) * air_share, 2),
            distance=distance,
        )
        self.powders = {name: maker.draw(name) for name in self.pigments}

    def reflectance(self, loads: Mapping[str, float], base: str = "white-cement", state: str = "dry") -> Array:
        """True reflectance factor (31,)."""
        return self.reflectance_many(self.row(loads)[None, :], base, state)[0]

    def reflectance_many(
        self, loads: ArrayLike, base: str = "white-cement", state: str = "dry", *, saturation: float = 1.0
    ) -> Array:
        """True reflectance factors (n, 31) of loads (n, n_pigments) in the order of `pigments`.

        `saturation` 0..1 is how far the pores of a wet or demoulded piece are still filled; the film over
        the surface goes with the first fifth of the water.
        """
        filling = self.fillings[state]
        s = similarity(*self.coefficients(loads, base, state, saturation=saturation))
        bare = normal_reflectance(s)
        cover = filling.cover * float(np.clip(5 * saturation - 4, 0, 1))
        surface, inner = film_terms(filling.index)
        film = (1 - surface) * (1 - inner) * bare / (1 - inner * diffuse_reflectance(s))
        return np.clip(cover * film + (1 - cover) * bare, 0.0, 1.0)

    def coefficients(self, loads: ArrayLike, base: str, state: str, *, saturation: float = 1.0) -> tuple[Array, Array]:
        """mu_a and mu_s (1 - g) per um, each (n, 31): where exact transfer and Kubelka-Munk both start."""
        c = np.atleast_2d(np.asarray(loads, dtype=np.float64))
        c = c / (1 + np.array(list(self.clumping.values())) * c / 0.05)
        filling, paste = self.fillings[state], self.pastes[base]
        powders = [self.powders[name] for name in self.pigments]
        absorption = c @ np.array([powder.absorption for powder in powders])
        dry = c @ np.array([powder.dry_scattering for powder in powders])
        wet = c @ np.array([powder.wet_scattering for powder in powders])
        filled = filling.filled * saturation
        pores = (1 - filled) * paste.pores["air"] + filled * paste.pores[filling.liquid]
        crowded = 1 / (1 + self.crowding * c.sum(axis=-1, keepdims=True) / 0.05)
        young = 1 + filling.youth / 2
        scattering = (paste.grains + pores) / young + crowded * ((1 - filled) * dry + filled * wet)
        return paste.absorption * young + absorption, scattering

    def lab(self, loads: Mapping[str, float], base: str = "white-cement", state: str = "dry") -> Array:
        """True CIELAB (3,), D65, 2 degrees."""
        return reflectance_to_lab(self.reflectance(loads, base, state))

    def lab_many(self, loads: ArrayLike, base: str = "white-cement", state: str = "dry") -> Array:
        """True CIELAB (n, 3) of loads (n, n_pigments)."""
        return reflectance_to_lab(self.reflectance_many(loads, base, state))

    def cast(
        self,
        loads: Mapping[str, float],
        base: str = "white-cement",
        state: str = "dry",
        *,
        rng: np.random.Generator,
        cast_sd: float = 0.0,
        photo_sd: float = 0.7,
        scale_step_g: float = 0.0,
        cement_g: float = 780.0,
    ) -> Array:
        """The Lab (3,) a maker would read: weighed on a scale (two readings), cast, photographed.

        cast_sd and photo_sd are standard deviations of each of L*, a*, b*, as in the package's Shade(sd=...).
        """
        weighed = {}
        for name, load in loads.items():
            slip_g = scale_step_g * float(rng.uniform(-0.5, 0.5, 2).sum())
            weighed[name] = max(0.0, load + slip_g / cement_g) if load else 0.0
        noise = np.hypot(cast_sd, photo_sd) * rng.standard_normal(3)
        return self.lab(weighed, base, state) + noise

    def row(self, loads: Mapping[str, float]) -> Array:
        """Loads by name -> (n_pigments,); KeyError for a pigment the world does not hold."""
        if unknown := set(loads) - set(self.pigments):
            raise KeyError(f"this world has no {sorted(unknown)}; it has {self.pigments}")
        return np.array([loads.get(name, 0.0) for name in self.pigments])

    def _stream(self, subject: str) -> np.random.Generator:
        """Random numbers of their own for each subject, so that adding a pigment changes no other."""
        return np.random.default_rng([self.seed, zlib.crc32(subject.encode())])
