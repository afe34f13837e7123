"""Where a marked region lies: on the chart, on the card, on the background, or half off the piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from .background import Background
from .chart import with_frame
from .references import Found
from .regions import inside
from .sampling import Sample

_LEAST_PART = 0.15  # of a region
_GRID = 15  # points a side of a region, to tell how much of it lies on something else
_SHARE = 0.1  # of a region: less is a clumsy mark, not a wrong one
# How near a region is to the background's colour there, as a log. In simulated frames nine in ten regions on the
# background lie within both, and one tile in a hundred.
_SAME_COLOUR, _SAME_LEVEL = 0.03, 0.06
# How far from it the other parts of a region are that is half off the piece; nearer, it costs little.
_OTHER_COLOUR, _OTHER_LEVEL = 0.045, 0.09


@dataclass(frozen=True, eq=False)
class Placement:
    """What a region lies on, besides the piece."""

    on_chart: bool
    on_reference: str  # the name of a card or swatch it lies on
    on_background: bool
    half_off: bool  # part of it has the background's colour there, the rest plainly another


def placement(outline: FloatArray, sample: Sample, found: Found, background: Background) -> Placement:
    """Look where a region lies; it is measured whatever comes out."""
    chart = [] if found.corners is None else [with_frame(found.corners)]
    others = [item for item in found.items if item.kind != "patch"]
    on = [item.name for item in others if _covered(outline, [item.outline])]
    half_off = _half_off(_apart(sample.blocks, sample, background))
    whole = _apart(sample.rgb[None], sample, background)
    on_background = not half_off and bool(_within(whole, _SAME_COLOUR, _SAME_LEVEL).all())
    return Placement(_covered(outline, chart), on[0] if on else "", on_background, half_off)


def _covered(outline: FloatArray, others: Sequence[FloatArray]) -> bool:
    low, high = outline.min(axis=0), outline.max(axis=0)
    steps = (np.arange(_GRID) + 0.5) / _GRID
    points = low + np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2) * (high - low)
    points = points[inside(outline, points)]
    return any(inside(other, points).mean() > _SHARE for other in others if len(points))


def _apart(rgb: FloatArray, sample: Sample, background: Background) -> FloatArray:
    """How far (n, 2) colours are from the background's at that place, as logs: in colour, and in level."""
    if not len(background):
        return np.full((len(rgb), 2), np.inf)
    red, level, blue = (np.log(np.maximum(rgb, 1e-4)) - np.log(np.maximum(background.at(sample.place), 1e-4))).T
    return np.stack([np.maximum(abs(red - level), abs(blue - level)), abs(level)], axis=1)


def _half_off(parts: FloatArray) -> bool:
    like = _within(parts, _SAME_COLOUR, _SAME_LEVEL)
    if not _LEAST_PART * len(parts) <= like.sum() <= (1 - _LEAST_PART) * len(parts) or like.all():
        return False
    return not _within(parts[~like].mean(axis=0)[None], _OTHER_COLOUR, _OTHER_LEVEL).all()


def _within(apart: FloatArray, colour: float, level: float) -> NDArray[np.bool_]:
    return np.asarray((apart < (colour, level)).all(axis=1))
