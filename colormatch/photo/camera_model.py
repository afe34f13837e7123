"""A camera as a chain of few parameters, met halfway from both ends.

From the picture: undo the saturation, the tone curve and the veiling glare, undo the camera's matrix, take
off the light's slope, balance the channels, put the matrix back, and mix them by the terms of a
root-polynomial of degree 2 that vanish on neutrals, sqrt(uv) - (u + v)/2 (Finlayson, Mackiewicz & Hurlbert,
IEEE Trans. Image Process. 24 (2015) 1460-1470).
From the surface: its reflectance weighed by what the lamp, the sensor and the maker's matrix make together,
three curves over wavelength. Both ends are linear RGB. Where all parameters are zero, the picture is sRGB
and the curves are those of sRGB under D65.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from ..arrays import FloatArray, read_only
from ..colorimetry import (
    lab_jacobian,
    linear_rgb_to_xyz,
    reflectance_to_xyz,
    srgb_decode,
    srgb_encode,
    xyz_to_lab,
    xyz_to_linear_rgb,
)
from ..spectra import N_BANDS, WAVELENGTHS_NM

SENSOR_SHAPES = 12  # smooth departures of each of the three curves
_SENSOR_LENGTH_NM = 25.0  # how smooth a departure is; a judgement
# name: (number, prior mean, prior sd). From memory of how phones render, but for "sensor", chosen on 36 simulated
# frames with a chart (2000 to 2035 of the study: 0.54 dE00 on average; 0.57 with 0.025, no less with 0.05), "tint" and
# "channel", chosen so that rounding in simulated pictures moves a shade least from one exposure to another
# (tests/benchmarks/test_photo_exposure.py), and "gain" and "matrix", chosen on simulated pictures of a camera known
# from an earlier chart (tests/benchmarks/test_photo_accuracy.py).
BLOCKS: dict[str, tuple[int, float, float]] = {
    "gain": (3, 0.0, 0.05),  # log of white balance, heavy-tailed; and of exposure, which is common to the three
    "slope": (2, 0.0, 0.25),  # log of the light, over the longer side of the picture
    "fall": (1, 0.0, 0.25),  # log of the light, by squared distance from the middle
    "tint": (4, 0.0, 0.003),  # slope of red/green and blue/green: lights of different colour; heavy-tailed
    "saturation": (1, 0.07, 0.1),  # log
    "bend": (1, 0.1, 0.12),  # the S of the tone curve
    "tone": (2, 0.0, 0.08),
    "channel": (6, 0.0, 0.01),  # each channel's own departure from the tone curve
    "glare": (1, 0.0, 0.006),  # linear light added everywhere
    "root": (9, 0.0, 0.05),
    "matrix": (6, 0.0, 0.15),  # logarithm of the matrix, off the diagonal, less the usual one's; and a share of that
    "sensor": (3 * SENSOR_SHAPES, 0.0, 0.04),
}
_ENDS = np.cumsum([0, *(count for count, *_ in BLOCKS.values())])
PLACES = {name: slice(int(a), int(b)) for name, a, b in zip(BLOCKS, _ENDS[:-1], _ENDS[1:], strict=True)}
N_PARAMETERS = int(_ENDS[-1])
N_PICTURE = N_PARAMETERS - 3 * SENSOR_SHAPES  # parameters of the picture's end; the sensor's come last
PRIOR_MEAN = read_only(np.concatenate([np.full(count, mean) for count, mean, _ in BLOCKS.values()]))
TONE_BLOCKS = ("saturation", "bend", "tone", "channel", "glare")
# What belongs to the camera and its lamp; the rest belongs to one picture's light.
CAMERA_BLOCKS = (*TONE_BLOCKS, "root", "matrix", "sensor")

_EXPOSURE_SD = 1.5  # log, from memory
# A usual camera's matrix, sensor to linear sRGB with white kept: its logarithm off the diagonal (from memory). The more
# a sensor's curves overlap, the more of all of it is needed: the simulated camera that overlaps most has 1.2 to
# 4.6 times as much on the diagonal.
_USUAL_LOG = read_only(np.array([-0.40, -0.16, -0.12, -0.22, 0.01, -0.38]))
_OVERLAP_SD = 0.3
_FARTHEST_MATRIX = 2.0  # far beyond any sensor, near enough to be inverted
_HALVINGS = 4  # the exponential of a matrix as the 16th power of a straight one
_LUMA = np.array([0.299, 0.587, 0.114])  # ITU-R BT.601
_PAIRS = ((0, 1), (0, 2), (1, 2))
_DARKEST = 1e-6  # linear light: a root has no slope at none
_STEP = 1e-5  # of a parameter, for slopes by difference
_STEPS = read_only(_STEP * np.eye(N_PICTURE + 1, N_PICTURE, -1))  # none, then each by itself
# The tone blocks lie side by side, and only their steps change the costly half of the chain: which steps those are, and
# which of their results each step needs.
_OF_TONE = np.r_[0, 1 + PLACES[TONE_BLOCKS[0]].start : 1 + PLACES[TONE_BLOCKS[-1]].stop]
_RESULT = np.zeros(N_PICTURE + 1, dtype=np.intp)
_RESULT[_OF_TONE] = np.arange(len(_OF_TONE))
_XYZ_PER_RGB = read_only(linear_rgb_to_xyz(np.eye(3)).T)
CENTRE = read_only(np.zeros((1, 2)))


def prior_covariance() -> FloatArray:
    """(N, N) of the parameters of a camera nothing is known of."""
    covariance = np.diag(np.concatenate([np.full(count, sd**2) for count, _, sd in BLOCKS.values()]))
    gain, matrix = PLACES["gain"], PLACES["matrix"]
    covariance[gain, gain] += _EXPOSURE_SD**2
    covariance[matrix, matrix] += _OVERLAP_SD**2 * np.outer(_USUAL_LOG, _USUAL_LOG)
    return covariance


def light_seen(parameters: FloatArray, rgb: FloatArray, place: FloatArray) -> FloatArray:
    """The picture's end: linear light (..., n, 3) of linear rgb (n, 3) at place (n, 2), for parameters (..., p).

    place: offset from the picture's middle over its longer side. p >= N_PICTURE.
    """
    return balanced_light(parameters, scene_light(parameters, rgb), place)


def scene_light(parameters: FloatArray, rgb: FloatArray) -> FloatArray:
    """First half of `light_seen`: saturation, tone and glare undone (the costly half)."""
    part = {name: parameters[..., PLACES[name]] for name in TONE_BLOCKS}
    encoded = srgb_encode(rgb)
    luma = (encoded @ _LUMA)[..., None]
    encoded = luma + (encoded - luma) * np.exp(-part["saturation"])[..., None, :]
    return np.asarray(srgb_decode(_undo_tone(part, encoded)) - part["glare"][..., None, :])


def balanced_light(parameters: FloatArray, light: FloatArray, place: FloatArray) -> FloatArray:
    """Second half of `light_seen`: the light's slope, the white balance and the mixing."""
    part = {name: parameters[..., where] for name, where in PLACES.items() if name not in TONE_BLOCKS}
    matrix = sensor_to_rgb(part["matrix"])
    sensor = light @ np.swapaxes(np.linalg.inv(matrix), -1, -2)
    balanced = sensor * np.exp(part["gain"][..., None, :] - _field(part, place))
    return _mixed(part["root"], balanced @ np.swapaxes(matrix, -1, -2))


def sensor_to_rgb(departure: FloatArray) -> FloatArray:
    """(..., 3, 3) matrix of white-balanced sensor values to linear sRGB, white kept, for its block (..., 6).

    The exponential as (1 + L / 2^n)^(2^n), which many small matrices at once take least time for.
    """
    log = np.zeros((*departure.shape[:-1], 3, 3))
    log[..., ~np.eye(3, dtype=bool)] = _USUAL_LOG + departure
    log -= log.sum(axis=-1)[..., None] * np.eye(3)
    parts = 2**_HALVINGS
    return np.asarray(np.linalg.matrix_power(np.eye(3) + log / parts, parts))


def light_expected(parameters: FloatArray, reflectance: FloatArray) -> FloatArray:
    """The surface's end: linear light (n, 3) of reflectances (n, 31), for parameters (N_PARAMETERS,)."""
    return reflectance @ sensor_curves(parameters)


def neutral_seen(parameters: FloatArray, place: FloatArray = CENTRE) -> FloatArray:
    """(n, 3) linear rgb, of mean 1, in which the picture shows a neutral at place (n, 2): what its balance left."""
    part = {name: parameters[where] for name, where in PLACES.items()}
    seen = np.exp(_field(part, place) - part["gain"]) @ sensor_to_rgb(part["matrix"]).T
    return np.asarray(seen / seen.mean(axis=-1, keepdims=True))


def sensor_curves(parameters: FloatArray) -> FloatArray:
    """(31, 3) lamp x sensor x matrix, over wavelength."""
    weights = parameters[PLACES["sensor"]].reshape(SENSOR_SHAPES, 3)
    return np.asarray(srgb_curves() + sensor_shapes() @ weights)


@cache
def srgb_curves() -> FloatArray:
    """(31, 3) that turn a reflectance into linear sRGB under D65."""
    return read_only(xyz_to_linear_rgb(reflectance_to_xyz(np.eye(N_BANDS))))


@cache
def sensor_shapes() -> FloatArray:
    """(31, 12) leading shapes of smooth curves, each scaled by its share, that leave a neutral's light alone."""
    distance = (WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM) / _SENSOR_LENGTH_NM
    share, shape = np.linalg.eigh(np.exp(-(distance**2) / 2))
    shapes = shape[:, -SENSOR_SHAPES:] * np.sqrt(share[-SENSOR_SHAPES:])
    usual = srgb_curves().mean(axis=1)
    return read_only(shapes - np.outer(usual / usual.sum(), shapes.sum(axis=0)))


def light_to_lab(light: FloatArray) -> FloatArray:
    """CIELAB (..., 3) of linear light taken as sRGB."""
    return xyz_to_lab(linear_rgb_to_xyz(light))


def light_to_lab_slopes(light: FloatArray) -> FloatArray:
    """(..., 3, 3) derivatives of `light_to_lab`."""
    return np.asarray(lab_jacobian(linear_rgb_to_xyz(light)) @ _XYZ_PER_RGB)


def light_seen_with_slopes(mean: FloatArray, rgb: FloatArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Light seen (n, 3) and its derivatives (n, 3, N_PICTURE)."""
    steps = mean[:N_PICTURE] + _STEPS
    light = balanced_light(steps, scene_light(steps[_OF_TONE], rgb)[_RESULT], place)
    return light[0], np.moveaxis((light[1:] - light[0]) / _STEP, 0, -1)


def expected_slopes(reflectance: FloatArray, turn: FloatArray) -> FloatArray:
    """(n, 3, 36) derivatives of turn (n, 3, 3) @ expected light in the sensor's parameters."""
    shapes = reflectance @ sensor_shapes()
    return np.asarray(np.einsum("nk,nic->nikc", shapes, turn).reshape(len(shapes), 3, N_PARAMETERS - N_PICTURE))


def is_possible(parameters: FloatArray) -> bool:
    """Whether the undone tone curves rise (a falling one would swap light and dark) and the matrix is not singular."""
    encoded = np.linspace(0, 1, 33)[:, None] * np.ones(3)
    part = {name: parameters[PLACES[name]] for name in ("bend", "tone", "channel", "matrix")}
    rising = np.all(np.diff(_undo_tone(part, encoded), axis=-2) > 0)
    return bool(rising and np.abs(part["matrix"]).max() < _FARTHEST_MATRIX)


def _undo_tone(part: dict[str, FloatArray], encoded: FloatArray) -> FloatArray:
    e = np.clip(encoded, 0, 1)
    bends = (np.sin(2 * np.pi * e) / (2 * np.pi), e * (1 - e), np.sin(4 * np.pi * e) / (4 * np.pi))
    own, tone = part["channel"], part["tone"]
    first = part["bend"][..., None, :] + own[..., None, :3]
    second = tone[..., None, :1] + own[..., None, 3:]
    return np.asarray(encoded + first * bends[0] + second * bends[1] + tone[..., None, 1:] * bends[2])


def _field(part: dict[str, FloatArray], place: FloatArray) -> FloatArray:
    """Log of the light (..., n, 3) at each place, zero in the middle."""
    x, y = place[:, 0], place[:, 1]
    level = part["slope"] @ place.T - part["fall"] * (x * x + y * y)
    red, blue = part["tint"][..., :2] @ place.T, part["tint"][..., 2:] @ place.T
    return np.stack([level + red, level, level + blue], axis=-1)


def _mixed(root: FloatArray, light: FloatArray) -> FloatArray:
    safe = np.maximum(light, _DARKEST)
    terms = [np.sqrt(safe[..., i] * safe[..., j]) - (safe[..., i] + safe[..., j]) / 2 for i, j in _PAIRS]
    matrix = root.reshape(*root.shape[:-1], 3, 3)
    return np.asarray(light + np.stack(terms, axis=-1) @ matrix)
