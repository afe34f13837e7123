"""A drawn piece, shaded like a photograph from its predicted shade.

The light is worked out in linear sRGB from the given CIELAB. The lighting is scaled so that the piece's
mid-tone is the given colour; a thin ring marks a spot where it is that colour exactly (not on small
pictures), and the flat squares in the corner show it too. No state darkens anything here: that is in
the predicted shade.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import FloatArray, finite_array, number_between
from ..colorimetry import in_srgb_gamut, lab_to_srgb, lab_to_xyz, srgb_encode, xyz_to_linear_rgb
from ..errors import InputError
from .forms import FORMS, LAMP, Floats, Surface, shadow_on_ground, surface, view_direction
from .solid import PATTERNS, relief, share_of_second
from .text import font, shorten

if TYPE_CHECKING:
    from PIL import Image

SURROUND_LAB = (60.0, 0.0, 0.0)  # a middle grey, to judge a colour against; common practice
NOT_ON_SCREEN = "beyond what a screen can show: nearest drawn"

_QUIET = 0.3  # how far shading and shine may be from the plain colour round an exact spot
_RINGS_FROM = 240  # pixels; on a smaller picture the rings would hide it
_OVER = 2  # supersampling in each direction
_SKY, _LAMP = 0.46, 0.62  # shares of the light, by eye
# Reflectance at normal incidence ((n-1)/(n+1))^2 of water and of a sealer, and how often the cosine is
# squared for the lamp's image: the more, the smaller and sharper.
_GLOSS = {"dry": (0.0, 0), "wet": (0.0204, 6), "demould": (0.0204, 6), "sealed": (0.0387, 5)}
_LAMP_GLARE, _WINDOW_GLARE = 9.0, 3.2  # how much brighter their images are than a white sheet under them
_WINDOW_AT: Floats = np.array([-0.7, 1.5, 1.5], dtype=np.float32)  # behind and above, to the left: by eye


def piece_picture(
    form: str,
    pattern: str,
    lab_one: ArrayLike,
    lab_two: ArrayLike | None = None,
    *,
    state: str = "dry",
    share_two: float = 0.5,
    seed: int = 1,
    size: int = 600,
) -> Image.Image:
    """A square picture of a piece in one or two tones, `size` pixels wide (80..2000).

    lab_one, lab_two: predicted CIELAB in that state; lab_two None: one tone, and `pattern` is not used.
    state: dry, wet, demould, sealed or sealed:<name>; it decides the gloss, the colour is the caller's.
    share_two: the second tone's share by volume. The same arguments give the same pixels.
    `.info["spots"]`: {"one": (x, y), "two": (x, y)}, where the piece has the exact colour, as far as there
    is such a place; `.info["note"]`: words where a colour is outside the screen's gamut. Raises InputError.
    """
    from PIL import Image

    state = state.partition(":")[0]
    _check_choices(form, pattern, state)
    if isinstance(size, bool) or size != int(size) or not 80 <= size <= 2000:
        raise InputError(f"The picture's size is {size!r}; it must be 80 to 2000 pixels.")
    if isinstance(seed, bool) or seed != int(seed) or seed < 0:
        raise InputError(f"The seed is {seed!r}; it must be a whole number, 0 or more.")
    number_between(share_two, name="The second tone's share", low=0.0, high=1.0)
    labs = [finite_array(lab, name="A tone", shape=(3,)) for lab in (lab_one, lab_two) if lab is not None]
    linear = np.clip(xyz_to_linear_rgb(lab_to_xyz(np.array(labs))), 0, 1).astype(np.float32)

    scene = _scene(form, size * _OVER)
    mix = np.zeros(len(scene.seen.pixels), np.float32)
    if len(labs) == 2:
        mix = _share_of_second(form, pattern, size * _OVER, share_two, seed).copy()
    mottle, pores = _relief(form, size * _OVER, seed)
    factor, glint = scene.shading * mottle * pores, scene.highlight(state) * pores
    spots = _exact_spots(scene, mix, glint, len(labs), size)
    for name, (x, y) in spots.items():
        disc = scene.near(x * _OVER, y * _OVER, _spot_radius(size) * _OVER)
        factor[disc], glint[disc], mix[disc] = 1.0, 0.0, float(name == "two")
    colour = linear[0][:, None] + (linear[-1] - linear[0])[:, None] * mix
    frame = scene.table.copy()
    frame.reshape(-1, 3)[scene.seen.pixels] = (colour * factor + glint).T
    picture = Image.fromarray(_to_bytes(_brought_down(frame)))
    _mark(picture, spots, labs)
    picture.info["spots"] = spots
    picture.info["note"] = "" if bool(in_srgb_gamut(np.array(labs)).all()) else NOT_ON_SCREEN
    return picture


@dataclass(frozen=True, slots=True)
class _Scene:
    """What does not depend on the colours: the piece as seen, how it is lit, and the table under it."""

    seen: Surface
    shading: Floats  # (m,), 1 at the mid-tone
    lamp_image: Floats  # (m,) cosine between the normal and half-way to the lamp
    window_image: Floats  # (m,) the same for a window behind the piece, near enough to shine on a part only
    grazing: Floats  # (m,) Schlick's (1 - cos)^5
    table: Floats  # (n, n, 3) linear

    def highlight(self, state: str) -> Floats:
        """(m,) light mirrored by a wet or sealed face."""
        mirror, sharpness = _GLOSS[state]
        if mirror == 0:
            return np.zeros_like(self.shading)
        lamp = _LAMP_GLARE * self.seen.lit * _squared(self.lamp_image, sharpness)
        window = _WINDOW_GLARE * self.seen.exposure * _squared(self.window_image, sharpness - 1)
        veil = (1 - mirror) * 0.5 * self.grazing * 0.35 * self.seen.exposure
        return np.asarray(veil + mirror * (lamp + window), np.float32)

    def near(self, x: float, y: float, radius: float) -> NDArray[np.bool_]:
        """(m,) which pixels of the piece lie within `radius` of a place in the large frame."""
        rows, columns = np.divmod(self.seen.pixels, len(self.table))
        return np.asarray(np.square(columns + 0.5 - x) + np.square(rows + 0.5 - y) <= radius**2)


def _squared(cosine: Floats, times: int) -> Floats:
    power = cosine.copy()
    for _ in range(times):
        power *= power
    return power


# The same piece is drawn in several states and tones: one large picture and its small ones are kept.
@lru_cache(maxsize=2)
def _share_of_second(form: str, pattern: str, n: int, share: float, seed: int) -> Floats:
    return share_of_second(FORMS[form], pattern, _scene(form, n).seen.position, share, seed)


@lru_cache(maxsize=2)
def _relief(form: str, n: int, seed: int) -> tuple[Floats, Floats]:
    return relief(_scene(form, n).seen.position, seed)


@lru_cache(maxsize=2)
def _scene(form: str, n: int) -> _Scene:
    shape = FORMS[form]
    seen = surface(shape, n)
    towards_lamp = np.clip(LAMP @ seen.normal, 0, 1) * seen.lit
    sky = (0.6 + 0.4 * seen.normal[2]) * seen.exposure
    shading = _SKY * sky + _LAMP * towards_lamp
    shading /= np.median(shading[seen.lit > 0.5])
    eye = view_direction(shape)
    half = (LAMP + eye) / np.linalg.norm(LAMP + eye)
    to_window = _WINDOW_AT[:, None] - seen.position
    middle = to_window / np.linalg.norm(to_window, axis=0) + eye[:, None]
    window_image = np.sum(middle * seen.normal, axis=0) / np.linalg.norm(middle, axis=0)
    grazing = (1 - np.clip(eye @ seen.normal, 0, 1)) ** 5
    grey = xyz_to_linear_rgb(lab_to_xyz(np.array(SURROUND_LAB))).astype(np.float32)
    table = (1 - shadow_on_ground(shape, n))[:, :, None] * grey
    lamp_image = np.clip(half @ seen.normal, 0, 1)
    parts = (shading, lamp_image, np.clip(window_image, 0, 1), grazing, table)
    return _Scene(seen, *(part.astype(np.float32) for part in parts))


def _exact_spots(scene: _Scene, mix: Floats, glint: Floats, tones: int, size: int) -> dict[str, tuple[int, int]]:
    """A quiet place of each tone where the shading is already close to 1, if there is one."""
    blocks, every = 36, 5
    side = size * _OVER / blocks
    rows, columns = np.divmod(scene.seen.pixels[::every], size * _OVER)
    block = (rows // side * blocks + columns // side).astype(np.int64)
    off = np.abs(scene.shading[::every] - 1)
    off += 3 * glint[::every]
    quiet = off < _QUIET
    spots = {}
    for name, pure in (("one", mix[::every] < 0.02), ("two", mix[::every] > 0.98))[:tones]:
        good = np.bincount(block, weights=quiet & pure, minlength=blocks**2) * every / side**2
        error = np.bincount(block, weights=off, minlength=blocks**2) * every / side**2
        cost = error + np.where(good < 0.9, 10.0, 0.0)
        best = int(cost.argmin())
        if cost[best] < 10:
            y, x = divmod(best, blocks)
            spots[name] = (int((x + 0.5) * size / blocks), int((y + 0.5) * size / blocks))
    return spots


def _mark(picture: Image.Image, spots: dict[str, tuple[int, int]], labs: list[FloatArray]) -> None:
    """Thin rings round the exact spots and flat squares of the exact colours in the lower left corner."""
    from PIL import ImageDraw

    size = picture.width
    draw = ImageDraw.Draw(picture)
    radius = _spot_radius(size) + 1
    for name, (x, y) in spots.items() if size >= _RINGS_FROM else ():
        lightness = labs[0 if name == "one" else -1][0]
        ring = (255, 255, 255) if lightness < 55 else (40, 40, 40)
        draw.ellipse((x - radius, y - radius, x + radius, y + radius), outline=ring)
    side, gap = max(12, size // 11), max(3, size // 50)
    for i, lab in enumerate(labs):
        left, top = gap + i * side, size - gap - side
        draw.rectangle((left, top, left + side - 1, top + side - 1), fill=bytes_of(lab))
    if not in_srgb_gamut(np.array(labs)).all():
        left, face = 2 * gap + len(labs) * side, font(max(9, size // 42))
        words = shorten(NOT_ON_SCREEN, size - left - gap, face)
        draw.text((left, size - gap), words, font=face, fill=(17, 17, 17), anchor="ls")


def bytes_of(lab: ArrayLike) -> tuple[int, int, int]:
    """The 8-bit sRGB colour of a CIELAB colour, the nearest one where it is outside the gamut."""
    r, g, b = np.round(lab_to_srgb(np.asarray(lab, dtype=np.float64)) * 255).astype(int)
    return int(r), int(g), int(b)


def _spot_radius(size: int) -> int:
    return max(2, round(size * 0.011))


@lru_cache(maxsize=1)
def _encoding() -> NDArray[np.uint8]:
    """8-bit sRGB of 65536 steps of linear light; finer than an 8-bit step everywhere."""
    steps = np.linspace(0, 1, 1 << 16)
    return np.asarray(np.round(srgb_encode(steps) * 255), dtype=np.uint8)


def _brought_down(frame: Floats) -> Floats:
    """Means of the squares of `_OVER` x `_OVER` pixels; slices, because they are quicker than a mean."""
    total = frame[0::_OVER, 0::_OVER].copy()
    for i in range(1, _OVER**2):
        total += frame[i // _OVER :: _OVER, i % _OVER :: _OVER]
    return np.asarray(total / np.float32(_OVER**2), dtype=np.float32)


def _to_bytes(linear: Floats) -> NDArray[np.uint8]:
    return _encoding()[(np.clip(linear, 0, 1) * 65535 + 0.5).astype(np.uint16)]


def _check_choices(form: str, pattern: str, state: str) -> None:
    known = {"form": (form, FORMS), "pattern": (pattern, PATTERNS), "state": (state, _GLOSS)}
    for what, (value, choices) in known.items():
        if value not in choices:
            raise InputError(f"There is no {what} called {value!r}. Choose one of: {', '.join(choices)}.")
