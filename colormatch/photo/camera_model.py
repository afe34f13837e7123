"""From a camera's linear RGB to CIELAB: one smooth chain of few parameters.

Undo the saturation, the tone curve and the veiling glare, take off the light's slope, balance the
white, then a root-polynomial of degree 2 (Finlayson, Mackiewicz & Hurlbert, IEEE Trans. Image Process.
24 (2015) 1460-1470) written so that neutrals stay neutral: differences of channels, and
sqrt(uv) - (u + v)/2. At the zero of all parameters the picture is taken as sRGB.
"""

from __future__ import annotations

import numpy as np

from ..arrays import FloatArray, read_only
from ..colorimetry import linear_rgb_to_xyz, srgb_decode, srgb_encode, xyz_to_lab

# name: (number of parameters, prior sd). The sds are from memory of how phones render.
BLOCKS: dict[str, tuple[int, float]] = {
    "gain": (3, 1.5),  # log of exposure and white balance
    "slope": (2, 0.25),  # log of the light over the longer side of the picture
    "fall": (1, 0.25),  # log of the light towards the corners, by squared distance
    "tint": (4, 0.03),  # slope of red/green and blue/green: two lights of different colour
    "saturation": (1, 0.15),  # log
    "tone": (3, 0.2),
    "channel": (6, 0.04),  # each channel's own departure from the tone curve
    "glare": (1, 0.01),  # linear light added everywhere
    "matrix": (6, 0.15),
    "root": (9, 0.15),
}
_ENDS = np.cumsum([0, *(count for count, _ in BLOCKS.values())])
PLACES = {name: slice(int(a), int(b)) for name, a, b in zip(BLOCKS, _ENDS[:-1], _ENDS[1:], strict=True)}
N_PARAMETERS = int(_ENDS[-1])
PRIOR_SD = read_only(np.concatenate([np.full(count, sd) for count, sd in BLOCKS.values()]))
# What belongs to the camera; the rest belongs to one picture's light.
CAMERA_BLOCKS = ("saturation", "tone", "channel", "glare", "matrix", "root")

_LUMA = np.array([0.299, 0.587, 0.114])
_OTHERS = ((1, 2), (0, 2), (0, 1))
_PAIRS = ((0, 1), (0, 2), (1, 2))


def camera_to_lab(parameters: FloatArray, rgb: FloatArray, place: FloatArray) -> FloatArray:
    """CIELAB (..., n, 3) of linear RGB (n, 3) seen at place (n, 2), for parameters (..., N_PARAMETERS).

    place: offset from the picture's middle over its longer side.
    """
    part = {name: parameters[..., where] for name, where in PLACES.items()}
    light = _scene_light(part, rgb) * np.exp(-_field(part, place))
    balanced = light * np.exp(part["gain"])[..., None, :]
    return xyz_to_lab(linear_rgb_to_xyz(_mixed(part, balanced)))


def tone_is_monotone(parameters: FloatArray) -> bool:
    """Whether the undone tone curves rise everywhere (a falling one would swap light and dark)."""
    encoded = np.linspace(0, 1, 65)[:, None] * np.ones(3)
    part = {name: parameters[where] for name, where in PLACES.items()}
    return bool(np.all(np.diff(_undo_tone(part, encoded), axis=-2) > 0))


def _scene_light(part: dict[str, FloatArray], rgb: FloatArray) -> FloatArray:
    encoded = srgb_encode(rgb)
    luma = (encoded @ _LUMA)[..., None]
    encoded = luma + (encoded - luma) * np.exp(-part["saturation"])[..., None, :]
    return srgb_decode(_undo_tone(part, encoded)) - part["glare"][..., None, :]


def _undo_tone(part: dict[str, FloatArray], encoded: FloatArray) -> FloatArray:
    e = np.clip(encoded, 0, 1)
    bends = (np.sin(2 * np.pi * e) / (2 * np.pi), e * (1 - e), np.sin(4 * np.pi * e) / (4 * np.pi))
    shared, own = part["tone"], part["channel"]
    out = encoded + shared[..., None, 2:3] * bends[2]
    for i in (0, 1):
        out = out + (shared[..., None, i : i + 1] + own[..., None, 3 * i : 3 * i + 3]) * bends[i]
    return out


def _field(part: dict[str, FloatArray], place: FloatArray) -> FloatArray:
    """Log of the light (..., n, 3) at each place, zero in the middle."""
    x, y = place[:, 0], place[:, 1]
    level = part["slope"] @ place.T - part["fall"] * (x * x + y * y)
    red, blue = part["tint"][..., :2] @ place.T, part["tint"][..., 2:] @ place.T
    return np.stack([level + red, level, level + blue], axis=-1)


def _mixed(part: dict[str, FloatArray], light: FloatArray) -> FloatArray:
    safe = np.maximum(light, 1e-6)
    roots = [np.sqrt(safe[..., i] * safe[..., j]) - (safe[..., i] + safe[..., j]) / 2 for i, j in _PAIRS]
    channels = []
    for i in range(3):
        value = light[..., i]
        for k, j in enumerate(_OTHERS[i]):
            value = value + part["matrix"][..., None, 2 * i + k] * (light[..., j] - light[..., i])
        for k in range(3):
            value = value + part["root"][..., None, 3 * i + k] * roots[k]
        channels.append(value)
    return np.stack(channels, axis=-1)
