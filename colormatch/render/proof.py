"""A picture of what was measured: patches and regions outlined, before and after, the error of each patch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import FloatArray
from ..colorimetry import lab_to_srgb, srgb_encode
from ..photo import Photo, load_picture
from ..photo.camera_model import light_seen, sensor_curves
from ..photo.correct import Correction
from ..photo.load import PictureSource
from ..photo.picture import Picture
from ..photo.population import to_srgb

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

_STRIP = 0.16  # of the height, for the patches' known and corrected colours
_INK, _PAPER, _MARK = (30, 30, 30), (245, 245, 245), (255, 255, 255)  # 8-bit sRGB: by eye
_POOR = 4.0  # dE00 of a patch from which it is drawn as poor
_POOR_MARK = (200, 60, 40)


def proof_picture(source: PictureSource, photos: Sequence[Photo] | Photo, *, longest: int = 1200) -> Image:
    """Before (left) and after correction (right), with everything that was measured marked.

    source: what was measured: its path, its bytes, or the picture as decoded. photos: from `measure_photo` or
    `measure_regions`.
    Under the picture, each reference: known colour beside the corrected one, and its left-out dE00.
    """
    from PIL import Image, ImageDraw

    measured = [photos] if isinstance(photos, Photo) else list(photos)
    picture = load_picture(source)
    factor = max(1, -(-2 * max(picture.size) // longest))
    before = picture.pixels(factor=factor)
    linear = picture.linear(before)
    halves = [
        Image.fromarray(_eight_bit(srgb_encode(linear))),
        Image.fromarray(_eight_bit(srgb_encode(_corrected(picture, linear, measured[0].correction, factor)))),
    ]
    width, height = halves[0].size
    strip = max(60, int(_STRIP * height)) if measured[0].references else 0
    whole = Image.new("RGB", (2 * width, height + strip), _PAPER)
    for number, half in enumerate(halves):
        draw = ImageDraw.Draw(half)
        for reference in measured[0].references:
            _outline(draw, reference.outline / factor, _POOR_MARK if reference.left_out > _POOR else _MARK)
        for place, photo in enumerate(measured, start=1):
            _outline(draw, photo.outline / factor, _MARK, str(place) if len(measured) > 1 else "")
        whole.paste(half, (number * width, 0))
    if strip:
        _strip(ImageDraw.Draw(whole), measured[0], (0, height, 2 * width, height + strip))
    return whole


def _corrected(picture: Picture, linear: FloatArray, correction: Correction, factor: int) -> FloatArray:
    """Linear sRGB (rows, columns, 3): the fitted chain, then one matrix from the camera's curves to sRGB's."""
    rows, columns = linear.shape[:2]
    y, x = np.mgrid[:rows, :columns]
    middle = np.array(picture.size) / 2
    place = (np.stack([x, y], axis=-1).reshape(-1, 2) + 0.5) * factor - middle
    mean = correction.estimate.mean
    light = light_seen(mean, linear.reshape(-1, 3), place / max(picture.size))
    return np.asarray((light @ to_srgb(sensor_curves(mean))).reshape(linear.shape))


def _eight_bit(encoded: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    return np.round(255 * np.clip(encoded, 0, 1)).astype(np.uint8)


def _outline(draw: ImageDraw, corners: FloatArray, colour: tuple[int, int, int], label: str = "") -> None:
    points = [(float(x), float(y)) for x, y in corners]
    draw.line([*points, points[0]], fill=_INK, width=3)
    draw.line([*points, points[0]], fill=colour, width=1)
    if label:
        draw.text((points[0][0] + 4, points[0][1] + 2), label, fill=colour, stroke_width=1, stroke_fill=_INK)


def _strip(draw: ImageDraw, photo: Photo, box: tuple[int, int, int, int]) -> None:
    """Known (upper) and corrected (lower) colour of each reference, with its left-out dE00."""
    left, top, right, bottom = box
    step = (right - left) / len(photo.references)
    middle = top + 0.35 * (bottom - top)
    for number, reference in enumerate(photo.references):
        x0, x1 = left + number * step + 1, left + (number + 1) * step - 1
        for lab, y0, y1 in ((reference.known, top + 4, middle), (reference.corrected, middle, bottom - 18)):
            r, g, b = (int(v) for v in _eight_bit(lab_to_srgb(lab)))
            draw.rectangle((x0, y0, x1, y1), fill=(r, g, b))
        poor = reference.left_out > _POOR
        draw.text((x0 + 2, bottom - 15), f"{reference.left_out:.1f}", fill=_POOR_MARK if poor else _INK)
