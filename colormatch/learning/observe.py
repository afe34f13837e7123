"""Tiles as one vector of readings, with the model's answer to each and its slopes.

A tile read as CIELAB gives three readings. A tile read as a spectrum gives 31, each band as the lightness
116 R^(1/3) - 16 of a grey of that reflectance, so that the scatter of casting means about the same in both.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag

from .. import mixture
from ..arrays import FloatArray
from ..errors import LearningError, UnknownNameError
from ..palette import Palette, parameter_slopes_at
from ..spectra import N_BANDS, WAVELENGTHS_NM
from ..states import drying_law_covariance, drying_share
from .tile import Tile

_LIGHTNESS = 116.0  # CIE 15, L* = 116 f - 16, used for each band
_LEAST_REFLECTANCE = 1e-4  # darker than anything cast; keeps the slope finite
# How much of a piece's own deviation from its recipe its states share (from memory: most of it is mixing and
# weighing, which stay; the rest comes with drying and bloom).
CAST_CARRIED = 0.7
_CAST_LENGTH_NM = 60.0  # how smooth the difference between two casts of one recipe is over the spectrum
_LEAST_SD = 0.05  # no photograph is better than that, in CIELAB units; keeps the algebra regular
# How far the true shade of a recipe lies from anything the two-constant law can say, however good the
# photograph: per CIELAB coordinate, and per band of a spectrum, where seven knots cannot follow every band
# edge and precise readings would bend all curves. Tuned on simulated studios, some Kubelka-Munk, some not.
MISFIT_SD = 0.25
_BAND_MISFIT_SD = 1.5


@dataclass(frozen=True, slots=True)
class Readings:
    """All readings of the tiles in a row.

    values (N,); rows: one slice of the vector per tile; groups: tiles sharing base and state. The noise is
    block-diagonal, one block for each recipe; blocks of one size lie together: block_rows, each (blocks, size)
    places in the vector, and alike (blocks, size, size) measuring: covariance of measuring, weighing and of what the
    law cannot say of tiles of one recipe; casting: covariance of a cast with cast_sd = 1.
    """

    tiles: tuple[Tile, ...]
    loads: FloatArray  # (T, n_pigments)
    values: FloatArray
    rows: tuple[slice, ...]
    groups: dict[tuple[str, str], list[int]]
    block_rows: tuple[NDArray[np.intp], ...]
    measuring: tuple[FloatArray, ...]
    casting: tuple[FloatArray, ...]

    @property
    def block_places(self) -> NDArray[np.intp]:
        """(N, 3) of each reading: which batch of blocks, which block of it, the place within."""
        out = np.empty((self.values.size, 3), dtype=int)
        for batch, rows in enumerate(self.block_rows):
            out[rows, 0] = batch
            out[rows, 1], out[rows, 2] = np.indices(rows.shape)
        return out


def readings(palette: Palette, tiles: Sequence[Tile]) -> Readings:
    """Check the tiles against the palette and line up what was measured; raises ColormatchError."""
    loads = np.array([_loads(palette, tile) for tile in tiles]).reshape(len(tiles), -1)
    rows, values, groups = [], [], dict[tuple[str, str], list[int]]()
    start = 0
    for place, tile in enumerate(tiles):
        reading = tile.shade.lab if tile.spectrum is None else _lightness(tile.spectrum)
        rows.append(slice(start, start + reading.size))
        values.append(reading)
        start += reading.size
        groups.setdefault((tile.base, tile.state), []).append(place)
    own = [_photo_covariance(palette, tile, at) for tile, at in zip(tiles, loads, strict=True)]
    blocks = _blocks(tiles, rows, own)
    return Readings(tuple(tiles), loads, np.concatenate(values), tuple(rows), groups, *blocks)


def _blocks(
    tiles: Sequence[Tile], rows: Sequence[slice], own: Sequence[FloatArray]
) -> tuple[tuple[NDArray[np.intp], ...], tuple[FloatArray, ...], tuple[FloatArray, ...]]:
    """Places, measuring and casting of the blocks, by size (see `Readings`)."""
    mixes = dict[object, list[int]]()
    for place, tile in enumerate(tiles):
        mixes.setdefault((tile.recipe[0], tile.recipe[2]), []).append(place)
    by_size = dict[int, list[tuple[NDArray[np.intp], FloatArray, FloatArray]]]()
    for places in mixes.values():
        at = np.concatenate([np.arange(rows[place].start, rows[place].stop) for place in places])
        alike, measured = [tiles[place] for place in places], [own[place] for place in places]
        if any(tile.spectrum is not None for tile in alike):
            measuring, casting = _spectral_block(alike, measured)
        elif len(places) > 1:
            measuring, casting = _plain_block(alike, measured)
        else:  # most of many tiles
            measuring, casting = measured[0], np.eye(3)
        by_size.setdefault(at.size, []).append((at, measuring, casting))
    sizes = by_size.values()
    return (
        tuple(np.array([block[0] for block in blocks]) for blocks in sizes),
        tuple(np.array([block[1] for block in blocks]) for blocks in sizes),
        tuple(np.array([block[2] for block in blocks]) for blocks in sizes),
    )


def _spectral_block(tiles: Sequence[Tile], own: Sequence[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Measuring and casting of tiles of one mix, some or all of which are read as spectra."""
    alike = Counter((tile.recipe, tile.spectrum is None) for tile in tiles)
    misfit = [[_shared_misfit(one, other, alike) for other in tiles] for one in tiles]
    casting = [[_shared_casting(one, other) for other in tiles] for one in tiles]
    return np.block(misfit) + block_diag(*own), np.block(casting)


def _plain_block(tiles: Sequence[Tile], own: Sequence[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Measuring and casting of tiles of one mix that are all read as CIELAB."""
    _, state = np.unique([f"{tile.state} {tile.saturation}" for tile in tiles], return_inverse=True)
    _, piece = np.unique([tile.piece or f" {at}" for at, tile in enumerate(tiles)], return_inverse=True)
    alike, one_piece = state[:, None] == state, piece[:, None] == piece
    measuring = np.kron(MISFIT_SD**2 * (alike & (alike.sum(axis=0) > 1)), np.eye(3)) + block_diag(*own)
    return measuring, np.kron(one_piece * np.where(alike, 1.0, CAST_CARRIED), np.eye(3))


def answer(palette: Palette, parameters: FloatArray, seen: Readings) -> tuple[FloatArray, FloatArray]:
    """The model's readings (N,) at `parameters` and their slopes (N, n_parameters)."""
    values = np.empty(seen.values.size)
    slopes = np.empty((seen.values.size, parameters.size))
    for (base, state), places in seen.groups.items():
        lab, lab_slopes = parameter_slopes_at(palette, parameters, seen.loads[places], base, state)
        plain = [at for at, place in enumerate(places) if seen.tiles[place].spectrum is None]
        rows = np.array([seen.rows[places[at]].start for at in plain], dtype=int)[:, None] + np.arange(3)
        some = slice(None) if len(plain) == len(places) else plain  # a slice copies nothing
        values[rows], slopes[rows] = lab[some], lab_slopes[some]
        for place in places:
            tile, row = seen.tiles[place], seen.rows[place]
            if tile.spectrum is not None:
                bands = parameter_slopes_at(palette, parameters, seen.loads[[place]], base, state, _as_lightness)
                values[row], slopes[row] = bands[0][0], bands[1][0]
            if tile.saturation is not None:
                _mix_with_dry(palette, parameters, seen, place, values, slopes)
    return values, slopes


def _loads(palette: Palette, tile: Tile) -> FloatArray:
    if not isinstance(tile, Tile):
        raise LearningError(f"learn takes Tile objects; one of them is a {type(tile).__name__}.")
    if tile.base not in palette.bases:
        raise UnknownNameError("base", tile.base, palette.bases)
    if tile.state != "dry" and tile.state not in palette.states:
        raise UnknownNameError("state", tile.state, ("dry", *palette.states))
    return palette.load_vector(tile.loads)


def _photo_covariance(palette: Palette, tile: Tile, loads: FloatArray) -> FloatArray:
    """What the photograph and the scale add, (3, 3) or (31, 31)."""
    if tile.spectrum is not None:
        gain = _LIGHTNESS / 3 * np.maximum(tile.spectrum, _LEAST_REFLECTANCE) ** (-2 / 3)
        return np.diag((gain * tile.spectrum_sd) ** 2 + _LEAST_SD**2)
    covariance = tile.shade.covariance + _LEAST_SD**2 * np.eye(3)
    if tile.saturation is not None:
        covariance = covariance + _drying_law_covariance(palette, tile)
    if not tile.load_sd:
        return np.asarray(covariance)
    sd = tile.load_sd
    load_sd = np.array([sd.get(name, 0.0) if isinstance(sd, Mapping) else sd for name in palette.pigments])
    _, slopes = mixture.lab_and_load_slopes(palette.coefficients(tile.base, tile.state), loads[None, :])
    weighing = mixture.weighing_covariance(slopes, loads[None, :], load_sd)[0]
    return np.asarray(covariance + weighing)


def _shared_misfit(one: Tile, other: Tile, alike: Mapping[Any, int]) -> FloatArray:
    """Casting a recipe again teaches nothing about where the law fails, so its tiles share it.

    For a shade cast only once the scatter of casting stands for both.
    """
    n, m = (3 if tile.spectrum is None else N_BANDS for tile in (one, other))
    if one.recipe != other.recipe or n != m or (n == 3 and alike[one.recipe, True] == 1):
        return np.zeros((n, m))
    return (MISFIT_SD if n == 3 else _BAND_MISFIT_SD) ** 2 * np.eye(n)


def _shared_casting(one: Tile, other: Tile) -> FloatArray:
    """Covariance of two readings' casting, cast_sd = 1: whole within a state of a piece, else shared."""
    n, m = (3 if tile.spectrum is None else N_BANDS for tile in (one, other))
    if one is not other and (not one.piece or one.piece != other.piece or n != m):
        return np.zeros((n, m))
    same = one is other or (one.state, one.saturation) == (other.state, other.saturation)
    if n == 3:
        return (1.0 if same else CAST_CARRIED) * np.eye(3)
    apart = (WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM) / _CAST_LENGTH_NM
    return (1.0 if same else CAST_CARRIED) * (np.exp(-0.5 * apart**2) + 1e-6 * np.eye(N_BANDS))


def _lightness(reflectance: FloatArray) -> FloatArray:
    return _LIGHTNESS * np.cbrt(np.maximum(reflectance, _LEAST_REFLECTANCE)) - 16.0


def _as_lightness(reflectance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The reading of a spectrophotometer, for `parameter_slopes_at`: lightness per band (m, 31) and its slopes."""
    by_band = _LIGHTNESS / 3 * np.maximum(reflectance, _LEAST_REFLECTANCE) ** (-2 / 3)
    return _lightness(reflectance), by_band[:, :, None] * np.eye(N_BANDS)


def _mix_with_dry(
    palette: Palette,
    parameters: FloatArray,
    seen: Readings,
    place: int,
    values: FloatArray,
    slopes: FloatArray,
) -> None:
    """Replace the reading of a fully wet piece by that of one partly dried, as `Palette.predict_drying`."""
    tile, row = seen.tiles[place], seen.rows[place]
    share = float(drying_share(tile.saturation or 0.0))
    dry, dry_slopes = parameter_slopes_at(palette, parameters, seen.loads[[place]], tile.base, "dry")
    values[row] = (1 - share) * values[row] + share * dry[0]
    slopes[row] = (1 - share) * slopes[row] + share * dry_slopes[0]


def _drying_law_covariance(palette: Palette, tile: Tile) -> FloatArray:
    """Uncertainty of the law between wet and dry, as `Palette.predict_drying` states it."""
    share = float(drying_share(tile.saturation or 0.0))
    ends = [palette.predict(tile.loads, tile.base, state).lab for state in (tile.state, "dry")]
    return drying_law_covariance(share, ends[1] - ends[0])
