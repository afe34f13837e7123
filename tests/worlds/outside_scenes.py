"""Photographs of a kind the correction was not made for: other renderings, other light, other framing.

The usual camera of this folder has one S-curve and a saturation, as the package's own model of a camera has. Phones do
more: they follow the picture's surroundings, sharpen, press highlights down, and stand under two lamps. None of
the sizes here is measured on a phone; they are from memory, and chosen before the package was tried on them. Three
of its constants (how a sheet's roughness and a chart's misfit widen the bands, and how far two lights may differ) were
then chosen with these conditions in view, on other frames: they are no longer a world that nobody looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter

from colormatch.arrays import FloatArray
from colormatch.colorimetry import srgb_encode
from colormatch.spectra import N_BANDS

from .camera import Camera, Facts, photograph
from .scenes import studio_scene

_LUMA = np.array([0.299, 0.587, 0.114], dtype=np.float32)


@dataclass(frozen=True)
class Condition:
    """One kind of photograph: how the camera renders it and what else is changed."""

    rendering: Callable[[FloatArray], FloatArray] | None = None
    scene: dict[str, Any] = field(default_factory=dict)
    background: float | None = None
    shot: dict[str, Any] = field(default_factory=dict)


def _encoded(linear: FloatArray) -> FloatArray:
    return srgb_encode(np.clip(linear, 0, 1)).astype(np.float32)


def _saturated(x: FloatArray, by: float) -> FloatArray:
    luma = (x @ _LUMA)[..., None]
    return luma + np.float32(by) * (x - luma)


def strong_contrast(linear: FloatArray) -> FloatArray:
    """A logistic S-curve, half as steep again in the middle, and more saturation."""
    x = _encoded(linear)
    low, high = 1 / (1 + np.exp(2.6)), 1 / (1 + np.exp(-2.6))
    return _saturated((1 / (1 + np.exp(-5.2 * (x - 0.5))) - low) / (high - low), 1.15)


def lively(linear: FloatArray) -> FloatArray:
    """Dull colours are raised more than lively ones."""
    x = _encoded(linear)
    chroma = np.ptp(x, axis=-1)[..., None]
    luma = (x @ _LUMA)[..., None]
    return luma + (1.35 - 0.25 * np.clip(chroma / 0.6, 0, 1)) * (x - luma)


def pressed_highlights(linear: FloatArray) -> FloatArray:
    """Bright light rolls off by x (1 + a) / (1 + a x), and dark surroundings are lifted a little."""
    x = np.maximum(linear, 0)
    light = x @ _LUMA
    around = gaussian_filter(light, 0.08 * max(light.shape))
    lifted = x * ((around / around.mean() + 0.2) ** -0.08)[..., None]
    return _saturated(_encoded(1.7 * lifted / (1 + 0.7 * lifted)), 1.1)


def sharpened(linear: FloatArray) -> FloatArray:
    """An unsharp mask over two pixels, local contrast over a twentieth of the picture, and chroma smoothed."""
    x = _encoded(linear)
    x = x - np.float32(0.16 / (2 * np.pi)) * np.sin(2 * np.pi * x)
    luma = x @ _LUMA
    fine, coarse = luma - gaussian_filter(luma, 2.0), luma - gaussian_filter(luma, 0.05 * max(luma.shape))
    chroma = gaussian_filter(x - luma[..., None], (1.5, 1.5, 0))
    return (luma + 0.7 * fine + 0.10 * coarse)[..., None] + 1.1 * chroma


CONDITIONS = {
    "strong contrast": Condition(strong_contrast),
    "lively colours": Condition(lively),
    "highlights pressed": Condition(pressed_highlights),
    "sharpened, local contrast": Condition(sharpened),
    "a second lamp": Condition(shot={"second_lamp": ("daylight", 0.3)}),
    "chart at the edge, dark table": Condition(
        scene={"chart_centre": (0.225, 0.30)}, background=0.06, shot={"blur": 1.8, "vignette": 0.25}
    ),
    "half a chart's light, low quality": Condition(shot={"exposure_stops": -1.0, "quality": 80}),
}


def outside_photograph(
    condition: str, tiles: FloatArray, camera: str, lamp: str, seed: int, *, turn: float = 0.0, tilt: float = 0.0
) -> tuple[bytes, Facts]:
    """Photograph tiles (n, 31) beside a chart under one of CONDITIONS."""
    chosen = CONDITIONS[condition]
    scene = studio_scene(tiles, turn=turn, tilt=tilt, **chosen.scene)
    if chosen.background is not None:
        scene = replace(scene, background=np.full(N_BANDS, chosen.background))
    rendered = replace(Camera.named(camera), rendering=chosen.rendering)
    return photograph(scene, rendered, lamp, seed, **chosen.shot)
