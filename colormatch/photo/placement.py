"""Where a marked region lies: on the chart, on the card, on the background, or half off the piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from .background import Background
from .chart import with_frame
from .references import Found
from .regions import inside
from .sampling import Sample

_GRID = 15  # points a side of a region, to tell how much of it lies on something else
_SHARE = 0.1  # of a region: less is a clumsy mark, not a wrong one
# How near a region is to the background's colour there, as a log. In simulated frames nine in ten regions on the
# background lie within both, and one tile in a hundred.
_SAME_COLOUR, _SAME_LEVEL = 0.03, 0.06


@dataclass(frozen=True, eq=False)
class Placement:
    """What a region lies on, besides the piece."""

    on_chart: bool
    on_reference: str  # the name of a card or swatch it lies on
    on_background: bool


def placement(outline: FloatArray, sample: Sample, found: Found, background: Background) -> Placement:
    """Look where a region lies; it is measured whatever comes out."""
    chart = [] if found.corners is None else [with_frame(found.corners)]
    others = [item for item in found.items if item.kind != "patch"]
    on = [item.name for item in others if _covered(outline, [item.outline])]
    return Placement(_covered(outline, chart), on[0] if on else "", _like(sample, background))


def _covered(outline: FloatArray, others: Sequence[FloatArray]) -> bool:
    low, high = outline.min(axis=0), outline.max(axis=0)
    steps = (np.arange(_GRID) + 0.5) / _GRID
    points = low + np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2) * (high - low)
    points = points[inside(outline, points)]
    return any(inside(other, points).mean() > _SHARE for other in others if len(points))


def _like(sample: Sample, background: Background) -> bool:
    if not len(background):
        return False
    here = np.log(np.maximum(background.at(sample.place), 1e-4))
    red, level, blue = np.log(np.maximum(sample.rgb, 1e-4)) - here
    return bool(max(abs(red - level), abs(blue - level)) < _SAME_COLOUR and abs(level) < _SAME_LEVEL)
