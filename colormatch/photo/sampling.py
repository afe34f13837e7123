"""The colour of a patch or region: a mean that pits, glints, stains and edges do not pull."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from .load import Picture
from .regions import inside

CLIPPED_LOW, CLIPPED_HIGH = 2, 253  # encoded values that may stand for anything beyond
_FINEST = 110  # pixels on the longer side that are looked at one by one
_OUTLIER = 3.0  # robust standard deviations
_STEPS = np.array([[0.75], [1.5], [1.5]]) / 255  # encoded: rounding, and what JPEG does to chroma
_BLOCKS = 5


@dataclass(frozen=True, eq=False)
class Sample:
    """Linear rgb (3,) of a region, the covariance (3, 3) of that mean, and how uniform it was.

    place: its middle, offset from the picture's over the longer side. spread: relative sd of blocks
    of the region. kept: share of pixels not set aside. clipped_high, clipped_low: shares of pixels.
    """

    rgb: FloatArray
    covariance: FloatArray
    place: FloatArray
    spread: float
    kept: float
    clipped_high: float
    clipped_low: float
    bright_outliers: float

    @property
    def relative_noise(self) -> float:
        """Sd of the mean, relative to it."""
        return float(np.sqrt(np.trace(self.covariance) / 3) / max(float(self.rgb.mean()), 0.01))

    @property
    def clipped(self) -> float:
        """Share of pixels in which a channel has run into either end."""
        return self.clipped_high + self.clipped_low


def sample_region(picture: Picture, outline: FloatArray) -> Sample:
    """Robust mean of the pixels within a polygon (n, 2), given in pixels of the upright picture."""
    low = np.floor(outline.min(axis=0)).astype(int)
    high = np.minimum(np.ceil(outline.max(axis=0)).astype(int), picture.size)
    low = np.minimum(low, high - 1)
    factor = max(1, -(-int((high - low).max()) // _FINEST))
    pixels = picture.pixels((int(low[0]), int(low[1]), int(high[0]), int(high[1])), factor)
    rows, columns = pixels.shape[:2]
    grid = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1).reshape(-1, 2)
    points = low + (grid + 0.5) * factor
    within = inside(outline, points)
    if not within.any():
        within[:] = True
    return summarise(picture, pixels.reshape(-1, 3)[within], points[within])


def summarise(picture: Picture, encoded: NDArray[np.uint8], points: FloatArray) -> Sample:
    """Robust mean of encoded pixels (n, 3) at points (n, 2)."""
    bright = encoded.max(axis=1) >= CLIPPED_HIGH
    dark = encoded.min(axis=1) <= CLIPPED_LOW
    keep, brighter = _common(encoded.astype(np.float64) / 255)
    linear = picture.linear(encoded)
    mean = linear[keep].mean(axis=0)
    covariance, spread = _block_spread(linear[keep], points[keep], mean)
    middle = np.array(picture.size) / 2
    return Sample(
        rgb=mean,
        covariance=covariance,
        place=(points.mean(axis=0) - middle) / max(picture.size),
        spread=spread,
        kept=float(keep.mean()),
        clipped_high=float(bright[keep].mean()),
        clipped_low=float(dark[keep].mean()),
        bright_outliers=float(brighter.mean()),
    )


def _common(encoded: FloatArray) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which pixels (n, 3) belong to the common colour, and which stand out as brighter."""
    red, green, blue = encoded.T
    level = (red + green + blue) / 3
    parts = np.stack([level, red - green, blue - green])
    keep = np.ones(len(level), dtype=np.bool_)
    for _ in range(3):
        middle = np.median(parts[:, keep], axis=1, keepdims=True)
        apart = np.abs(parts - middle)
        spread = 1.4826 * np.median(apart[:, keep], axis=1, keepdims=True) + _STEPS
        distance = (apart / spread) ** 2
        again = (distance.max(axis=0) < _OUTLIER**2) & (distance.sum(axis=0) < 1.4 * _OUTLIER**2)
        if (again == keep).all():
            break
        keep = again
    return keep, ~keep & (level > middle[0])


def _block_spread(linear: FloatArray, points: FloatArray, mean: FloatArray) -> tuple[FloatArray, float]:
    """Covariance of the mean from the scatter of block means, which neighbours' likeness cannot fool."""
    low, high = points.min(axis=0), points.max(axis=0)
    cell = np.minimum((_BLOCKS * (points - low) / np.maximum(high - low, 1e-9)).astype(int), _BLOCKS - 1)
    block = cell[:, 0] * _BLOCKS + cell[:, 1]
    count = np.bincount(block, minlength=_BLOCKS**2).astype(np.float64)
    sums = np.stack([np.bincount(block, linear[:, i], minlength=_BLOCKS**2) for i in range(3)], axis=1)
    full = count > max(1.0, 0.2 * count.max())
    means = sums[full] / count[full, None]
    if len(means) < 3:
        own = np.cov(linear.T) if len(linear) > 3 else np.diag((0.05 * mean) ** 2)
        return own / max(len(linear) / 4, 1), float(np.sqrt(np.trace(own)) / max(mean.sum(), 1e-6))
    scatter = np.cov(means.T)
    return scatter / len(means), float(np.sqrt(np.trace(scatter)) / max(np.linalg.norm(mean), 1e-6))
