"""Random pigments, pastes and wettings for the simulated studio; grains by Mie theory, lengths in um."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from colormatch.data import read_records
from colormatch.kubelka_munk import reflectance_from_ks

from .powder import Coefficients, lognormal_powder, mineral
from .transfer import similarity_from_normal_reflectance

Array = NDArray[np.float64]
Stream = Callable[[str], np.random.Generator]
BANDS = np.arange(400.0, 701.0, 10.0)
STARTER_PIGMENTS = read_records("starter_pigments.toml")
STARTER_BASES = read_records("starter_bases.toml")
PASTE_CM3_PER_G = 1 / 3.15 + 0.4
WHITE_PASTE_S_PER_UM = 0.040  # the scale of the starter data; see .builders/starter_pigments.py
SOLID_INDEX, WATER_INDEX, SEALER_INDEX, CLINKER_INDEX = 1.55, 1.333, 1.49, 1.70
MINERALS = {  # mineral, density, usual median um, usual share dispersed
    "red-iron-oxide": ("hematite", 5.1, 0.15, 1.0),
    "titanium-white": ("rutile", 4.2, 0.25, 0.6),
    "carbon-black": ("carbon", 1.8, 0.15, 0.7),
}
GRAIN_INDEX = {  # from memory
    "yellow-iron-oxide": 2.2,
    "black-iron-oxide": 2.4,
    "chromium-oxide-green": 2.5,
    "cobalt-blue": 1.75,
    "ultramarine-blue": 1.70,
}
BROWN = {"red-iron-oxide": 0.55, "yellow-iron-oxide": 0.25, "black-iron-oxide": 0.20}


@dataclass(frozen=True, slots=True)
class Powder:
    """What a unit load of pigment adds: absorption and reduced scattering per um, dry and among water."""

    absorption: Array
    dry_scattering: Array
    wet_scattering: Array


@dataclass(frozen=True, slots=True)
class Paste:
    """An uncoloured base: absorption, and reduced scattering of pores (by what fills them) and of grains."""

    absorption: Array
    pores: Mapping[str, Array]  # "air", "water", "sealer"
    grains: Array


@dataclass(frozen=True, slots=True)
class Filling:
    """A state: what fills which share of the pores, and what lies over which share of the surface."""

    liquid: str
    filled: float
    index: float
    cover: float
    youth: float = 0.0  # a young paste absorbs 1 + youth/2 times as much and scatters that much less


def smooth_noise(rng: np.random.Generator, *, level: float, shape: float, length_nm: float = 80.0) -> Array:
    """A random smooth curve over the bands: one common offset of sd `level`, wiggles of sd `shape`."""
    distance = (BANDS[:, None] - BANDS[None, :]) / length_nm
    root = np.linalg.cholesky(np.exp(-0.5 * distance**2) + 1e-6 * np.eye(BANDS.size))
    return level * rng.standard_normal() + shape * (root @ rng.standard_normal(BANDS.size))


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number whose logarithm is uniform."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


@cache
def _spheres_in_paste(index: float, median_um: float) -> Array:
    """Reduced scattering of colourless spheres (pores, clinker) in the solid; kept, as worlds share sizes."""
    ray = (1.0, np.full(BANDS.size, complex(index)))
    powder = lognormal_powder((ray,), median_um=median_um, spread=1.5, medium=SOLID_INDEX, points=9)
    return powder.reduced_scattering


@cache
def _mineral_powder(name: str, median_um: float, spread: float, medium: float) -> Coefficients:
    return lognormal_powder(mineral(name), median_um=median_um, spread=spread, medium=medium, points=9)


def draw_fillings(rng: np.random.Generator) -> dict[str, Filling]:
    """The four states: 7 sealers in 10 form a film, the others only coat the pores."""
    film_former = rng.uniform() < 0.7
    sealed_share = rng.uniform(0.35, 0.8) if film_former else rng.uniform(0.0, 0.1)
    sealed_cover = rng.uniform(0.7, 1.0) if film_former else rng.uniform(0.0, 0.1)
    filled, cover = rng.uniform(0.55, 0.85), rng.uniform(0.5, 0.95)
    youth = rng.uniform(0.15, 0.6)
    return {
        "dry": Filling("air", 0.0, 1.0, 0.0),
        "wet": Filling("water", filled, WATER_INDEX, cover),
        "demould": Filling("water", min(1.0, filled + 0.1), WATER_INDEX, cover, youth),
        "sealed": Filling("sealer", sealed_share, SEALER_INDEX, sealed_cover),
    }


def draw_paste(rng: np.random.Generator, name: str, *, distance: float) -> Paste:
    """A base near the starter's: scattering from pores and clinker, absorption to give the wanted colour."""
    record = STARTER_BASES[name]
    strength = WHITE_PASTE_S_PER_UM / 0.75 * record["scatter"] * np.exp(distance * rng.normal(0, 0.2))
    pore_share, pore_um = rng.uniform(0.45, 0.8), round(log_uniform(rng, 0.4, 1.6), 1)
    contents = {"air": 1.0, "water": WATER_INDEX, "sealer": SEALER_INDEX}
    raw = {key: _spheres_in_paste(inside, pore_um) for key, inside in contents.items()}
    clinker = _spheres_in_paste(CLINKER_INDEX, 2.0)
    pores = {key: strength * pore_share * curve / raw["air"][15] for key, curve in raw.items()}
    grains = strength * (1 - pore_share) * clinker / clinker[15]
    noise = smooth_noise(rng, level=0.25, shape=0.12, length_nm=120.0)
    wanted = np.array(record["k"]) / record["scatter"] * np.exp(distance * noise)
    s = similarity_from_normal_reflectance(reflectance_from_ks(wanted))
    return Paste((pores["air"] + grains) * s**2 / (1 - s**2), pores, grains)


@dataclass(frozen=True, slots=True)
class PowderMaker:
    """Draws the pigments of one world; `stream(name)` gives each name its own random numbers."""

    stream: Stream
    dry_medium: float
    wet_medium: float
    distance: float

    def draw(self, name: str) -> Powder:
        """The powder of a starter's name near the starter, or of any other name at random."""
        if name == "brown-iron-oxide":
            return self._brown()
        if name in MINERALS:
            return self._mineral(self.stream(name), *MINERALS[name])
        if name in STARTER_PIGMENTS:
            return self._remembered(self.stream(name), name)
        return self._unknown(self.stream(name))

    def _mineral(
        self, rng: np.random.Generator, name: str, density: float, median_um: float, dispersed: float
    ) -> Powder:
        size = round(median_um * float(np.exp(self.distance * rng.normal(0, 0.2))), 2)
        spread = round(1.4 + self.distance * float(rng.uniform(-0.1, 0.1)), 1)
        strength = dispersed * np.exp(self.distance * rng.normal(0, 0.2)) / (density * PASTE_CM3_PER_G)
        dry = _mineral_powder(name, size, spread, self.dry_medium)
        wet = _mineral_powder(name, size, spread, self.wet_medium)
        absorption = strength * dry.absorption
        if name == "rutile":  # a pale white still takes up a little blue-violet light, as the starter's does
            absorption = 0.5 * WHITE_PASTE_S_PER_UM * np.array(STARTER_PIGMENTS["titanium-white"]["k"])
        return Powder(absorption, strength * dry.reduced_scattering, strength * wet.reduced_scattering)

    def _remembered(self, rng: np.random.Generator, name: str) -> Powder:
        record = STARTER_PIGMENTS[name]
        shape = 0.05 if name == "black-iron-oxide" else 0.15
        k_noise = smooth_noise(rng, level=0.25, shape=shape)
        s_noise = smooth_noise(rng, level=0.25, shape=0.1, length_nm=250.0)
        k = np.array(record["k"]) * np.exp(self.distance * k_noise)
        s = np.array(record["s"]) * np.exp(self.distance * s_noise)
        return self._from_ks(k, s, GRAIN_INDEX[name])

    def _unknown(self, rng: np.random.Generator) -> Powder:
        """One to three absorption bands anywhere in the visible, on a weak ground; any scattering."""
        k = np.full(BANDS.size, log_uniform(rng, 0.5, 5.0))
        for _ in range(int(rng.integers(1, 4))):
            centre, width = rng.uniform(380.0, 700.0), rng.uniform(25.0, 80.0)
            k += log_uniform(rng, 20.0, 200.0) * np.exp(-(((BANDS - centre) / width) ** 2))
        s = log_uniform(rng, 2.0, 30.0) * (BANDS / 550.0) ** -rng.uniform(0.0, 1.0)
        return self._from_ks(k, s, rng.uniform(1.7, 2.6))

    def _from_ks(self, k: Array, s: Array, grain_index: float) -> Powder:
        """From k, s in the starter's units; scattering goes as the square of the contrast of indices."""
        contrast = ((grain_index - self.wet_medium) / (grain_index - self.dry_medium)) ** 2
        dry = s * WHITE_PASTE_S_PER_UM / 0.75
        return Powder(k * WHITE_PASTE_S_PER_UM / 2, dry, dry * contrast)

    def _brown(self) -> Powder:
        """A blend of the world's own red, yellow and black, in proportions near the usual."""
        rng = self.stream("brown-iron-oxide")
        shares = np.array(list(BROWN.values())) * np.exp(self.distance * rng.normal(0, 0.15, 3))
        shares = shares / shares.sum()
        parts = [self.draw(name) for name in BROWN]
        return Powder(
            shares @ np.array([part.absorption for part in parts]),
            shares @ np.array([part.dry_scattering for part in parts]),
            shares @ np.array([part.wet_scattering for part in parts]),
        )
