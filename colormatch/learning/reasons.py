"""Why a tile does not fit: which single slip would explain the shade that was measured.

Each kind of slip is tried on the palette learned without the tile; the most probable one is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..colorimetry import lab_to_xyz, weights, xyz_to_lab
from ..difference import delta_e_2000
from ..loads import ASTM_C979_MAXIMUM, TINT_LADDER
from ..palette import Palette
from .tile import Tile, describe

SLIP_FACTORS = np.concatenate([[0.0], np.geomspace(0.1, 10.0, 61)])  # left out, and a slip of the point either way
_UNCHANGED = 0.12  # a load nearer than this to what was written down is no slip
GLARE_SHARES = np.arange(0.01, 0.31, 0.01)  # of white light over the picture; a judgement
# Of the light: from half a stop and more too dark to as much too bright; a judgement.
EXPOSURES = np.concatenate([np.arange(0.5, 0.96, 0.05), np.arange(1.05, 1.65, 0.05)])
_FREE_NUMBER = 3.0  # log odds a slip with a number to choose has to earn
_OFF_ENOUGH = 0.5  # a reason must more than halve the colour difference


@dataclass(frozen=True, slots=True)
class Suspect:
    """A tile the others do not bear out.

    place: its index; delta_e: CIEDE2000 from what the other tiles predict; kind: "weighing", "label",
    "glare", "exposure" or "unknown"; reason: a sentence; explained_delta_e: what is left if
    the reason holds; loads: what would have been in the tile, for weighing and label.
    """

    place: int
    title: str
    delta_e: float
    kind: str
    reason: str
    explained_delta_e: float
    loads: dict[str, float] | None = None


@dataclass(frozen=True, slots=True)
class _Guess:
    kind: str
    reason: str
    lab: FloatArray
    covariance: FloatArray
    penalty: float
    loads: dict[str, float] | None = None


def suspect(palette: Palette, tiles: Sequence[Tile], place: int) -> Suspect:
    """Name the likeliest slip behind tiles[place]; `palette` must have been learned without believing it."""
    tile = tiles[place]
    expected = palette.predict(tile.loads, tile.base, tile.state)
    off = float(delta_e_2000(expected.lab, tile.shade.lab))
    scored = [(_score(guess, tile), guess) for guess in _guesses(palette, tiles, place)]
    best = max(scored, key=lambda pair: pair[0])[1]
    left = float(delta_e_2000(best.lab, tile.shade.lab))
    if left > _OFF_ENOUGH * off:
        reason = "no single slip explains it: look at the photograph again, else cast it again"
        return Suspect(place, tile.title, off, "unknown", reason, off)
    return Suspect(place, tile.title, off, best.kind, best.reason, left, best.loads)


def _score(guess: _Guess, tile: Tile) -> float:
    covariance = guess.covariance + tile.shade.covariance
    error = tile.shade.lab - guess.lab
    fit = float(error @ np.linalg.solve(covariance, error)) + float(np.linalg.slogdet(covariance)[1])
    return -0.5 * fit - guess.penalty


def _guesses(palette: Palette, tiles: Sequence[Tile], place: int) -> Iterator[_Guess]:
    tile = tiles[place]
    yield from _other_mixtures(palette, tile)
    yield from _other_base_or_state(palette, tile)
    yield from _swapped(palette, tiles, place)
    expected = palette.predict(tile.loads, tile.base, tile.state)
    yield from _bad_light(expected.lab, expected.covariance)


def _other_mixtures(palette: Palette, tile: Tile) -> Iterator[_Guess]:
    """Another load of one pigment, or another pigment in the place of one."""
    written = {name: load for name, load in tile.loads.items() if load > 0}
    changes: list[tuple[str, str, float, dict[str, float]]] = []
    for name, load in written.items():
        for factor in SLIP_FACTORS[np.abs(SLIP_FACTORS - 1) > _UNCHANGED]:
            changed = {**written, name: float(load * factor)}
            changes.append(("weighing", _slip_in_words(palette.label(name), load, factor), _FREE_NUMBER, changed))
        others = {other: amount for other, amount in written.items() if other != name}
        for other in palette.pigments:
            if other not in written:
                words = f"a wrong label: {palette.label(other)} in place of {palette.label(name)} would explain it"
                changes.append(("label", words, 1.0, {**others, other: load}))
    if not written:
        for other in palette.pigments:
            for load in TINT_LADDER:
                instead = f"{100 * load:g} % {palette.label(other)}"
                words = f"a wrong label: a tile with {instead} instead of a blank would explain it"
                changes.append(("label", words, 2.0, {other: load}))
    changes = [change for change in changes if sum(change[3].values()) <= ASTM_C979_MAXIMUM]
    if not changes:
        return
    loads = np.array([palette.load_vector(changed) for *_, changed in changes])
    lab, covariance = palette.predict_with_covariance(loads, base=tile.base, state=tile.state)
    for (kind, words, penalty, changed), shade, spread in zip(changes, lab, covariance, strict=True):
        yield _Guess(kind, words, shade, spread, penalty, changed)


def _slip_in_words(name: str, load: float, factor: float) -> str:
    if factor == 0:
        return f"a weighing slip: {name} left out would explain it"
    return f"a weighing slip: {100 * load * factor:.2g} % {name} instead of {100 * load:.3g} % would explain it"


def _other_base_or_state(palette: Palette, tile: Tile) -> Iterator[_Guess]:
    for base in palette.bases:
        if base != tile.base:
            shade = palette.predict(tile.loads, base, tile.state)
            words = f"a wrong label: cast in {palette.label(base)}, not in {palette.label(tile.base)}, would explain it"
            yield _Guess("label", words, shade.lab, shade.covariance, 2.0, dict(tile.loads))
    for state in ("dry", *palette.states):
        if state != tile.state:
            shade = palette.predict(tile.loads, tile.base, state)
            words = f"a wrong label: the piece was {state}, not {tile.state}, would explain it"
            yield _Guess("label", words, shade.lab, shade.covariance, 2.0, dict(tile.loads))


def _swapped(palette: Palette, tiles: Sequence[Tile], place: int) -> Iterator[_Guess]:
    tile = tiles[place]
    for other in {one.recipe: one for one in tiles if one.recipe != tile.recipe}.values():
        shade = palette.predict(other.loads, other.base, other.state)
        words = (
            f"a wrong label: it looks like {describe(other.loads, other.base, other.state, palette.label)}; "
            "perhaps two tiles were swapped"
        )
        yield _Guess("label", words, shade.lab, shade.covariance, 3.0, dict(other.loads))


def _bad_light(lab: FloatArray, covariance: FloatArray) -> Iterator[_Guess]:
    """White light over the shade (glare), or the whole picture too bright or too dark."""
    xyz, white = lab_to_xyz(lab), weights("D65").sum(axis=0)
    for share in GLARE_SHARES:
        words = f"glare: about {100 * share:.0f} % stray light on the tile would explain it; photograph it again"
        yield _Guess("glare", words, xyz_to_lab((1 - share) * xyz + share * white), covariance, _FREE_NUMBER)
    for gain in EXPOSURES:
        direction = "dark" if gain < 1 else "bright"
        words = f"the photograph is too {direction}: {gain:.2f} times the light would explain it"
        yield _Guess("exposure", words, xyz_to_lab(gain * xyz), covariance, _FREE_NUMBER)
