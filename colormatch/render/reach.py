"""The reach as a picture: slices of a*b* in their own colours, a bar of L*, the target on both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..arrays import FloatArray, number_between
from ..colorimetry import lab_to_srgb
from ..recipes import Reach, ReachSlice
from ..shade import Shade

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

_SURROUND, _FIELD, _INK, _FAINT = (200, 200, 200), (214, 214, 214), (30, 30, 30), (120, 120, 120)
_COLUMNS = 4  # sizes below are shares of the width: by eye
_LEAST_EXTENT = 20.0  # a*b* shown at least, either way


def reach_picture(reach: Reach, target: Shade | None = None, *, width: int = 900) -> Image.Image:
    """One panel per slice, L* rising from left to right and down, and a bar of the L* that is reached.

    A cross marks the target, in the slice nearest to its L*, and on the bar. Colours beyond the screen
    are drawn as the nearest it can show. width: 400..4000 pixels. Raises InputError.
    """
    from PIL import Image, ImageDraw

    width = int(number_between(width, name="The picture's width", low=400, high=4000, unit="pixels"))
    slices = reach.slices
    rows = -(-len(slices) // _COLUMNS)
    margin, bar = width // 60, width // 8
    side = (width - bar - 2 * margin) // _COLUMNS
    height = rows * side + 2 * margin + width // 22
    picture = Image.new("RGB", (width, height), _SURROUND)
    draw = ImageDraw.Draw(picture)
    _words(draw, (margin, margin // 2), _title(reach), width // 48, _INK)
    top, extent = width // 22, _extent(reach, target)
    marked = _nearest_slice(slices, target)
    for i, one in enumerate(slices):
        box = (margin + i % _COLUMNS * side, top + margin // 2 + i // _COLUMNS * side)
        _panel(picture, draw, one, box, side - margin, extent, target if i == marked else None)
    left = margin + _COLUMNS * side + bar // 4
    _lightness_bar(draw, reach, (left, top + margin // 2, left + bar // 4, height - 2 * margin), target, width // 70)
    return picture


def _title(reach: Reach) -> str:
    low, high = reach.lightness_range
    return f"Reach of {reach.base}, {reach.state}, up to {reach.load_cap:.1%} pigment: L* {low:.0f} to {high:.0f}"


def _extent(reach: Reach, target: Shade | None) -> float:
    """Half the width of a panel in CIELAB units, the same for all panels."""
    most = np.abs(reach.lab[:, 1:]).max(initial=_LEAST_EXTENT)
    if target is not None:
        most = max(most, np.abs(target.lab[1:]).max())
    return float(np.ceil(most / 10 + 0.5) * 10)


def _nearest_slice(slices: tuple[ReachSlice, ...], target: Shade | None) -> int | None:
    if target is None or not slices:
        return None
    return int(np.argmin([abs(one.lightness - target.lab[0]) for one in slices]))


def _panel(
    picture: Image.Image,
    draw: ImageDraw.ImageDraw,
    one: ReachSlice,
    at: tuple[int, int],
    side: int,
    extent: float,
    target: Shade | None,
) -> None:
    left, top = at
    draw.rectangle((left, top, left + side, top + side), fill=_FIELD)
    if len(one.outline):
        _fill(picture, one, at, side, extent)
        draw.polygon([_place(p, at, side, extent) for p in one.outline], outline=_INK)
    middle = side / 2
    draw.line((left, top + middle, left + side, top + middle), fill=_FAINT)
    draw.line((left + middle, top, left + middle, top + side), fill=_FAINT)
    size = max(side // 14, 9)
    _words(draw, (left + 4, top + 2), f"L* {one.lightness:g}", size, _INK)
    if not len(one.outline):
        _words(draw, (left + 4, top + 2 + 1.3 * size), "not reached", size, _FAINT)
    _words(draw, (left + side - 2.2 * size, top + middle + 2), "+a*", size, _FAINT)
    _words(draw, (left + middle + 3, top + 2), "+b*", size, _FAINT)
    _words(draw, (left + 4, top + side - 1.4 * size), f"±{extent:g}", size, _FAINT)
    if target is not None:
        _cross(draw, _place(target.lab[1:], at, side, extent), side / 24)


def _fill(picture: Image.Image, one: ReachSlice, at: tuple[int, int], side: int, extent: float) -> None:
    """Every point of the outline in its own colour."""
    from PIL import Image, ImageDraw

    axis = (np.arange(side) + 0.5) / side * 2 * extent - extent
    lab = np.empty((side, side, 3))
    lab[..., 0], lab[..., 1], lab[..., 2] = one.lightness, axis[None, :], -axis[:, None]
    colours = Image.fromarray(np.round(lab_to_srgb(lab) * 255).astype(np.uint8))
    mask = Image.new("L", (side, side), 0)
    ImageDraw.Draw(mask).polygon([_place(p, (0, 0), side, extent) for p in one.outline], fill=255)
    picture.paste(colours, at, mask)


def _place(ab: FloatArray, at: tuple[int, int], side: int, extent: float) -> tuple[float, float]:
    scale = side / (2 * extent)
    return at[0] + side / 2 + float(ab[0]) * scale, at[1] + side / 2 - float(ab[1]) * scale


def _lightness_bar(
    draw: ImageDraw.ImageDraw, reach: Reach, box: tuple[int, int, int, int], target: Shade | None, size: int
) -> None:
    left, top, right, bottom = box
    low, high = reach.lightness_range

    def level(lightness: float) -> float:
        return bottom - (bottom - top) * min(max(lightness, 0.0), 100.0) / 100

    draw.rectangle(box, fill=_FIELD)
    for y in range(int(level(high)), int(level(low)) + 1):
        lightness = 100 * (bottom - y) / (bottom - top)
        red, green, blue = (round(255 * float(c)) for c in lab_to_srgb([lightness, 0, 0]))
        draw.line((left, y, right, y), fill=(red, green, blue))
    draw.rectangle(box, outline=_INK)
    for tick in range(0, 101, 20):
        _words(draw, (right + 5, level(tick) - 0.7 * size), f"L* {tick}", size, _FAINT)
    if target is not None:
        _cross(draw, ((left + right) / 2, level(float(target.lab[0]))), (right - left) / 3)


def _cross(draw: ImageDraw.ImageDraw, at: tuple[float, float], arm: float) -> None:
    """A cross that shows on dark and on light."""
    x, y = at
    for colour, thick in (((255, 255, 255), 5), (_INK, 2)):
        draw.line((x - arm, y - arm, x + arm, y + arm), fill=colour, width=thick)
        draw.line((x - arm, y + arm, x + arm, y - arm), fill=colour, width=thick)


def _words(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], words: str, size: int, colour: tuple[int, int, int]
) -> None:
    from PIL import ImageFont

    draw.text(at, words, fill=colour, font=ImageFont.load_default(size))
