"""The colour of a patch or region: a mean that pits, glints, stains and edges do not pull."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from .jpeg_chroma import TO_PLANES, lost_in_rounding, rounding_left
from .picture import Encoded, Picture
from .regions import inside

CLIPPED_LOW, CLIPPED_HIGH = 2, 253  # encoded values that may stand for anything beyond
_FINEST = 110  # pixels on the longer side that are looked at one by one
_ENOUGH = 250  # pixels to tell the middle and the spread of a lot
_OUTLIER = 3.0  # robust standard deviations
_STEPS = np.array([[0.75], [1.5], [1.5]]) / 255  # encoded: rounding, and what JPEG does to chroma
_BLOCKS = 5  # a side: enough to see a slope or an edge, and of pixels enough in each; a judgement
_SPREAD_LOOKED_INTO = 0.025  # relative sd: a region more even than that has no edge in it
_GREY, _BEYOND_NOISE = 0.1, 2.5  # sine of the angle to grey, and sds: tried on 18 simulated frames of dark pieces
_EVEN = 0.4  # sd in steps: colour that scatters less may round all one way


@dataclass(frozen=True, eq=False)
class Sample:
    """Linear rgb (3,) of a region, the covariance (3, 3) of that mean, and how uniform it was.

    place: its middle, offset from the picture's over the longer side. spread: relative sd of blocks
    of the region. kept: share of pixels not set aside. clipped_high, clipped_low: shares of pixels.
    rounding: relative sd of the mean that whole steps of 8 bits leave. step, colour_step: relative sd of the
    level, and of red or blue against green, about a smooth fall of the light: what an edge across it leaves.
    blocks: linear rgb (b, 3) of the parts of a grid over the region.
    """

    rgb: FloatArray
    covariance: FloatArray
    place: FloatArray
    blocks: FloatArray
    spread: float
    kept: float
    clipped_high: float
    clipped_low: float
    bright_outliers: float
    rounding: float
    step: float
    colour_step: float

    @property
    def clipped(self) -> float:
        """Share of pixels in which a channel has run into either end."""
        return self.clipped_high + self.clipped_low


def sample_region(picture: Picture, outline: FloatArray) -> Sample:
    """Robust mean of the pixels within a polygon (n, 2), given in pixels of the upright picture."""
    low = np.floor(outline.min(axis=0)).astype(int)
    high = np.minimum(np.ceil(outline.max(axis=0)).astype(int), picture.size)
    low = np.minimum(low, high - 1)
    step = max(1, -(-int((high - low).max()) // _FINEST))
    pixels = picture.picked((int(low[0]), int(low[1]), int(high[0]), int(high[1])), step)
    rows, columns = pixels.shape[:2]
    grid = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1).reshape(-1, 2)
    points = low + (grid + 0.5) * step
    within = inside(outline, points)
    if not within.any():
        within[:] = True
    return summarise(picture, pixels.reshape(-1, 3)[within][None], points[within][None])[0]


def summarise(picture: Picture, encoded: Encoded, points: FloatArray) -> list[Sample]:
    """Robust means of m lots of encoded pixels (m, n, 3) at points (m, n, 2)."""
    keep, brighter = _common(encoded)
    linear = picture.linear(encoded)
    count = np.maximum(keep.sum(axis=1), 1)
    mean = np.einsum("mn,mni->mi", keep, linear) / count[:, None]
    covariance, spread, step, blocks = _block_spread(linear, points, keep, mean)
    shift, rounding = _rounding(picture, encoded, points, keep)
    mean, covariance = mean + shift, covariance + rounding
    place = (points.mean(axis=1) - np.array(picture.size) / 2) / max(picture.size)
    red, green, blue = np.moveaxis(encoded, -1, 0)
    high = (keep & (np.maximum(np.maximum(red, green), blue) >= CLIPPED_HIGH)).sum(axis=1) / count
    low = (keep & (np.minimum(np.minimum(red, green), blue) <= CLIPPED_LOW)).sum(axis=1) / count
    kept, bright = keep.mean(axis=1), brighter.mean(axis=1)
    coarse = np.sqrt(np.einsum("mii->m", rounding) / 3) / np.maximum(mean.mean(axis=1), 1e-4)
    return [
        Sample(mean[i], covariance[i], place[i], blocks[i], *map(float, row))
        for i, row in enumerate(np.column_stack([spread, kept, high, low, bright, coarse, step]))
    ]


def sheen(parts: FloatArray) -> float:
    """Sd of the grey light that a surface mirrors, over parts (b, 3) of a region in light relative to a white's.

    Shading makes a colour darker, mirrored light adds as much to each channel. 0 where noise (what neither explains)
    would look alike, or shading, as on a surface that is itself grey.
    """
    base = parts.mean(axis=0)
    axes = np.stack([base, np.ones(3)], axis=1)  # of shading, of mirrored light
    both = axes.T @ axes
    if len(parts) < 3 or np.linalg.det(both) < _GREY**2 * both[0, 0] * both[1, 1]:  # of their angle, the sine squared
        return 0.0
    inverse = np.linalg.inv(both)
    amounts = (parts - base) @ axes @ inverse
    left = parts - base - amounts @ axes.T
    noise = (left**2).sum() / (len(parts) - 1) * inverse[1, 1]
    mirrored = amounts[:, 1].var(ddof=1)
    return float(np.sqrt(mirrored)) if mirrored > _BEYOND_NOISE**2 * noise else 0.0


def _rounding(
    picture: Picture, encoded: Encoded, points: FloatArray, keep: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    """What rounding took from the linear means (m, 3), and the covariance (m, 3, 3) of what cannot be given back."""
    share = (keep / np.maximum(keep.sum(axis=1, keepdims=True), 1)).astype(np.float64)
    middle = np.einsum("mn,mni->mi", share, encoded)
    planes = (encoded - middle[:, None]) @ TO_PLANES.T
    scatter = np.sqrt(np.einsum("mn,mni->mi", share, planes**2))
    even = np.median(scatter[:, 1:].min(axis=1)) < _EVEN
    finer = picture.finer if even else None
    shift = np.zeros_like(middle) if finer is None else lost_in_rounding(finer, points, keep, middle)
    left = picture.step**2 * rounding_left(
        scatter / picture.step, picture.plane_steps, planes=picture.in_planes, finer=finer is not None
    )
    around = picture.linear(middle[:, None] + np.vstack([np.zeros((1, 3)), np.eye(3)]))
    slopes = np.swapaxes(around[:, 1:] - around[:, :1], 1, 2)
    moved = picture.linear(middle + shift) - around[:, 0]
    return moved, slopes @ left @ np.swapaxes(slopes, 1, 2)


def _common(encoded: Encoded) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which pixels (m, n) belong to the common colour of their lot, and which stand out as brighter."""
    red, green, blue = np.ascontiguousarray(np.moveaxis(encoded, -1, 0)).astype(np.float32) / np.float32(255)
    level = (red + green + blue) / 3
    parts = np.stack([level, red - green, blue - green], axis=1)
    some = slice(None, None, max(1, encoded.shape[1] // _ENOUGH))
    middle = np.median(parts[..., some], axis=2, keepdims=True)
    apart = np.abs(parts - middle)
    spread = 1.4826 * np.median(apart[..., some], axis=2, keepdims=True) + _STEPS
    distance = (apart / spread) ** 2
    # 1.4: three parts together may stray further than one; a judgement.
    keep = (distance.max(axis=1) < _OUTLIER**2) & (distance.sum(axis=1) < 1.4 * _OUTLIER**2)
    return keep, ~keep & (level > middle[:, 0])


def _block_spread(
    linear: FloatArray, points: FloatArray, keep: NDArray[np.bool_], mean: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, list[FloatArray]]:
    """Covariance (m, 3, 3) of the means from the scatter of block means, which neighbours' likeness cannot
    fool, that scatter relative to the mean (m,), the steps (m, 2) of level and colour within it, and the blocks."""
    lots = len(linear)
    column, row = (_divided(points[..., i]) for i in (0, 1))
    block = column * _BLOCKS + row + _BLOCKS**2 * np.arange(lots)[:, None]
    chosen, size = block[keep], lots * _BLOCKS**2
    count = np.bincount(chosen, minlength=size).reshape(lots, -1).astype(np.float64)
    sums = np.stack([np.bincount(chosen, linear[..., i][keep], minlength=size) for i in range(3)], axis=-1)
    full = count > np.maximum(1.0, 0.2 * count.max(axis=1, keepdims=True))
    blocks = np.maximum(full.sum(axis=1), 1)
    off = sums.reshape(lots, -1, 3) / np.maximum(count, 1)[..., None] - mean[:, None]
    scatter = np.einsum("mb,mbi,mbj->mij", full, off, off) / np.maximum(blocks - 1, 1)[:, None, None]
    # Hardly any blocks: too small a region to show its scatter; take 5 %.
    few = blocks < 3
    scatter[few] = np.einsum("mi,ij->mij", (0.05 * mean[few]) ** 2, np.eye(3))
    spread = np.sqrt(np.einsum("mii->m", scatter)) / np.maximum(np.linalg.norm(mean, axis=1), 1e-6)
    step = np.zeros((lots, 2))
    parts = [(off[i] + mean[i])[full[i]] for i in range(lots)]
    for i in np.flatnonzero(spread > _SPREAD_LOOKED_INTO):
        step[i] = _step(parts[i], np.flatnonzero(full[i]))
    return scatter / blocks[:, None, None], spread, step, parts


def _divided(places: FloatArray) -> NDArray[np.intp]:
    """Into which of the blocks along one side each place (m, n) falls."""
    low, high = places.min(axis=1, keepdims=True), places.max(axis=1, keepdims=True)
    block = np.floor(_BLOCKS * (places - low) / np.maximum(high - low, 1e-9)).astype(np.intp)
    return np.asarray(np.minimum(block, _BLOCKS - 1))


def _step(blocks: FloatArray, number: NDArray[np.intp]) -> FloatArray:
    """Sd of the log level, and of colour, of block means (b, 3) about a smooth fall of the light."""
    x, y = np.divmod(number, _BLOCKS)
    basis = np.stack([np.ones(len(x)), x, y, x * x, x * y, y * y], axis=1)
    log = np.log(np.maximum(blocks, 1e-4))
    values = np.column_stack([log.mean(axis=1), log[:, 0] - log[:, 1], log[:, 2] - log[:, 1]])
    left = values - basis @ np.linalg.lstsq(basis, values, rcond=None)[0]
    # Colour has no shading of its own: any change of it counts, smooth or not.
    return np.array([left[:, 0].std(), values[:, 1:].std(axis=0).max()])
