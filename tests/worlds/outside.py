"""Three more simulated studios, each on another published law of optics than the package and `casting.World`.

All hold: absorption and reduced scattering of paste and pigments from `powders` (per unit load, relative to
white paste), a dose law, a law of reflectance, and an account of water of its own.  What is random in them is
ours and invented; the spread of the darkening by water was set so that a piece of mean reflectance 0.59 falls
to about 0.36, as Levinson & Akbari (2002) measured on wetted concrete.  The same seed gives the three the same
pigments and cements, so that what differs between them is the law.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from . import layers
from .casting import STARTER_NAMES, World
from .powders import Array, draw_cement, draw_powder

WATER_INDEX, SEALER_INDEX, SOLID_INDEX = 1.33, 1.48, 1.56  # water; an acrylic; calcium silicate hydrate (memory)


@dataclass(frozen=True)
class Soak:
    """What filled pores leave of the scattering of paste and pigments, what youth does, and the film outside."""

    paste: float = 1.0
    powder: float = 1.0
    young_absorption: float = 1.0
    young_scattering: float = 1.0
    cover: float = 0.0
    index: float = WATER_INDEX


class OutsideWorld(World):
    """What the three have in common; a child says how it doses, soaks and reflects."""

    def __init__(self, seed: int, *, pigments: Sequence[str] = STARTER_NAMES, distance: float = 1.0) -> None:
        self.seed, self.pigments, self.distance = seed, tuple(pigments), distance
        self.pastes = {name: draw_cement(self._stream, name, distance=distance) for name in self.bases}
        self.powders = {name: draw_powder(self._stream, name, distance=distance) for name in self.pigments}
        self.soaks = {"dry": Soak(), **self._soaks(self._stream("water"))}

    def reflectance_many(
        self, loads: ArrayLike, base: str = "white-cement", state: str = "dry", *, saturation: float = 1.0
    ) -> Array:
        """True reflectance factors (n, 31) of loads (n, n_pigments); see `World.reflectance_many`."""
        c = np.atleast_2d(np.asarray(loads, dtype=np.float64))
        soak = self.soaks[state]
        cover = soak.cover * float(np.clip(5 * saturation - 4, 0, 1))
        return np.clip(self._reflect(c, base, soak, saturation, cover), 0.0, 1.0)

    def _mixture(self, c: Array, base: str, soak: Soak, saturation: float) -> tuple[Array, Array]:
        """Absorption and reduced scattering (n, 31) of paste with effective loads c (n, n_pigments)."""
        paste, powders = self.pastes[base], list(self.powders.values())
        left_paste, left_powder = (1 - saturation * (1 - share) for share in (soak.paste, soak.powder))
        absorption = paste.absorption * soak.young_absorption + c @ np.array([p.absorption for p in powders])
        scattering = paste.scattering * soak.young_scattering * left_paste
        return absorption, scattering + left_powder * (c @ np.array([p.scattering for p in powders]))

    def _soaks(self, rng: np.random.Generator) -> dict[str, Soak]:
        raise NotImplementedError

    def _reflect(self, c: Array, base: str, soak: Soak, saturation: float, cover: float) -> Array:
        raise NotImplementedError


class HapkeWorld(OutsideWorld):
    """Hapke's bidirectional reflectance factor at 45:0; a pigment's grains shade each other as the dose rises.

    Law: isotropic multiple scattering approximation, B. Hapke, Theory of Reflectance and Emittance
    Spectroscopy (1993), ch. 8, with H of Hapke, Icarus 157 (2002) 523; mixing by cross-section, ch. 10; no
    opposition surge at 45 degrees.  Dose: grains thrown at random hide each other (Poisson), up to 25 % of the
    effect is lost at 5 %.  Water: grains in water scatter more forward (S. A. Twomey, C. F. Bohren & J. L.
    Mergenthaler, Appl. Opt. 25 (1986) 431), so that less of 1 - g is left; a film over part of the surface.
    """

    def __init__(self, seed: int, *, pigments: Sequence[str] = STARTER_NAMES, distance: float = 1.0) -> None:
        super().__init__(seed, pigments=pigments, distance=distance)
        self.lean = float(self._stream("grains").uniform(-0.25, 0.1))  # of the single-particle phase function
        lost = np.array([self._stream(f"{name} hides").uniform(0.0, 0.25) for name in self.pigments])
        self.hiding = _hiding(lost)

    def _reflect(self, c: Array, base: str, soak: Soak, saturation: float, cover: float) -> Array:
        absorption, scattering = self._mixture(hidden(c, self.hiding), base, soak, saturation)
        albedo = scattering / (absorption + scattering)
        bare, inner = hapke_factor(albedo, self.lean), layers.diffuse_inside(soak.index)
        surface = float(layers.fresnel(np.sqrt(0.5), soak.index))
        film = (1 - surface) * (1 - inner) * bare / (1 - inner * hapke_sphere(albedo))
        return cover * film + (1 - cover) * bare

    def _soaks(self, rng: np.random.Generator) -> dict[str, Soak]:
        paste, powder = rng.uniform(0.28, 0.42), rng.uniform(0.55, 0.9)
        wet = Soak(paste, powder, cover=rng.uniform(0.0, 0.4))
        young = Soak(
            paste * rng.uniform(0.75, 0.95),
            powder,
            rng.uniform(1.05, 1.25),
            rng.uniform(0.88, 1.0),
            min(1.0, wet.cover + rng.uniform(0.05, 0.3)),
        )
        sealed = Soak(rng.uniform(0.4, 0.65), rng.uniform(0.7, 0.95), cover=rng.uniform(0.1, 0.5), index=SEALER_INDEX)
        return {"wet": wet, "demould": young, "sealed": sealed}


class LayeredWorld(OutsideWorld):
    """A cement-rich skin of 50..300 um on a body, by discrete ordinates; some pigment stays in coarse clumps.

    Law: `layers` (Henyey-Greenstein grains, the skin added on the body, light seen along the normal).  Clumps
    flatten a curve by the sieve effect: L. N. M. Duysens, Biochim. Biophys. Acta 19 (1956) 1; the share of a
    pigment in clumps grows with its dose.  Water: pores scatter by the square of (index of solid / index of
    filling - 1), the small-contrast limit of Rayleigh, Gans and Debye (H. C. van de Hulst, Light Scattering by
    Small Particles (1957), ch. 7); where a film covers the piece, its surface is Fresnel's, angle by angle.
    """

    def __init__(self, seed: int, *, pigments: Sequence[str] = STARTER_NAMES, distance: float = 1.0) -> None:
        super().__init__(seed, pigments=pigments, distance=distance)
        rng = self._stream("skin")
        self.skin_um = float(rng.uniform(50.0, 300.0))
        self.skin_share = float(rng.uniform(0.4, 0.9))  # of the body's load
        self.scattering_per_um = float(np.exp(rng.uniform(np.log(0.008), np.log(0.04))))  # where paste is 1
        self.g = float(rng.uniform(0.3, 0.7))
        clumps = [self._stream(f"{name} clumps") for name in self.pigments]
        self.clumped = np.array([rng.uniform(0.1, 0.5) for rng in clumps])  # share of a pigment in clumps at 5 %
        strongest = [rng.uniform(0.3, 2.5) for rng in clumps]  # optical thickness of a clump where darkest
        self.clump = np.array(
            [
                sieve(thick * powder.absorption / powder.absorption.max())
                for thick, powder in zip(strongest, self.powders.values(), strict=True)
            ]
        )

    def _reflect(self, c: Array, base: str, soak: Soak, saturation: float, cover: float) -> Array:
        skin, body = (self._optics(share * c, base, soak, saturation) for share in (self.skin_share, 1.0))
        reflection, transmission = layers.layer(skin[0], self.g, skin[1] * self.scattering_per_um * self.skin_um)
        matrix = layers.on_top(reflection, transmission, layers.semi_infinite(body[0], self.g))
        return cover * layers.under_film(matrix, soak.index) + (1 - cover) * layers.leaving_normal(matrix)

    def _optics(self, c: Array, base: str, soak: Soak, saturation: float) -> tuple[Array, Array]:
        """Albedo and extinction (n, 31), not reduced."""
        absorption, scattering = self._mixture(c, base, soak, saturation)
        share = np.minimum(1.0, self.clumped * c / 0.05)
        lost = (1 - self.clump) * np.array([powder.absorption for powder in self.powders.values()])
        absorption, scattering = absorption - (share * c) @ lost, scattering / (1 - self.g)
        return scattering / (absorption + scattering), absorption + scattering

    def _soaks(self, rng: np.random.Generator) -> dict[str, Soak]:
        pores, filled = rng.uniform(0.6, 0.85), rng.uniform(0.75, 1.0)  # share of scattering, share of pores
        powder, cover = rng.uniform(0.6, 1.0), rng.uniform(0.4, 0.9)
        young = rng.uniform(1.05, 1.25), rng.uniform(0.88, 1.0)
        wet = Soak(matched(pores, filled, WATER_INDEX), powder, cover=cover)
        damp = Soak(matched(pores, min(1.0, filled + 0.15), WATER_INDEX), powder, *young, min(1.0, cover + 0.2))
        sealed = matched(pores, filled * rng.uniform(0.5, 0.8), SEALER_INDEX)
        return {"wet": wet, "demould": damp, "sealed": Soak(sealed, powder, cover=cover / 2, index=SEALER_INDEX)}


class SpeckledWorld(OutsideWorld):
    """Badly dispersed pigment: specks of high load on a ground of low load, light spreading between them.

    Law: area average of R^(1/n), 1 < n < 2 (J. A. C. Yule & W. J. Nielsen, TAGA Proc. 3 (1951) 65), each patch a
    semi-infinite body by discrete ordinates.  Specks: a fixed part of each pigment, at a load of its own.
    Water: patches of film over soaked cement, the rest damp, as in MARMIT (A. Bablet et al., Remote Sens.
    Environ. 217 (2018) 1); the film by Lekner & Dorf, Appl. Opt. 27 (1988) 1278.
    """

    def __init__(self, seed: int, *, pigments: Sequence[str] = STARTER_NAMES, distance: float = 1.0) -> None:
        super().__init__(seed, pigments=pigments, distance=distance)
        rng = self._stream("specks")
        self.spread, self.g = float(rng.uniform(1.0, 2.0)), float(rng.uniform(0.3, 0.7))
        specks = [self._stream(f"{name} specks") for name in self.pigments]
        self.kept = np.array([rng.uniform(0.05, 0.35) for rng in specks])  # share of a pigment in specks
        self.speck_load = np.array([rng.uniform(0.15, 0.5) for rng in specks])
        root = np.linspace(0.0, 1.0, 201)
        matrix = layers.semi_infinite(1 - root**2, self.g)
        self._seen = CubicSpline(root, layers.leaving_normal(matrix))
        self._even = CubicSpline(root, layers.leaving_even(matrix))

    def _reflect(self, c: Array, base: str, soak: Soak, saturation: float, cover: float) -> Array:
        area = self.kept * c / self.speck_load  # (n, pigments); what is left is ground
        ground = (1 - self.kept) * c / (1 - area.sum(axis=1, keepdims=True))
        total = (1 - area.sum(axis=1))[:, None] * self._patch(ground, base, soak, saturation, cover)
        for place in np.flatnonzero(c.any(axis=0)):
            speck = ground + self.speck_load[place] * np.eye(c.shape[1])[place]
            total = total + area[:, place, None] * self._patch(speck, base, soak, saturation, cover)
        return total**self.spread

    def _patch(self, c: Array, base: str, soak: Soak, saturation: float, cover: float) -> Array:
        """R^(1/n) of a patch."""
        absorption, scattering = self._mixture(c, base, soak, saturation)
        root = np.sqrt(absorption / (absorption + scattering / (1 - self.g)))
        bare, inner = self._seen(root), layers.diffuse_inside(soak.index)
        surface = float(layers.fresnel(1.0, soak.index))
        film = (1 - surface) * (1 - inner) * bare / (1 - inner * self._even(root))
        return np.maximum(cover * film + (1 - cover) * bare, 0.0) ** (1 / self.spread)

    def _soaks(self, rng: np.random.Generator) -> dict[str, Soak]:
        pores, filled = rng.uniform(0.5, 0.75), rng.uniform(0.7, 1.0)
        powder, cover = rng.uniform(0.7, 1.0), rng.uniform(0.5, 1.0)
        young = rng.uniform(1.05, 1.25), rng.uniform(0.85, 0.98)
        wet = Soak(matched(pores, filled, WATER_INDEX), powder, cover=cover)
        damp = Soak(matched(pores, min(1.0, filled + 0.1), WATER_INDEX), powder, *young, min(1.0, cover + 0.1))
        sealed = Soak(matched(pores, 0.5 * filled, SEALER_INDEX), 1.0, cover=0.8 * cover, index=SEALER_INDEX)
        return {"wet": wet, "demould": damp, "sealed": sealed}


OUTSIDE_WORLDS: tuple[type[OutsideWorld], ...] = (HapkeWorld, LayeredWorld, SpeckledWorld)


def hapke_h(albedo: ArrayLike, cosine: float) -> Array:
    """Hapke's 2002 approximation of Chandrasekhar's H function."""
    w = np.asarray(albedo, dtype=np.float64)
    first = (1 - np.sqrt(1 - w)) / (1 + np.sqrt(1 - w))
    return 1 / (1 - w * cosine * (first + (1 - 2 * first * cosine) / 2 * np.log((1 + cosine) / cosine)))


def hapke_factor(albedo: ArrayLike, lean: float) -> Array:
    """Reflectance factor lit at 45 degrees and seen along the normal; lean: asymmetry of single scattering."""
    w, lit, seen = np.asarray(albedo, dtype=np.float64), np.sqrt(0.5), 1.0
    single = (1 - lean**2) / (1 + lean**2 + 2 * lean * np.cos(np.pi / 4)) ** 1.5
    return w / 4 / (lit + seen) * (single + hapke_h(w, lit) * hapke_h(w, seen) - 1)


def hapke_sphere(albedo: ArrayLike) -> Array:
    """Share of even light sent back by isotropic grains (bihemispherical); Hapke (1993), ch. 10, to first order."""
    gamma = np.sqrt(1 - np.asarray(albedo, dtype=np.float64))
    return (1 - gamma) / (1 + gamma) * (1 - gamma / (3 * (1 + gamma)))


def hidden(load: Array, hiding: Array) -> Array:
    """Effective load where grains hide each other at random: 0.05 (1 - exp(-b c / 0.05)) / b."""
    return 0.05 * -np.expm1(-hiding * load / 0.05) / hiding


def _hiding(lost: Array) -> Array:
    """b for which the share `lost` (0..0.25) of the effect is gone at 5 %: (1 - exp(-b)) / b = 1 - lost."""
    b = np.linspace(1e-6, 1.0, 4001)
    return np.interp(lost, 1 + np.expm1(-b) / b, b)


def sieve(thickness: ArrayLike) -> Array:
    """Share of its absorption that a sphere of optical diameter `thickness` > 0 keeps; Duysens (1956).

    3 Q / (2 t) with Q = 1 - 2 (1 - (1 + t) exp(-t)) / t^2 (the absorption efficiency of a sphere).
    """
    t = np.asarray(thickness, dtype=np.float64)
    exact = np.maximum(t, 0.02)
    absorbed = 1 - 2 * (1 - (1 + exact) * np.exp(-exact)) / exact**2
    return np.where(t < 0.02, 1 - 3 * t / 8, 1.5 * absorbed / exact)


def matched(pores: float, filled: float, index: float) -> float:
    """Scattering left when the share `filled` of pores, which scatter the share `pores`, holds a liquid."""
    faint = ((SOLID_INDEX / index - 1) / (SOLID_INDEX - 1)) ** 2
    return 1 - pores * filled * (1 - faint)
