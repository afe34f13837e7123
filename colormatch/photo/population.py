"""What surfaces there are: a fixed population of reflectances, to tell colour from three channels.

A camera does not see as an eye does, so two surfaces it sees alike may differ. Which colour is meant is
read off the surfaces of this population that would look like it to this camera; how far those differ among
themselves is part of the stated uncertainty. The population: cement with the starter pigments, their curves
varied; cement with made-up pigments; and smooth reflectances of anything.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..arrays import FloatArray, read_only
from ..colorimetry import reflectance_to_lab
from ..data import read_records
from ..kubelka_munk import reflectance_from_ks
from ..spectra import N_BANDS, WAVELENGTHS_NM

_COUNTS = {"starter": 2400, "made up": 1200, "smooth": 900}  # enough for _NEIGHBOURS near any shade; a judgement
_NEIGHBOURS = 90  # a straight line through three channels wants some tens; a judgement
_SEED = 2026  # any: the same surfaces every time
_BANDS_NM, _BAND_WIDTH_NM = np.array([450.0, 545.0, 620.0]), 60.0  # about where each of an eye's channels is
DARKEST = 2e-3  # linear light: below it a camera shows noise
_RIDGE = 1e-4  # keeps the line through neighbours of one colour finite


@dataclass(frozen=True, eq=False)
class Population:
    """Reflectances (n, 31) and their CIELAB (n, 3)."""

    reflectance: FloatArray
    lab: FloatArray


@dataclass(frozen=True, eq=False)
class Reading:
    """A surface as read off its neighbours: CIELAB (3,), reflectance (31,), the slopes (3, 3) of CIELAB in
    the coordinates asked in, and the covariance (3, 3) of what those cannot tell."""

    lab: FloatArray
    reflectance: FloatArray
    slopes: FloatArray
    covariance: FloatArray


@cache
def population() -> Population:
    """The fixed population, made on first use (about 20 ms)."""
    rng = np.random.default_rng(_SEED)
    kinds: dict[str, Callable[[np.random.Generator, int], FloatArray]] = {
        "starter": _starter_mixes,
        "made up": _made_up_mixes,
        "smooth": _smooth,
    }
    reflectance = np.concatenate([kinds[kind](rng, count) for kind, count in _COUNTS.items()])
    return Population(read_only(reflectance), read_only(reflectance_to_lab(reflectance)))


def seen_like(light: FloatArray, sensor: FloatArray) -> Reading:
    """The surface meant by a light (3,), for sensor curves (31, 3); slopes are in the log of the light."""
    everyone = population()
    seen = np.log(np.maximum(everyone.reflectance @ sensor, DARKEST))
    return _read_off(seen, np.log(np.maximum(light, DARKEST)))


def coloured_like(lab: FloatArray) -> Reading:
    """The surface most likely to have a CIELAB colour (3,); slopes are in CIELAB."""
    return _read_off(population().lab, lab)


def recoloured(reflectance: FloatArray, lab: FloatArray) -> FloatArray:
    """Reflectances (n, 31) changed smoothly to have CIELAB colours (n, 3): Newton's method over three bands."""
    bands = np.exp(-(((WAVELENGTHS_NM - _BANDS_NM[:, None]) / _BAND_WIDTH_NM) ** 2))
    amount = np.zeros((len(lab), 3))
    step = 1e-4 * np.vstack([np.zeros(3), np.eye(3)])
    for _ in range(6):
        tried = reflectance * np.exp((amount + step[:, None]) @ bands)
        around = reflectance_to_lab(tried)
        slopes = np.moveaxis((around[1:] - around[0]) / 1e-4, 0, -1)
        amount += np.linalg.solve(slopes, (lab - around[0])[..., None])[..., 0]
    return np.asarray(reflectance * np.exp(amount @ bands))


def _read_off(places: FloatArray, at: FloatArray) -> Reading:
    """Local linear regression (Cleveland 1979) of the population's colours and reflectances on places (n, 3)."""
    everyone = population()
    offset = places - at
    distance = np.einsum("ni,ni->n", offset, offset)
    near = np.argpartition(distance, _NEIGHBOURS)[:_NEIGHBOURS]
    reach = float(distance[near].max())
    weight = np.maximum(1 - distance[near] / max(reach, 1e-12), 0) + 1e-3
    x = np.column_stack([np.ones(_NEIGHBOURS), offset[near]])
    y = np.column_stack([everyone.lab[near], everyone.reflectance[near]])
    normal = (x * weight[:, None]).T @ x + _RIDGE * np.diag([0.0, 1, 1, 1])
    fitted = np.linalg.solve(normal, (x * weight[:, None]).T @ y)
    left = everyone.lab[near] - x @ fitted[:, :3]
    covariance = np.einsum("n,ni,nj->ij", weight / weight.sum(), left, left)
    # Far from everyone, the regression reaches beyond what it has seen.
    lever = float(np.linalg.inv(normal)[0, 0])
    return Reading(fitted[0, :3], fitted[0, 3:], fitted[1:, :3].T, covariance * (1 + lever))


def _starter_mixes(rng: np.random.Generator, count: int) -> FloatArray:
    pigments, bases = read_records("starter_pigments.toml"), read_records("starter_bases.toml")
    k, s, sd = (np.array([record[key] for record in pigments.values()]) for key in ("k", "s", "prior_sd_log"))
    base_k = np.array([record["k"] for record in bases.values()])
    base_s = np.array([record["scatter"] for record in bases.values()])
    base_sd = np.array([record["prior_sd_log"] for record in bases.values()])
    loads = _loads(rng, count, len(pigments))
    which = rng.integers(0, len(bases), count)
    # Two sds at most: the prior of the starter curves is wide.
    vary = np.exp(0.7 * sd[None, :, None] * _smooth_noise(rng, (count, len(pigments)), 70.0))
    scatter = np.exp(0.5 * sd[None, :] * rng.normal(size=(count, len(pigments))))
    own = base_k[which] * np.exp(base_sd[which, None] * _smooth_noise(rng, (count,), 150.0))
    total_k = own + np.einsum("np,pl,npl->nl", loads, k, vary)
    total_s = base_s[which, None] + (loads * scatter) @ s
    return reflectance_from_ks(total_k / total_s)


def _made_up_mixes(rng: np.random.Generator, count: int) -> FloatArray:
    """Pigments nobody has listed: an absorption edge, or two bands; ranges wide round what oxides show, from memory."""
    shape = (count, 3, 1)

    def edge() -> FloatArray:
        turn, width = rng.uniform(470, 630, shape), rng.uniform(8, 30, shape)
        return 1 / (1 + np.exp((WAVELENGTHS_NM - turn) / width))

    def band() -> FloatArray:
        middle, width = rng.uniform(400, 700, shape), rng.uniform(25, 80, shape)
        return rng.uniform(0.2, 1, shape) * np.exp(-(((WAVELENGTHS_NM - middle) / width) ** 2))

    curve = np.where(rng.uniform(size=shape) < 0.5, edge(), band() + band())
    k = rng.uniform(15, 80, shape) * curve + rng.uniform(0.5, 6, shape)
    loads = _loads(rng, count, 3)
    base = 0.03 + rng.uniform(0, 0.4, (count, 1))
    scatter = 1 + (loads * rng.uniform(0, 12, (count, 3))).sum(axis=1, keepdims=True)
    return reflectance_from_ks((base + np.einsum("np,npl->nl", loads, k)) / scatter)


def _smooth(rng: np.random.Generator, count: int) -> FloatArray:
    ratio = np.exp(rng.normal(-1, 1.3, (count, 1)) + _smooth_noise(rng, (count,), 75.0))
    return reflectance_from_ks(ratio)


def _loads(rng: np.random.Generator, count: int, pigments: int) -> FloatArray:
    """One to three pigments each, from a trace to 6 % of the cement."""
    order = rng.uniform(size=(count, pigments)).argsort(axis=1)
    taken = order < rng.integers(1, 4, (count, 1))
    return np.asarray(taken * 10 ** rng.uniform(-3, np.log10(0.06), (count, pigments)))


def _smooth_noise(rng: np.random.Generator, shape: tuple[int, ...], length_nm: float) -> FloatArray:
    distance = (WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM) / length_nm
    root = np.linalg.cholesky(np.exp(-(distance**2) / 2) + 1e-8 * np.eye(N_BANDS))
    return np.asarray(rng.normal(size=(*shape, N_BANDS)) @ root.T)
