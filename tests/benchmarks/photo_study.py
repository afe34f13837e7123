"""Simulated studio days for the photo benchmarks: 3 cameras x 6 lamps, pieces of four pigments each.

The pieces come from `worlds.casting`, whose optics are not the package's; the cameras from measured
sensitivities. Of nine pieces in a frame six may be told to the program as known swatches.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import product

import numpy as np
import pytest

from colormatch.arrays import FloatArray
from colormatch.difference import delta_e_2000
from colormatch.photo import CameraProfile, GreyCard, KnownSwatches, Photo, Surface, load_picture
from colormatch.photo.measure import measure_picture
from colormatch.photo.picture import Picture
from colormatch.photo.references import Chart24, Reference
from colormatch.shade import Shade
from colormatch.spectra import WAVELENGTHS_NM
from tests.worlds.camera import CAMERAS, LAMPS, Facts, photograph
from tests.worlds.casting import World, random_loads
from tests.worlds.scenes import studio_scene

PIGMENTS = (
    ("red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "titanium-white"),
    ("red-iron-oxide", "brown-iron-oxide", "ultramarine-blue", "titanium-white"),
    ("yellow-iron-oxide", "chromium-oxide-green", "cobalt-blue", "carbon-black"),
)
PIECES = 9
KNOWN = 6

Lights = tuple[tuple[int, tuple[str, str]], ...]  # of every frame: its number, its camera and its lamp
LIGHTS: Lights = tuple(enumerate(product(CAMERAS, LAMPS)))
A_THIRD = tuple(each for each in LIGHTS if sum(divmod(each[0], len(LAMPS))) % 3 == 0)  # every lamp once, cameras twice
lights_of_frames = pytest.mark.parametrize(
    "lights", [A_THIRD, pytest.param(LIGHTS, marks=pytest.mark.measure)], ids=["a third", "all"]
)


@dataclass(frozen=True)
class Day:
    """One frame: the picture, what is true of it, and its number, from which all is drawn."""

    picture: Picture
    facts: Facts
    number: int

    @cached_property
    def earlier(self) -> Picture:
        """An earlier frame of that camera under that lamp."""
        scene = studio_scene(pieces(self.number)[:1], size=(800, 600))
        return load_picture(photograph(scene, self.facts.camera, self.facts.lamp, seed=9000 + self.number)[0])

    def region(self, piece: int) -> tuple[float, float, float, float]:
        return self.facts.regions[f"tile {piece}"]

    def truth(self, pieces: Sequence[int]) -> np.ndarray:
        return np.array([self.facts.lab[f"tile {piece}"] for piece in pieces])

    def card(self) -> GreyCard:
        return GreyCard(self.facts.regions["grey card"])

    def swatches(self, *, sd: float = 0.3) -> KnownSwatches:
        """Six of the pieces, each known with an error of `sd`."""
        rng = np.random.default_rng(self.number)
        known = self.truth(range(1, KNOWN + 1)) + rng.normal(0, sd, (KNOWN, 3))
        return KnownSwatches([(self.region(i + 1), Shade(lab, sd=sd)) for i, lab in enumerate(known)])


@dataclass(frozen=True)
class Outcome:
    """Errors (n,) in dE00, standardised squared distances (n,), and their camera and lamp."""

    error: np.ndarray
    distance: np.ndarray
    where: tuple[tuple[str, str], ...]

    def row(self, name: str) -> str:
        inside = 100 * np.mean(self.distance < 6.251)  # 90 % of a chi-square with 3 degrees of freedom
        return (
            f"{name:34s} mean {self.error.mean():.2f}  p95 {np.percentile(self.error, 95):.2f}  "
            f"largest {self.error.max():.1f}  90 % regions hold {inside:.0f} %"
        )

    def z_by_camera(self) -> dict[str, tuple[float, float]]:
        """For each camera: mean squared standardised error a degree of freedom, and what its 90 % regions hold."""
        by = np.array([camera for camera, _ in self.where])
        of = {camera: self.distance[by == camera] for camera in CAMERAS}
        return {camera: (float(d.mean() / 3), float((d < 6.251).mean())) for camera, d in of.items()}

    def by_camera(self) -> str:
        """Mean error by lamp, a line for each camera."""
        errors: dict[tuple[str, str], list[float]] = {}
        for error, where in zip(self.error, self.where, strict=True):
            errors.setdefault(where, []).append(error)
        means = {where: f"{where[1]} {np.mean(of):.1f}" for where, of in errors.items()}
        return "\n    ".join(
            " ".join([camera, *(words for where, words in means.items() if where[0] == camera)]) for camera in CAMERAS
        )


@cache
def pieces(number: int, pigments: tuple[str, ...] = ()) -> np.ndarray:
    """(9, 31) reflectances of one studio's mixtures; of the usual pigments, if none are given."""
    pigments = pigments or PIGMENTS[number % len(PIGMENTS)]
    world = World(500 + number, pigments=pigments)
    rng = np.random.default_rng(number)
    base = "grey-cement" if number % 5 == 4 else "white-cement"
    return np.array([world.reflectance(loads, base=base) for loads in random_loads(rng, pigments, PIECES)])


@cache
def objects(number: int) -> np.ndarray:
    """(9, 31) reflectances of leaves, skin, cloth, paints, prints: nine of the 99 of CIE 224:2017."""
    from colour import SpectralShape
    from colour.quality.cfi2017 import load_TCS_CIE2017

    table = load_TCS_CIE2017(SpectralShape(380, 780, 5))
    on_grid = np.asarray(table.values).T[:, np.isin(table.wavelengths, WAVELENGTHS_NM)]
    return np.random.default_rng(number).permutation(on_grid)[:PIECES]


@cache
def day(number: int, camera: str, lamp: str, of: Callable[[int], np.ndarray] = pieces) -> Day:
    """One frame; several tests measure it."""
    rng = np.random.default_rng(1000 + number)
    pose = {"turn": rng.uniform(0, 360), "tilt": rng.uniform(0, 25), "tilt_axis": rng.uniform(0, 360)}
    data, facts = photograph(studio_scene(of(number), size=(1200, 900), **pose), camera, lamp, seed=number)
    return Day(load_picture(data), facts, number)


def days(rounds: int, first: int = 0, of: Callable[[int], np.ndarray] = pieces) -> tuple[Day, ...]:
    """Every camera under every lamp, `rounds` times, numbered from `first`."""
    return tuple(day(first + place, *light, of) for place, light in enumerate(rounds * [*product(CAMERAS, LAMPS)]))


def profile_of(day: Day) -> CameraProfile:
    """What the earlier frame's chart taught about the camera."""
    photo = measure_picture(day.earlier, regions=[(300, 450, 340, 480)], reference=Chart24())[0]
    assert photo.profile is not None
    return photo.profile


def outcome(
    chosen: Sequence[Day],
    reference: object,
    measured: Sequence[int] = range(1, PIECES + 1),
    *,
    with_profile: bool = False,
    surface: Surface = "cement",
) -> Outcome:
    """Measure pieces of every day; `reference` is a function of the day."""
    errors, distances, where = [], [], []
    for day in chosen:
        refs: Reference | list[Reference] | None = reference(day)  # type: ignore[operator]
        profile = profile_of(day) if with_profile else None
        regions, surfaces = [day.region(i) for i in measured], [surface] * len(measured)
        photos = measure_picture(day.picture, regions=regions, reference=refs, profile=profile, surfaces=surfaces)
        truth = day.truth(measured)
        errors += list(delta_e_2000(np.array([p.shade.lab for p in photos]), truth))
        distances += [standardised(p, t) for p, t in zip(photos, truth, strict=True)]
        where += [(day.facts.camera, day.facts.lamp)] * len(truth)
    return Outcome(np.array(errors), np.array(distances), tuple(where))


def standardised(photo: Photo, truth: np.ndarray) -> float:
    off = photo.shade.lab - truth
    return float(off @ np.linalg.solve(photo.shade.covariance, off))


def any_view(
    seed: int, corners_of: Callable[..., FloatArray], smallest: float
) -> tuple[np.random.Generator, FloatArray, FloatArray | None]:
    """A printed thing seen from anywhere in 1000 x 750 pixels: any turn, tilt to 30 degrees, a third in part shadow.

    Its corners, the outline of the shadow, and the generator for what comes after.
    """
    rng = np.random.default_rng(seed)
    middle = (500 + rng.uniform(-60, 60), 375 + rng.uniform(-30, 30))
    size, turn, tilt, axis = rng.uniform((smallest, 0, 0, 0), (520, 360, 30, 360))
    edge = rng.uniform(300, 700)
    shadow = np.array([[0, 0], [edge, 0], [edge - 150, 750], [0, 750]]) if seed % 3 == 0 else None
    return rng, corners_of(middle, size, turn=turn, tilt=tilt, tilt_axis=axis), shadow
