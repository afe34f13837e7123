"""A bench seen from above as a relief: things of one reflectance each, with height, lit by one large lamp.

Everything that lies flat and unshaded has shading 1, so its colour in the picture follows from its
reflectance, the lamp and the camera alone. Lengths in pixels of the upright picture, y downwards.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from tests.worlds.camera import WARM, Camera, camera_matrix, develop, lamp_spectrum, sensitivities

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

AMBIENT, DIRECT = 0.55, 0.45
LAMP_AZIMUTH, LAMP_ELEVATION = np.radians(215.0), np.radians(48.0)  # from the upper left
_STEPS = 28  # of the march towards the lamp
_LAMP_WIDTH = np.radians([-9.0, -4.5, 0.0, 4.5, 9.0])


@dataclass
class Bench:
    """What lies on the bench so far: per pixel its height, its thing's number, its texture and its gloss."""

    size: tuple[int, int]
    ground: Array
    seed: int = 1
    height: Array = field(init=False)
    which: NDArray[np.int32] = field(init=False)
    texture: Array = field(init=False)
    gloss: Array = field(init=False)
    spectra: list[Array] = field(init=False)
    rng: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        width, height = self.size
        self.height, self.gloss = np.zeros((height, width)), np.zeros((height, width))
        self.texture = np.ones((height, width))
        self.which = np.zeros((height, width), dtype=np.int32)
        self.spectra = [self.ground]
        self.rng = np.random.default_rng(self.seed)

    def around(self, x: float, y: float, turn_degrees: float = 0.0) -> tuple[Array, Array]:
        """Coordinates (u, v) about a centre, turned clockwise."""
        width, height = self.size
        dx, dy = np.arange(width)[None, :] - x, np.arange(height)[:, None] - y
        c, s = np.cos(np.radians(turn_degrees)), np.sin(np.radians(turn_degrees))
        return c * dx + s * dy, -s * dx + c * dy

    def inside(self, outline: Array) -> Mask:
        """The pixels within a polygon (n, 2)."""
        picture = Image.new("1", self.size, 0)
        ImageDraw.Draw(picture).polygon([(float(x), float(y)) for x, y in outline], fill=1)
        return np.asarray(picture)

    def grain(self, blur: float | tuple[float, float], sd: float) -> Array:
        """A random field around 0 of the given sd; blur (y, x) in pixels."""
        noise = gaussian_filter(self.rng.standard_normal(self.height.shape), blur)
        return noise * (sd / noise.std())

    def put(
        self,
        mask: Mask,
        reflectance: Array,
        height: Array | float = 0.0,
        *,
        texture: Array | float = 1.0,
        gloss: float = 0.0,
    ) -> None:
        """Lay a thing down: height above the bench, texture multiplying its reflectance, gloss 0..1."""
        self.spectra.append(reflectance)
        self.which[mask] = len(self.spectra) - 1
        shape = self.height.shape
        self.height[mask] = np.broadcast_to(height, shape)[mask]
        self.texture[mask] = np.broadcast_to(texture, shape)[mask]
        self.gloss[mask] = gloss

    def shading(self) -> tuple[Array, Array]:
        """Light falling on every pixel (1 where flat and open), and the lamp's image in glossy things."""
        smooth = gaussian_filter(self.height, 0.7)
        slope_y, slope_x = np.gradient(smooth)
        long = np.sqrt(1 + slope_x**2 + slope_y**2)
        lamp = np.array(
            [
                np.cos(LAMP_AZIMUTH) * np.cos(LAMP_ELEVATION),
                np.sin(LAMP_AZIMUTH) * np.cos(LAMP_ELEVATION),
                np.sin(LAMP_ELEVATION),
            ]
        )
        facing = np.clip((-slope_x * lamp[0] - slope_y * lamp[1] + lamp[2]) / long, 0, None)
        open_sky = 1 - np.clip(sum(self._walls(blur) for blur in (5.0, 18.0)) / 2, 0, 0.6)
        light = AMBIENT * open_sky * (0.5 + 0.5 / long) + DIRECT * self._lit() * facing / lamp[2]
        half = lamp + np.array([0, 0, 1])
        half /= np.linalg.norm(half)
        mirror = np.clip((-slope_x * half[0] - slope_y * half[1] + half[2]) / long, 0, None)
        return light, self.gloss * 0.9 * mirror**90

    def _walls(self, blur: float) -> Array:
        """How much higher the surroundings stand: what they take of the open sky."""
        return np.clip(gaussian_filter(self.height, blur) - self.height, 0, None) / (2.2 * blur)

    def _lit(self) -> Array:
        """The share of a wide lamp seen from every pixel, by marching over the relief towards it."""
        seen = np.zeros_like(self.height)
        reach = float(self.height.max()) / np.tan(LAMP_ELEVATION)
        for aside in _LAMP_WIDTH:
            way = LAMP_AZIMUTH + aside
            horizon = np.full_like(self.height, -np.inf)
            for step in np.linspace(1.5, max(reach, 2.0), _STEPS):
                shift = (round(-step * np.sin(way)), round(-step * np.cos(way)))
                there = _shifted(self.height, shift) - step * np.tan(LAMP_ELEVATION)
                np.maximum(horizon, there, out=horizon)
            seen += np.clip(1 - (horizon - self.height) / 1.5, 0, 1)
        return gaussian_filter(np.minimum(seen / len(_LAMP_WIDTH), 1), 1.0)


def _shifted(values: Array, shift: tuple[int, int]) -> Array:
    """values[y - dy, x - dx] with the edge repeated."""
    rows = np.clip(np.arange(values.shape[0]) - shift[0], 0, values.shape[0] - 1)
    columns = np.clip(np.arange(values.shape[1]) - shift[1], 0, values.shape[1] - 1)
    return values[np.ix_(rows, columns)]


@dataclass(frozen=True)
class Shot:
    """How a bench is photographed: camera and lamp by name, the light's slope, and chance."""

    camera: str = "camera-a"
    lamp: str = "window"
    exposure: float = 0.8
    slope: float = 0.12  # relative difference of the light over the picture
    slope_degrees: float = 35.0
    vignette: float = 0.06
    noise: float = 0.006
    seed: int = 1
    taken: str = "2026:11:02 10:30:00"


def photograph(bench: Bench, shot: Shot, *, most_bytes: int = 250_000) -> bytes:
    """A JPEG of the bench as a phone would write it, no larger than `most_bytes`."""
    camera, rng = Camera.named(shot.camera), np.random.default_rng(shot.seed)
    light, mirror = bench.shading()
    linear = _sensor_table(bench.spectra, shot, rng)[bench.which]
    linear = linear * (bench.texture * light)[..., None] + mirror[..., None]
    linear *= (shot.exposure * _falloff(bench.size, shot))[..., None]
    linear = gaussian_filter(linear, (0.8, 0.8, 0))
    grain = rng.standard_normal(linear.shape)
    linear += shot.noise * np.sqrt(np.maximum(linear, 0) * 0.2 + 1e-4) * grain
    return _jpeg(develop(linear, camera), camera, shot.taken, most_bytes)


def _sensor_table(spectra: list[Array], shot: Shot, rng: np.random.Generator) -> Array:
    """Linear sRGB (n, 3) of the things in this camera under this lamp, its white balance a little off."""
    lamp, sensor = lamp_spectrum(shot.lamp), sensitivities(shot.camera)
    balance = np.exp(rng.normal(0, 0.012, 3))
    balanced = (np.array(spectra) * lamp) @ sensor / (lamp @ sensor) * balance / balance[1]
    return np.asarray(balanced @ camera_matrix(shot.camera, shot.lamp in WARM).T)


def _falloff(size: tuple[int, int], shot: Shot) -> Array:
    width, height = size
    x = (np.arange(width)[None, :] - width / 2) / max(size)
    y = (np.arange(height)[:, None] - height / 2) / max(size)
    angle = np.radians(shot.slope_degrees)
    plane = 1 + shot.slope * (np.cos(angle) * x + np.sin(angle) * y)
    corner = (width**2 + height**2) / 4 / max(size) ** 2
    return np.asarray(plane * (1 - shot.vignette * (x**2 + y**2) / corner))


def _jpeg(pixels: NDArray[np.uint8], camera: Camera, taken: str, most_bytes: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x0110], exif[0x0132] = 1, "Invented", camera.model, taken
    for quality in range(92, 60, -2):
        buffer = io.BytesIO()
        Image.fromarray(pixels).save(buffer, "JPEG", quality=quality, exif=exif, optimize=True)
        if buffer.tell() <= most_bytes:
            return buffer.getvalue()
    raise ValueError(f"the picture does not fit into {most_bytes} bytes at a fair quality")
