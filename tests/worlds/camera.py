"""A simulated phone: spectra and a lamp in, a JPEG as a phone would write it out.

Measured sensor sensitivities and lamp spectra come from colour-science (builder and tests only).
The chain: lamp x reflectance x sensitivity, the light's slope and the lens's vignetting, shading and
shadow, noise, white balance, one camera matrix fitted on generic smooth spectra, exposure, clipping,
sRGB encoding with a tone curve on top, saturation, 8-bit JPEG with EXIF.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from colormatch.arrays import FloatArray
from colormatch.colorimetry import reflectance_to_lab, reflectance_to_xyz, srgb_encode, xyz_to_linear_rgb
from colormatch.spectra import N_BANDS, WAVELENGTHS_NM

# Three white-ish lamps a studio has, one tube with line spectrum, two kinds of LED; warm first.
LAMPS = {
    "tungsten": "A",
    "warm-led": "LED-B3",
    "violet-led": "LED-V2",
    "tube": "FL11",
    "window": "D50",
    "daylight": "D65",
}
WARM = ("tungsten", "warm-led")
# Sensor noise a maker allows for when fitting a matrix (from memory): keeps a sensor whose curves
# overlap heavily, as the second camera's do, from entries of 17 that would amplify noise.
MATRIX_NOISE = 0.01
CAMERAS = ("camera-a", "camera-b", "camera-c")


@dataclass(frozen=True)
class Camera:
    """A sensor and the way its maker renders pictures (fixed for one camera, whatever the light)."""

    name: str = "camera-a"
    tone_strength: float = 0.15  # slope of the middle of the S-curve is 1 + this
    saturation: float = 1.1  # about the luma, in encoded values
    model: str = ""
    rendering: Callable[[FloatArray], FloatArray] | None = None  # linear to encoded 0..1, instead of the usual

    @classmethod
    def named(cls, name: str) -> Camera:
        """One of CAMERAS with its usual rendering."""
        tone, saturation = {"camera-a": (0.10, 1.08), "camera-b": (0.22, 1.15), "camera-c": (0.16, 1.02)}[name]
        return cls(name, tone, saturation, f"Invented {name.title()}")


@dataclass(frozen=True)
class Thing:
    """A flat piece of one reflectance; corners (n, 2) in pixels of the upright picture."""

    name: str
    outline: FloatArray
    reflectance: FloatArray
    cylinder: bool = False  # falls off towards its left and right edge, level in the middle
    texture: float = 0.0  # relative sd of the surface from pixel to pixel
    pits: int = 0  # air bubbles, dark
    glints: int = 0  # specular spots, white
    sheen: float = 0.0  # light mirrored broadly, relative to a white's; falls off over a third of its width
    region: tuple[float, float, float, float] | None = None  # where it would be measured


@dataclass(frozen=True)
class Scene:
    """What stands before the camera, painted in order on a background."""

    size: tuple[int, int]
    things: tuple[Thing, ...]
    background: FloatArray = field(default_factory=lambda: np.full(N_BANDS, 0.55))
    chart_corners: FloatArray | None = None
    shadow: FloatArray | None = None  # outline (n, 2)
    shadow_depth: float = 0.5
    texture: float = 0.01


@dataclass(frozen=True)
class Facts:
    """What is true of a simulated photograph, in pixels of the upright picture."""

    size: tuple[int, int]
    chart_corners: FloatArray | None
    regions: dict[str, tuple[float, float, float, float]]
    lab: dict[str, FloatArray]
    camera: str
    lamp: str
    model: str
    exposure: float
    slope: float


@cache
def sensitivities(camera: str) -> FloatArray:
    """(31, 3) sensor curves. The third is built: half of the first, half of the Academy's
    reference input device (SMPTE ST 2065-1), because only two measured cameras are published there."""
    import colour
    from colour.characterisation import MSDS_ACES_RICD

    first, second = (colour.MSDS_CAMERA_SENSITIVITIES[key] for key in list(colour.MSDS_CAMERA_SENSITIVITIES))

    def gridded(curves: object) -> FloatArray:
        nm, values = np.asarray(curves.wavelengths), np.asarray(curves.values)  # type: ignore[attr-defined]
        columns = [np.interp(WAVELENGTHS_NM, nm, v, left=0, right=0) for v in values.T]
        return np.stack([c / c.sum() for c in columns], axis=1)

    known = {"camera-a": gridded(first), "camera-b": gridded(second)}
    known["camera-c"] = (known["camera-a"] + gridded(MSDS_ACES_RICD)) / 2
    return known[camera]


@cache
def lamp_spectrum(lamp: str) -> FloatArray:
    """(31,) relative power of a lamp, 10 nm bands averaged from the published table."""
    import colour

    table = colour.SDS_ILLUMINANTS[LAMPS[lamp]]
    fine = np.arange(395.0, 706.0)
    values = np.interp(fine, np.asarray(table.wavelengths), np.asarray(table.values))
    bands = np.array([values[np.abs(fine - nm) <= 5].mean() for nm in WAVELENGTHS_NM])
    return bands / bands.mean()


def smooth_spectra(seed: int, count: int) -> FloatArray:
    """(count, 31) smooth made-up reflectances between 0.02 and 0.95."""
    rng = np.random.default_rng(seed)
    distance = np.abs(WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM)
    root = np.linalg.cholesky(np.exp(-((distance / 70) ** 2)) + 1e-8 * np.eye(N_BANDS))
    level = rng.normal(-0.6, 1.2, (count, 1))
    return 0.02 + 0.93 / (1 + np.exp(-(level + 1.1 * rng.normal(size=(count, N_BANDS)) @ root.T)))


@cache
def camera_matrix(camera: str, warm: bool) -> FloatArray:
    """(3, 3) white-balanced sensor values to linear sRGB, white kept, as a phone maker would fit it."""
    light = lamp_spectrum("tungsten" if warm else "daylight")
    spectra = smooth_spectra(11, 400)
    sensor = (spectra * light) @ sensitivities(camera)
    sensor /= light @ sensitivities(camera)
    wanted = xyz_to_linear_rgb(reflectance_to_xyz(spectra))
    rows = []
    for i in range(3):  # rows sum to one: fit what each takes from the other two
        others = [j for j in range(3) if j != i]
        basis = sensor[:, others] - sensor[:, [i]]
        noise = MATRIX_NOISE**2 * len(spectra) * (np.eye(2) + 1)  # of the differences
        two = np.linalg.solve(basis.T @ basis + noise, basis.T @ (wanted[:, i] - sensor[:, i]))
        row = np.zeros(3)
        row[others] = two
        row[i] = 1 - two.sum()
        rows.append(row)
    return np.array(rows)


def photograph(
    scene: Scene,
    camera: Camera | str = "camera-a",
    lamp: str = "daylight",
    seed: int = 0,
    *,
    exposure: float | None = None,
    exposure_stops: float = 0.0,
    slope: float | None = None,
    slope_angle: float | None = None,
    vignette: float | None = None,
    noise: float = 0.01,
    blur: float = 0.8,
    quality: int = 92,
    orientation: int = 1,
    glare: float = 0.0,
    second_lamp: tuple[str, float] | None = None,
) -> tuple[bytes, Facts]:
    """Photograph a scene; what is not given is drawn from the seed.

    slope: relative difference of the light from one side of the picture to the other (0..0.2).
    vignette: relative loss in the corners. noise: sd at mid grey, relative. orientation: EXIF 1..8.
    second_lamp: another lamp, and its share of the light at the right edge, nothing at the left.
    """
    camera = Camera.named(camera) if isinstance(camera, str) else camera
    rng = np.random.default_rng(seed)
    drawn = {
        "exposure": rng.uniform(0.6, 0.85),
        "slope": rng.uniform(0, 0.2),
        "angle": rng.uniform(0, 2 * np.pi),
        "vignette": rng.uniform(0, 0.12),
        "balance": np.exp(rng.normal(0, 0.04, 3)),
    }
    exposure = (drawn["exposure"] if exposure is None else exposure) * 2.0**exposure_stops
    slope = drawn["slope"] if slope is None else slope
    angle = drawn["angle"] if slope_angle is None else slope_angle
    vignette = drawn["vignette"] if vignette is None else vignette

    table = _table(scene, camera.name, lamp, drawn["balance"])
    linear = _paint(scene, table, rng)
    if second_lamp is not None:
        other = _table(scene, camera.name, second_lamp[0], drawn["balance"], balanced_for=lamp)
        share = np.linspace(0, second_lamp[1], scene.size[0], dtype=np.float32)[None, :, None]
        linear *= 1 + share * ((other / table).astype(np.float32)[_index(scene)] - 1)
    linear *= (exposure * _light(scene.size, slope, angle, vignette))[..., None]
    linear += np.float32(glare)
    if scene.shadow is not None:
        linear *= _shadow(scene)[..., None]
    linear = gaussian_filter(linear, (blur, blur, 0))
    shot = rng.standard_normal(linear.shape, dtype=np.float32)
    linear += noise * np.sqrt(np.maximum(linear, 0) * 0.2 + 1e-4, dtype=np.float32) * shot
    encoded = develop(linear, camera)
    facts = Facts(
        scene.size,
        scene.chart_corners,
        {t.name: t.region for t in scene.things if t.region is not None},
        {t.name: reflectance_to_lab(t.reflectance) for t in scene.things},
        camera.name,
        lamp,
        camera.model,
        exposure,
        slope,
    )
    return _jpeg(encoded, camera, quality, orientation), facts


def develop(linear: FloatArray, camera: Camera) -> FloatArray:
    """Linear sRGB to 8-bit values: clip, encode, S-curve, saturation about the luma."""
    if camera.rendering is not None:
        return np.round(np.clip(camera.rendering(linear), 0, 1) * 255).astype(np.uint8)
    # Strip by strip, each small enough for the processor's cache: half the time.
    return np.concatenate([_usual(rows, camera) for rows in np.array_split(linear, 1 + len(linear) // 25)])


def _usual(linear: FloatArray, camera: Camera) -> FloatArray:
    x = srgb_encode(np.clip(linear, 0, 1)).astype(np.float32)
    x -= np.float32(camera.tone_strength / (2 * np.pi)) * np.sin(2 * np.pi * x)
    luma = x @ np.array([0.299, 0.587, 0.114], dtype=np.float32)
    x = luma[..., None] + np.float32(camera.saturation) * (x - luma[..., None])
    return np.round(np.clip(x, 0, 1) * 255).astype(np.uint8)


def _table(scene: Scene, camera: str, lamp: str, balance: FloatArray, balanced_for: str | None = None) -> FloatArray:
    """Linear sRGB (n + 1, 3) of background and things in this camera under this lamp, balanced for it or another."""
    light, sensor = lamp_spectrum(lamp), sensitivities(camera)
    balanced_for = balanced_for or lamp
    spectra = np.stack([scene.background, *(t.reflectance for t in scene.things)])
    balanced = (spectra * light) @ sensor / (lamp_spectrum(balanced_for) @ sensor) * balance / balance[1]
    return balanced @ camera_matrix(camera, balanced_for in WARM).T


def _index(scene: Scene) -> FloatArray:
    """Which thing each pixel (rows, columns) shows, from 1; 0 is the background."""
    index = Image.new("I;16", scene.size, 0)
    for number, thing in enumerate(scene.things, start=1):
        ImageDraw.Draw(index).polygon([tuple(map(float, p)) for p in thing.outline], fill=number)
    return np.asarray(index).astype(np.intp)


def _paint(scene: Scene, table: FloatArray, rng: np.random.Generator) -> FloatArray:
    width, height = scene.size
    which = _index(scene)
    linear = np.take(table.astype(np.float32), which, axis=0)
    rough = np.array([scene.texture, *(t.texture for t in scene.things)], dtype=np.float32)[which]
    grain = gaussian_filter(rng.standard_normal((height, width), dtype=np.float32), 1.0) * 3.5
    linear *= (1 + rough * grain)[..., None]
    for number, thing in enumerate(scene.things, start=1):
        if thing.cylinder or thing.pits or thing.glints or thing.sheen:
            _surface(linear, which == number, thing, rng)
    return linear


def _surface(linear: FloatArray, mask: FloatArray, thing: Thing, rng: np.random.Generator) -> None:
    """Cylinder shading, a sheen, air-bubble pits and glints, in place."""
    x0, x1 = thing.outline[:, 0].min(), thing.outline[:, 0].max()
    ys, xs = np.nonzero(mask)
    if thing.cylinder:
        across = np.abs(2 * (xs - x0) / (x1 - x0) - 1)
        linear[ys, xs] *= (1 - 0.55 * np.clip((across - 0.45) / 0.55, 0, 1) ** 2)[:, None].astype(np.float32)
    if thing.sheen:
        place = rng.integers(len(xs))
        away = ((xs - xs[place]) ** 2 + (ys - ys[place]) ** 2) / ((x1 - x0) / 3) ** 2
        linear[ys, xs] += (thing.sheen * np.exp(-away / 2))[:, None].astype(np.float32)
    size = max(1.5, 0.012 * (x1 - x0))
    for count, pit in ((thing.pits, True), (thing.glints, False)):
        for place in rng.integers(0, len(xs), count) if len(xs) else ():
            radius = size * rng.uniform(0.6, 1.6)
            near = (xs - xs[place]) ** 2 + (ys - ys[place]) ** 2 < radius**2
            if pit:
                linear[ys[near], xs[near]] *= np.float32(0.35)
            else:
                linear[ys[near], xs[near]] += np.float32(0.9)


def _light(size: tuple[int, int], slope: float, angle: float, vignette: float) -> FloatArray:
    width, height = size
    x = (np.arange(width, dtype=np.float32) - width / 2) / max(size)
    y = (np.arange(height, dtype=np.float32) - height / 2) / max(size)
    plane = 1 + slope * (np.cos(angle) * x[None, :] + np.sin(angle) * y[:, None])
    corner = (width**2 + height**2) / 4 / max(size) ** 2
    return (plane * (1 - vignette * (x[None, :] ** 2 + y[:, None] ** 2) / corner)).astype(np.float32)


def _shadow(scene: Scene) -> FloatArray:
    mask = Image.new("L", scene.size, 0)
    ImageDraw.Draw(mask).polygon([tuple(map(float, p)) for p in scene.shadow], fill=255)
    soft = gaussian_filter(np.asarray(mask, dtype=np.float32) / 255, 0.004 * max(scene.size))
    return 1 - scene.shadow_depth * soft


_TURN_BACK = {  # the stored picture is the upright one turned so that EXIF brings it back
    1: None,
    2: 0,
    3: 3,
    4: 1,
    5: 5,
    6: 2,
    7: 6,
    8: 4,
}


def _jpeg(encoded: FloatArray, camera: Camera, quality: int, orientation: int) -> bytes:
    picture = Image.fromarray(encoded)
    turn = _TURN_BACK[orientation]
    if turn is not None:
        picture = picture.transpose(Image.Transpose(turn))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F], exif[0x0110] = "Invented", camera.model
    exif[0x0132] = "2026:06:01 10:00:00"
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality, subsampling=1, exif=exif)
    return buffer.getvalue()


def brighter(scene: Scene, factor: float) -> Scene:
    """The same scene with every reflectance scaled (for tests of laws, not of nature)."""
    return replace(scene, things=tuple(replace(t, reflectance=t.reflectance * factor) for t in scene.things))
