"""A simulated studio: pigments, cements and castings whose optics are NOT the package's model.

Differences from the package: exact multiple scattering (`transfer`) seen along the normal instead of
Kubelka-Munk; grains by Mie theory with sizes that change from world to world; pigments that crowd each other;
water that fills pores (pore scattering recomputed by Mie with water or sealer inside) and also surrounds the
pigments; a film over part of the surface, lit by what the exact theory sends back.  Everything about a world
follows from its seed.  Lengths in micrometres, loads in g pigment per g dry cement, Lab for D65 and 2 degrees.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colormatch.colorimetry import reflectance_to_lab
from colormatch.data import read_records
from colormatch.kubelka_munk import reflectance_from_ks

from .powder import Coefficients, lognormal_powder, mineral
from .transfer import diffuse_reflectance, normal_reflectance, similarity, similarity_from_normal_reflectance

Array = NDArray[np.float64]
BANDS = np.arange(400.0, 701.0, 10.0)
STARTER_NAMES = tuple(read_records("starter_pigments.toml"))
BASE_NAMES = tuple(read_records("starter_bases.toml"))
STATES = ("dry", "wet", "demould", "sealed")
PASTE_CM3_PER_G = 1 / 3.15 + 0.4
WHITE_PASTE_S_PER_UM = 0.040  # the scale of the starter data; see .builders/starter_pigments.py
SOLID_INDEX, WATER_INDEX, SEALER_INDEX, CLINKER_INDEX = 1.55, 1.333, 1.49, 1.70
MINERALS = {"red-iron-oxide": ("hematite", 5.1, 0.15, 1.0), "titanium-white": ("rutile", 4.2, 0.25, 0.6),
            "carbon-black": ("carbon", 1.8, 0.15, 0.7)}  # mineral, density, usual median um, usual share dispersed
GRAIN_INDEX = {"yellow-iron-oxide": 2.2, "black-iron-oxide": 2.4, "brown-iron-oxide": 2.5,
               "chromium-oxide-green": 2.5, "cobalt-blue": 1.75, "ultramarine-blue": 1.70}  # from memory
BROWN = {"red-iron-oxide": 0.55, "yellow-iron-oxide": 0.25, "black-iron-oxide": 0.20}


@dataclass(frozen=True, slots=True)
class Powder:
    """What one pigment adds per unit load: absorption and reduced scattering per um, dry and with wet surroundings."""

    absorption: Array
    dry_scattering: Array
    wet_scattering: Array


@dataclass(frozen=True, slots=True)
class Paste:
    """An uncoloured base: its absorption, and reduced scattering of its pores (by what fills them) and its grains."""

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


@cache
def _spheres_in_paste(index: float, median_um: float) -> Array:
    """Reduced scattering of colourless spheres (pores, clinker) in the solid; kept, as worlds share sizes."""
    ray = (1.0, np.full(BANDS.size, complex(index)))
    powder = lognormal_powder((ray,), median_um=median_um, spread=1.5, medium=SOLID_INDEX, points=9)
    return powder.reduced_scattering


@cache
def _mineral_powder(name: str, median_um: float, spread: float, medium: float) -> Coefficients:
    return lognormal_powder(mineral(name), median_um=median_um, spread=spread, medium=medium, points=9)


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
    pigments: Sequence[str], *, white: str = "titanium-white", loads: Sequence[float] = (0.005, 0.02, 0.05)
) -> list[dict[str, float]]:
    """Blank, a ladder of each pigment, and one tint of each with white (2 % + 2 %)."""
    ladder = [{name: load} for name in pigments for load in loads]
    tints = [{name: 0.02, white: 0.02} for name in pigments if name != white and white in pigments]
    return [{}, *ladder, *tints]


def random_loads(
    rng: np.random.Generator, pigments: Sequence[str], count: int, *, cap: float = 0.05, most: int = 3
) -> list[dict[str, float]]:
    """`count` mixtures of 1..most pigments whose total load is at most `cap` (carbon black at most 0.02)."""
    mixtures = []
    for _ in range(count):
        names = rng.choice(len(pigments), size=int(rng.integers(1, min(most, len(pigments)) + 1)), replace=False)
        shares = rng.dirichlet(np.ones(len(names))) * cap * rng.uniform(0.1, 1.0)
        mixture = {pigments[place]: float(share) for place, share in zip(names, shares, strict=True)}
        if "carbon-black" in mixture:  # its own maximum holds for the total
            mixture = {name: load * min(1.0, 0.02 / sum(mixture.values())) for name, load in mixture.items()}
        mixtures.append(mixture)
    return mixtures


class World:
    """One studio.  Pigment names other than the starters' (``jar-1``) are unknown powders of random hue.

    `distance` scales how far sizes, strengths, curves and cements lie from the starter data (0: nearest).
    """

    bases: tuple[str, ...] = BASE_NAMES
    states: tuple[str, ...] = STATES

    def __init__(self, seed: int, *, pigments: Sequence[str] = STARTER_NAMES, distance: float = 1.0) -> None:
        self.seed, self.pigments, self.distance = seed, tuple(pigments), distance
        rng = self._rng("studio")
        air_share = rng.uniform(0.0, 0.25)  # of the volume around the pigments
        self._dry_medium = round(SOLID_INDEX - (SOLID_INDEX - 1.0) * air_share, 2)
        self._wet_medium = round(SOLID_INDEX - (SOLID_INDEX - WATER_INDEX) * air_share, 2)
        self.crowding = rng.uniform(0.0, 0.2)  # part of pigment scattering lost at 5 % load
        self.fillings = self._draw_fillings(rng)
        self._pastes = {name: self._draw_paste(name) for name in self.bases}
        self._powders = {name: self._draw_powder(name) for name in self.pigments}

    def reflectance(self, loads: Mapping[str, float], base: str = "white-cement", state: str = "dry") -> Array:
        """True reflectance factor (31,)."""
        return self.reflectance_many(self.row(loads)[None, :], base, state)[0]

    def reflectance_many(
        self, loads: ArrayLike, base: str = "white-cement", state: str = "dry", *, saturation: float = 1.0
    ) -> Array:
        """True reflectance factors (n, 31) of loads (n, n_pigments) in the order of `pigments`.

        `saturation` 0..1 is how far the pores of a wet or demoulded piece are still filled; the film over the
        surface goes with the first fifth of the water.
        """
        filling = self.fillings[state]
        filled, cover = filling.filled * saturation, filling.cover * np.clip(5 * saturation - 4, 0, 1)
        absorption, scattering = self.coefficients(loads, base, state, filled=filled)
        s = similarity(absorption, scattering)
        bare = normal_reflectance(s)
        surface, inner = film_terms(filling.index)
        film = (1 - surface) * (1 - inner) * bare / (1 - inner * diffuse_reflectance(s))
        return np.clip(cover * film + (1 - cover) * bare, 0.0, 1.0)

    def coefficients(
        self, loads: ArrayLike, base: str, state: str, *, filled: float | None = None
    ) -> tuple[Array, Array]:
        """mu_a and mu_s (1 - g) per um, each (n, 31): what `transfer` and, for comparison, Kubelka-Munk take."""
        c = np.atleast_2d(np.asarray(loads, dtype=np.float64))
        filling, paste = self.fillings[state], self._pastes[base]
        filled = filling.filled if filled is None else filled
        powders = [self._powders[name] for name in self.pigments]
        absorption = c @ np.array([powder.absorption for powder in powders])
        dry = c @ np.array([powder.dry_scattering for powder in powders])
        wet = c @ np.array([powder.wet_scattering for powder in powders])
        pores = (1 - filled) * paste.pores["air"] + filled * paste.pores[filling.liquid]
        crowded = (1 + self.crowding * c.sum(axis=-1, keepdims=True) / 0.05) ** -1
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
        self, loads: Mapping[str, float], base: str = "white-cement", state: str = "dry", *,
        rng: np.random.Generator, cast_sd: float = 0.0, photo_sd: float = 0.7,
        scale_step_g: float = 0.0, cement_g: float = 780.0,
    ) -> Array:
        """The Lab (3,) a maker would read: weighed on a scale (two readings), cast, photographed.

        cast_sd and photo_sd are standard deviations of each of L*, a*, b*, as in the package's Shade(sd=...).
        """
        weighed = {}
        for name, load in loads.items():
            slip_g = scale_step_g * rng.uniform(-0.5, 0.5, 2).sum()
            weighed[name] = max(0.0, load + slip_g / cement_g) if load else 0.0
        noise = np.hypot(cast_sd, photo_sd) * rng.standard_normal(3)
        return self.lab(weighed, base, state) + noise

    def row(self, loads: Mapping[str, float]) -> Array:
        """Loads by name -> (n_pigments,); KeyError for a pigment the world does not hold."""
        if unknown := set(loads) - set(self.pigments):
            raise KeyError(f"this world has no {sorted(unknown)}; it has {self.pigments}")
        return np.array([loads.get(name, 0.0) for name in self.pigments])

    def _rng(self, subject: str) -> np.random.Generator:
        """A stream of its own for each subject, so that adding a pigment changes no other."""
        return np.random.default_rng([self.seed, zlib.crc32(subject.encode())])

    def _draw_fillings(self, rng: np.random.Generator) -> dict[str, Filling]:
        film_former = rng.uniform() < 0.7
        sealed_share = rng.uniform(0.35, 0.8) if film_former else rng.uniform(0.0, 0.1)
        sealed_cover = rng.uniform(0.7, 1.0) if film_former else rng.uniform(0.0, 0.1)
        filled, cover = rng.uniform(0.55, 0.85), rng.uniform(0.5, 0.95)
        return {
            "dry": Filling("air", 0.0, 1.0, 0.0),
            "wet": Filling("water", filled, WATER_INDEX, cover),
            "demould": Filling("water", min(1.0, filled + 0.1), WATER_INDEX, cover, rng.uniform(0.15, 0.6)),
            "sealed": Filling("sealer", sealed_share, SEALER_INDEX, sealed_cover),
        }

    def _draw_paste(self, name: str) -> Paste:
        rng, record = self._rng(name), read_records("starter_bases.toml")[name]
        strength = WHITE_PASTE_S_PER_UM / 0.75 * record["scatter"] * np.exp(self.distance * rng.normal(0, 0.2))
        pore_share, pore_um = rng.uniform(0.45, 0.8), round(float(np.exp(rng.uniform(np.log(0.4), np.log(1.6)))), 1)
        contents = {"air": 1.0, "water": WATER_INDEX, "sealer": SEALER_INDEX}
        raw = {key: _spheres_in_paste(inside, pore_um) for key, inside in contents.items()}
        clinker = _spheres_in_paste(CLINKER_INDEX, 2.0)
        pores = {key: strength * pore_share * curve / raw["air"][15] for key, curve in raw.items()}
        grains = strength * (1 - pore_share) * clinker / clinker[15]
        wanted = np.array(record["k"]) / record["scatter"] * np.exp(
            self.distance * smooth_noise(rng, level=0.25, shape=0.12, length_nm=120.0))
        s = similarity_from_normal_reflectance(reflectance_from_ks(wanted))
        return Paste((pores["air"] + grains) * s**2 / (1 - s**2), pores, grains)

    def _draw_powder(self, name: str) -> Powder:
        if name == "brown-iron-oxide":
            return self._draw_brown()
        rng = self._rng(name)
        if name in MINERALS:
            return self._draw_mineral(rng, *MINERALS[name])
        if name in STARTER_NAMES:
            return self._draw_remembered(rng, name)
        return self._draw_unknown(rng)

    def _draw_mineral(
        self, rng: np.random.Generator, name: str, density: float, median_um: float, dispersed: float
    ) -> Powder:
        size = round(median_um * float(np.exp(self.distance * rng.normal(0, 0.2))), 2)
        spread = round(1.4 + self.distance * float(rng.uniform(-0.1, 0.1)), 1)
        strength = dispersed * np.exp(self.distance * rng.normal(0, 0.2)) / (density * PASTE_CM3_PER_G)
        dry = _mineral_powder(name, size, spread, self._dry_medium)
        wet = _mineral_powder(name, size, spread, self._wet_medium)
        # a pale white still takes up a little blue-violet light, as the starter's does
        edge = 0.5 * WHITE_PASTE_S_PER_UM * np.array(read_records("starter_pigments.toml")["titanium-white"]["k"])
        extra = edge if name == "rutile" else 0.0
        return Powder(
            strength * dry.absorption + extra, strength * dry.reduced_scattering, strength * wet.reduced_scattering)

    def _draw_remembered(self, rng: np.random.Generator, name: str) -> Powder:
        record = read_records("starter_pigments.toml")[name]
        shape = 0.05 if name == "black-iron-oxide" else 0.15
        k = np.array(record["k"]) * np.exp(self.distance * smooth_noise(rng, level=0.25, shape=shape))
        s = np.array(record["s"]) * np.exp(self.distance * smooth_noise(rng, level=0.25, shape=0.1, length_nm=250.0))
        return self._from_ks(k, s, GRAIN_INDEX[name])

    def _draw_unknown(self, rng: np.random.Generator) -> Powder:
        """One to three absorption bands anywhere in the visible, on a weak ground; scattering weak to strong."""
        k = np.full(BANDS.size, np.exp(rng.uniform(np.log(0.5), np.log(5.0))))
        for _ in range(int(rng.integers(1, 4))):
            centre, width = rng.uniform(380.0, 700.0), rng.uniform(25.0, 80.0)
            k += np.exp(rng.uniform(np.log(20.0), np.log(200.0))) * np.exp(-(((BANDS - centre) / width) ** 2))
        s = np.exp(rng.uniform(np.log(2.0), np.log(30.0))) * (BANDS / 550.0) ** -rng.uniform(0.0, 1.0)
        return self._from_ks(k, s, rng.uniform(1.7, 2.6))

    def _from_ks(self, k: Array, s: Array, grain_index: float) -> Powder:
        """A powder from k, s in the starter's units; scattering follows the square of the contrast of indices."""
        contrast = ((grain_index - self._wet_medium) / (grain_index - self._dry_medium)) ** 2
        dry = s * WHITE_PASTE_S_PER_UM / 0.75
        return Powder(k * WHITE_PASTE_S_PER_UM / 2, dry, dry * contrast)

    def _draw_brown(self) -> Powder:
        """A blend of the world's own red, yellow and black, in proportions near the usual."""
        rng = self._rng("brown-iron-oxide")
        shares = np.array(list(BROWN.values())) * np.exp(self.distance * rng.normal(0, 0.15, 3))
        parts = [self._draw_powder(name) for name in BROWN]
        return Powder(*(
            (shares / shares.sum()) @ np.array([getattr(part, field) for part in parts])
            for field in ("absorption", "dry_scattering", "wet_scattering")))
