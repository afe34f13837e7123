"""Pigments and cements of the outside worlds: curves written by chemistry, another draw in every studio.

Absorption is built from charge-transfer edges (logistic) and bands (Gaussian), scattering is a power of the
wavelength.  Both are per unit load and relative to the reduced scattering of white cement paste at 550 nm.
Where edges and bands lie is from memory (Burns, Mineralogical Applications of Crystal Field Theory, 2nd ed.
1993; Cornell & Schwertmann, The Iron Oxides, 2nd ed. 2003); how strong they are was set so that 2 % in
white cement looks like coloured white cement does (from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Stream = Callable[[str], np.random.Generator]

WAVELENGTH_NM = np.arange(400.0, 701.0, 10.0)


@dataclass(frozen=True)
class Powder:
    """Absorption and reduced scattering (31,) per unit load."""

    absorption: Array
    scattering: Array


@dataclass(frozen=True)
class Curve:
    """Edges and bands as (height, place nm, width nm), a flat part, and scattering at 550 nm with its power."""

    edges: tuple[tuple[float, float, float], ...] = ()
    bands: tuple[tuple[float, float, float], ...] = ()
    flat: float = 0.0
    scattering: float = 5.0
    power: float = 0.5


CURVES = {
    "red-iron-oxide": Curve(((24, 576, 14), (26, 535, 18), (9, 660, 40)), (), 4.5, 20, 0.3),  # hematite
    "yellow-iron-oxide": Curve(((15, 512, 13),), ((5, 480, 14), (0.9, 650, 45)), 0.7, 8, 0.6),  # goethite
    "black-iron-oxide": Curve(((4, 480, 60),), (), 32, 6, 0.3),  # magnetite
    "titanium-white": Curve(((3, 404, 5),), (), 0.02, 28, 1.2),  # rutile
    "chromium-oxide-green": Curve(((16, 395, 14),), ((12, 455, 32), (9, 602, 34)), 2.6, 7, 0.4),  # chromia
    "cobalt-blue": Curve(((5, 390, 14),), ((5, 545, 20), (8, 585, 20), (9, 628, 22)), 0.8, 5, 0.6),
    "ultramarine-blue": Curve(((4, 385, 14),), ((14, 590, 38), (4, 540, 30)), 0.9, 3, 0.5),
    "carbon-black": Curve((), (), 105, 4, 0.5),
}
BROWN = {"red-iron-oxide": 0.5, "yellow-iron-oxide": 0.28, "black-iron-oxide": 0.22}  # shares by mass
CEMENTS = {  # absorption and scattering of the paste itself
    "white-cement": Curve(((0.03, 420, 45),), (), 0.008, 1.0, 0.2),
    "grey-cement": Curve(((0.06, 520, 60),), (), 0.135, 0.8, 0.15),
}


def draw_powder(stream: Stream, name: str, *, distance: float = 1.0) -> Powder:
    """The lot of a pigment this studio has; a name that is no starter's is an unknown powder of random hue."""
    rng = stream(f"{name} lot")
    if name == "brown-iron-oxide":
        return _blend(rng, [draw_powder(stream, part, distance=distance) for part in BROWN], distance)
    return render(CURVES.get(name) or _unknown(stream(f"{name} kind")), rng, distance)


def draw_cement(stream: Stream, name: str, *, distance: float = 1.0) -> Powder:
    """Absorption and reduced scattering of the dry paste without pigment."""
    return render(CEMENTS[name], stream(f"{name} bag"), 0.7 * distance)


def render(curve: Curve, rng: np.random.Generator, distance: float) -> Powder:
    """One lot of a curve: strength +/- 25 %, scattering +/- 30 %, edges and bands shifted by about 4 nm."""

    def near(value: float, spread: float) -> float:
        return float(value * np.exp(distance * spread * rng.standard_normal()))

    def part(height: float, place: float, width: float) -> tuple[float, Array, float]:
        shifted = WAVELENGTH_NM - place - distance * 4.0 * rng.standard_normal()
        return near(height, 0.12), shifted, near(width, 0.12)

    absorption = np.full(WAVELENGTH_NM.shape, near(curve.flat, 0.25))
    for height, shifted, width in (part(*edge) for edge in curve.edges):
        absorption += height / (1 + np.exp(shifted / width))
    for height, shifted, width in (part(*band) for band in curve.bands):
        absorption += height * np.exp(-0.5 * (shifted / width) ** 2)
    power = curve.power + distance * 0.25 * rng.standard_normal()
    scattering = near(curve.scattering, 0.3) * (WAVELENGTH_NM / 550.0) ** -power
    return Powder(near(1.0, 0.25) * absorption, scattering)


def _blend(rng: np.random.Generator, parts: list[Powder], distance: float) -> Powder:
    """A brown: the iron oxides of the trade ground together, in shares that change from lot to lot."""
    shares = np.array(list(BROWN.values())) * np.exp(distance * 0.2 * rng.standard_normal(len(parts)))
    shares = shares / shares.sum()
    return Powder(shares @ [part.absorption for part in parts], shares @ [part.scattering for part in parts])


def _unknown(rng: np.random.Generator) -> Curve:
    """Warm (an edge), cool (one or two bands) or a grey; strengths over a decade, as coloured powders have."""
    strength, scattering = float(np.exp(rng.uniform(np.log(5), np.log(50)))), float(rng.uniform(2, 22))
    kind = rng.choice(["edge", "bands", "grey"], p=[0.45, 0.45, 0.1])
    flat = strength * float(rng.uniform(0.02, 0.15))
    if kind == "edge":
        edge = (strength, float(rng.uniform(480, 620)), float(rng.uniform(8, 22)))
        return Curve((edge,), (), flat, scattering, float(rng.uniform(0, 1)))
    if kind == "bands":
        places = rng.uniform(440, 660, int(rng.integers(1, 3)))
        bands = tuple((strength, float(place), float(rng.uniform(22, 55))) for place in places)
        return Curve(((0.5 * strength, 395.0, 15.0),), bands, flat, scattering, float(rng.uniform(0, 1)))
    return Curve((), (), strength, scattering, float(rng.uniform(0, 1)))
