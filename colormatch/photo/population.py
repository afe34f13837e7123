"""What surfaces there are: a fixed population of reflectances, to tell colour from three channels.

A camera does not see as an eye does, so two surfaces it sees alike may differ. Which colour is meant is
read off the surfaces of this population that would look like it to this camera: by one matrix for all of them, and
what that leaves for those nearby. How far those differ among themselves is part of the stated uncertainty. The
population: cement with the starter pigments, their curves varied; cement with made-up pigments; and smooth
reflectances of anything. Of a surface that need not be cement with such pigments (a leaf, cloth, jars without a name)
the colour is read alike, but it may differ from what is read as those without the starter pigments do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Literal, get_args

import numpy as np

from ..arrays import FloatArray, read_only
from ..colorimetry import (
    lab_jacobian,
    linear_rgb_to_xyz,
    reflectance_to_lab,
    reflectance_to_xyz,
    xyz_to_lab,
    xyz_to_linear_rgb,
)
from ..data import read_records
from ..kubelka_munk import reflectance_from_ks
from ..spectra import N_BANDS, WAVELENGTHS_NM

Surface = Literal["cement", "anything"]
SURFACES: tuple[Surface, ...] = get_args(Surface)

# Two of three pieces are of cement with pigments like the starters; the rest stand for jars and wanted colours of which
# nothing is known. Chosen, with the ranges below, on spectra without pictures: simulated castings (96000 to 96317,
# 97000 to 97039), castings of jars without a name (97500 to 97529), 84 measured oil paints (Geldof et al. 2018), the
# 99 surfaces of CIE 224:2017 and the five targets of the demo studio.
_COUNTS = {"starter": 9600, "made up": 3000, "smooth": 1800}
_STARTERS = _COUNTS["starter"]  # they come first
_MOST_PIGMENTS = 3  # in one piece
_NEIGHBOURS = 180  # a straight line through three channels wants some tens; chosen with the counts
_SMOOTH_NM, _SMOOTH_SD = np.linspace(25, 60, 6), 1.1  # stretches over which anything changes, by how much in log K/S
_SEED = 2026  # any: the same surfaces every time
_BANDS_NM, _BAND_WIDTH_NM = np.array([450.0, 545.0, 620.0]), 60.0  # about where each of an eye's channels is
_DARK = 0.05  # linear light: a matrix may err as much below it
_RIDGE = 0.1  # CIELAB squared: keeps the line through neighbours of one colour finite


@dataclass(frozen=True, eq=False)
class Population:
    """Reflectances (n, 31), their CIELAB (n, 3) and linear sRGB (n, 3)."""

    reflectance: FloatArray
    lab: FloatArray
    rgb: FloatArray


@dataclass(frozen=True, eq=False)
class Reading:
    """A surface as read off its neighbours: CIELAB (3,), reflectance (31,), the slopes (3, 3) of CIELAB in
    what was asked for, and the covariance (3, 3) of what that cannot tell of a surface like them."""

    lab: FloatArray
    reflectance: FloatArray
    slopes: FloatArray
    covariance: FloatArray


@cache
def population() -> Population:
    """The fixed population, made on first use (about 0.1 s)."""
    rng = np.random.default_rng(_SEED)
    kinds: dict[str, Callable[[np.random.Generator, int], FloatArray]] = {
        "starter": _starter_mixes,
        "made up": _made_up_mixes,
        "smooth": _smooth,
    }
    reflectance = np.concatenate([kinds[kind](rng, count) for kind, count in _COUNTS.items()])
    rgb = xyz_to_linear_rgb(reflectance_to_xyz(reflectance))
    return Population(read_only(reflectance), read_only(reflectance_to_lab(reflectance)), read_only(rgb))


def to_srgb(sensor: FloatArray) -> FloatArray:
    """(3, 3) matrix that turns the light of sensor curves (31, 3) into linear sRGB, as well as one can."""
    square, mixed = _moments()
    return np.asarray(np.linalg.solve(sensor.T @ square @ sensor, sensor.T @ mixed))


@cache
def _moments() -> tuple[FloatArray, FloatArray]:
    """Normal equations over the bands, (31, 31) and (31, 3), of linear sRGB estimated from reflectances."""
    everyone = population()
    weight = 1 / (everyone.rgb.mean(axis=1, keepdims=True) + _DARK)
    weighed = everyone.reflectance * weight
    return weighed.T @ weighed, weighed.T @ (everyone.rgb * weight)


@dataclass(frozen=True, eq=False)
class View:
    """The population as one camera sees it: matrix (3, 3) to linear sRGB, CIELAB (n, 3) by that alone, and what is
    left (n, 3) to the true one."""

    matrix: FloatArray
    lab: FloatArray
    left: FloatArray

    @classmethod
    def through(cls, sensor: FloatArray) -> View:
        """As seen through sensor curves (31, 3)."""
        matrix, everyone = to_srgb(sensor), population()
        lab = xyz_to_lab(linear_rgb_to_xyz(everyone.reflectance @ (sensor @ matrix)))
        return cls(matrix, lab, everyone.lab - lab)

    def read(self, light: FloatArray, surface: Surface = "cement") -> Reading:
        """The surface meant by a light (3,); slopes are in the light."""
        xyz = linear_rgb_to_xyz(light @ self.matrix)
        plain, reflectance = xyz_to_lab(xyz), population().reflectance
        left = _read_off(self.lab, plain, self.left, reflectance)
        covariance = left.covariance
        if surface == "anything":
            others = slice(_STARTERS, None)
            other = _read_off(self.lab[others], plain, self.left[others], reflectance[others])
            covariance = other.covariance + np.outer(other.lab - left.lab, other.lab - left.lab)
        turn = lab_jacobian(xyz) @ linear_rgb_to_xyz(self.matrix).T
        return Reading(plain + left.lab, left.reflectance, (np.eye(3) + left.slopes) @ turn, covariance)


def coloured_like(lab: FloatArray) -> Reading:
    """The surface most likely to have a CIELAB colour (3,); slopes are in CIELAB."""
    everyone = population()
    return _read_off(everyone.lab, lab, everyone.lab, everyone.reflectance)


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


def _read_off(places: FloatArray, at: FloatArray, values: FloatArray, reflectance: FloatArray) -> Reading:
    """Local linear regression (Cleveland 1979) of values (n, 3) and reflectances (n, 31) on places (n, 3)."""
    offset = places - at
    distance = np.einsum("ni,ni->n", offset, offset)
    near = np.argpartition(distance, _NEIGHBOURS)[:_NEIGHBOURS]
    reach = float(distance[near].max())
    weight = np.maximum(1 - distance[near] / max(reach, 1e-12), 0) + 1e-3
    x = np.column_stack([np.ones(_NEIGHBOURS), offset[near]])
    y = np.column_stack([values[near], reflectance[near]])
    normal = (x * weight[:, None]).T @ x + _RIDGE * np.diag([0.0, 1, 1, 1])
    fitted = np.linalg.solve(normal, (x * weight[:, None]).T @ y)
    left = values[near] - x @ fitted[:, :3]
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
    taken = rng.uniform(size=(count, len(pigments))).argsort(axis=1)[:, :_MOST_PIGMENTS]
    loads = _loads(rng, count)
    which = rng.integers(0, len(bases), count)
    # Of what is not known of a curve half is its shape, smooth over a third of the visible; from memory.
    shape, strength = _smooth_noise(rng, (count, _MOST_PIGMENTS), 100.0), rng.normal(size=(count, _MOST_PIGMENTS, 1))
    vary = np.exp(sd[taken][..., None] * (0.5 * shape + strength))
    scatter = np.exp(0.5 * sd[taken] * rng.normal(size=(count, _MOST_PIGMENTS)))
    own = base_k[which] * np.exp(base_sd[which, None] * _smooth_noise(rng, (count,), 150.0))
    total_k = own + np.einsum("np,npl->nl", loads, k[taken] * vary)
    total_s = base_s[which, None] + np.einsum("np,npl->nl", loads * scatter, s[taken])
    return reflectance_from_ks(total_k / total_s)


def _made_up_mixes(rng: np.random.Generator, count: int) -> FloatArray:
    """Pigments nobody has listed: an absorption edge, or two bands, from faint and pure to strong and dull."""
    shape = (count, _MOST_PIGMENTS, 1)

    def edge() -> FloatArray:
        turn, width = rng.uniform(430, 660, shape), rng.uniform(5, 40, shape)
        return 1 / (1 + np.exp((WAVELENGTHS_NM - turn) / width))

    def band() -> FloatArray:
        middle, width = rng.uniform(380, 720, shape), rng.uniform(20, 90, shape)
        return rng.uniform(0.2, 1, shape) * np.exp(-(((WAVELENGTHS_NM - middle) / width) ** 2))

    curve = np.where(rng.uniform(size=shape) < 0.5, edge(), band() + band())
    k = 10 ** rng.uniform(1, 2.5, shape) * curve + 10 ** rng.uniform(-1, 0.7, shape)
    loads = _loads(rng, count)
    base = 0.03 + rng.uniform(0, 0.1, (count, 1))
    scatter = 1 + (loads * rng.uniform(0, 12, loads.shape)).sum(axis=1, keepdims=True)
    return reflectance_from_ks((base + np.einsum("np,npl->nl", loads, k)) / scatter)


def _smooth(rng: np.random.Generator, count: int) -> FloatArray:
    lengths = np.array_split(np.arange(count), len(_SMOOTH_NM))
    shape = [_SMOOTH_SD * _smooth_noise(rng, (len(part),), nm) for part, nm in zip(lengths, _SMOOTH_NM, strict=True)]
    return reflectance_from_ks(np.exp(rng.normal(-1, 1.3, (count, 1)) + np.concatenate(shape)))


def _loads(rng: np.random.Generator, count: int) -> FloatArray:
    """(count, 3): one to three pigments each, from a trace to 6 % of the cement."""
    taken = np.arange(_MOST_PIGMENTS) < rng.integers(1, _MOST_PIGMENTS + 1, (count, 1))
    return np.asarray(taken * 10 ** rng.uniform(-3, np.log10(0.06), taken.shape))


def _smooth_noise(rng: np.random.Generator, shape: tuple[int, ...], length_nm: float) -> FloatArray:
    distance = (WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM) / length_nm
    root = np.linalg.cholesky(np.exp(-(distance**2) / 2) + 1e-8 * np.eye(N_BANDS))
    return np.asarray(rng.normal(size=(*shape, N_BANDS)) @ root.T)
