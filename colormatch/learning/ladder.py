"""Tint ladders, measured against predicted, and the drift from one lot to the next; data for pictures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..errors import InputError, UnknownNameError
from ..loads import TINT_LADDER, TINT_LOAD
from ..palette import Palette
from .tile import Tile

_STEPS = 26  # points of a curve on screen: by eye
_DRAWS, _SEED = 512, 11  # the sd of a mean over them is itself known to 3 % (1 in the root of twice as many)


@dataclass(frozen=True, slots=True)
class TintLadder:
    """One pigment in one base and state.

    loads (n,), predicted (n, 3) CIELAB with covariance (n, 3, 3), casting included; tiles of this pigment
    alone, and blanks: measured_loads (m,), measured (m, 3), fitted (m, 3), delta_e (m,), titles.
    """

    pigment: str
    base: str
    state: str
    loads: FloatArray
    predicted: FloatArray
    covariance: FloatArray
    measured_loads: FloatArray
    measured: FloatArray
    fitted: FloatArray
    delta_e: FloatArray
    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drift:
    """How far a new lot lies from the old one: mean CIEDE2000 with its sd, and the mean shift in CIELAB (3,)."""

    old: str
    new: str
    delta_e: float
    sd: float
    shift: FloatArray

    def text(self, label: Callable[[str], str] = str) -> str:
        """One sentence for the maker; label: `Palette.label` for the words on the jars."""
        size = f"{label(self.new)} is {self.delta_e:.1f} dE00 from {label(self.old)} (sd {self.sd:.1f})"
        if self.delta_e < 2 * self.sd:
            return f"{size}: no drift can be told yet; cast a tile of the new lot to be surer."
        names = (("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"))
        largest = int(np.argmax(np.abs(self.shift)))
        return f"{size}: mostly {names[largest][int(self.shift[largest] < 0)]}."


def tint_ladder(
    palette: Palette, pigment: str, tiles: Sequence[Tile] = (), *, base: str, state: str = "dry"
) -> TintLadder:
    """The ladder of one pigment up to 5 % or its own maximum, with the tiles that belong to it."""
    if pigment not in palette.pigments:
        raise UnknownNameError("pigment", pigment, palette.pigments)
    own = [tile for tile in tiles if _belongs(tile, pigment, base, state)]
    steps = np.linspace(0.0, min(TINT_LADDER[-1], palette.pigments[pigment].maximum_load), _STEPS)
    weighed = np.array([tile.loads.get(pigment, 0.0) for tile in own])
    loads = np.zeros((_STEPS + len(own), len(palette.pigments)))
    loads[:, list(palette.pigments).index(pigment)] = np.concatenate([steps, weighed])
    lab, covariance = palette.predict_with_covariance(loads, base=base, state=state)
    measured = np.array([tile.shade.lab for tile in own]).reshape(-1, 3)
    return TintLadder(
        pigment,
        base,
        state,
        loads=steps,
        predicted=lab[:_STEPS],
        covariance=covariance[:_STEPS],
        measured_loads=weighed,
        measured=measured,
        fitted=lab[_STEPS:],
        delta_e=delta_e_2000(lab[_STEPS:], measured),
        titles=tuple(tile.title for tile in own),
    )


def tint_ladders(palette: Palette, tiles: Sequence[Tile]) -> list[TintLadder]:
    """One ladder for each pigment, base and state of which a tile was cast with this pigment alone."""
    places = dict.fromkeys(
        (name, tile.base, tile.state)
        for tile in tiles
        for name, load in tile.loads.items()
        if load > 0 and _belongs(tile, name, tile.base, tile.state)
    )
    return [tint_ladder(palette, name, tiles, base=base, state=state) for name, base, state in places]


def lot_drift(palette: Palette, old: str, new: str, *, base: str | None = None) -> Drift:
    """The drift between two lots of a pigment (over its ladder), or two bags of cement (blank and 2 % tints).

    base: the cement in which two pigments are compared; None: the first. Raises UnknownNameError, InputError.
    """
    if old in palette.pigments and new in palette.pigments:
        ground = base or next(iter(palette.bases))
        ends = [_ladder_slopes(palette, name, ground) for name in (old, new)]
    elif old in palette.bases and new in palette.bases:
        tints = np.concatenate([np.zeros((1, len(palette.pigments))), TINT_LOAD * np.eye(len(palette.pigments))])
        ends = [palette.parameter_slopes(tints, base=name) for name in (old, new)]
    elif {old, new} <= {*palette.pigments, *palette.bases}:
        raise InputError(f"{old!r} and {new!r} are a pigment and a base; compare two of a kind.")
    else:
        unknown = old if old not in {*palette.pigments, *palette.bases} else new
        raise UnknownNameError("pigment or base", unknown, (*palette.pigments, *palette.bases))
    (was, was_slopes), (now, now_slopes) = ends
    change = (now_slopes - was_slopes).reshape(now.size, -1)
    variances, axes = np.linalg.eigh(change @ palette.covariance @ change.T)
    draws = np.random.default_rng(_SEED).standard_normal((_DRAWS, now.size))
    errors = (draws * np.sqrt(np.maximum(variances, 0))) @ axes.T
    drawn = delta_e_2000(was, now + errors.reshape(_DRAWS, *now.shape)).mean(axis=-1)
    return Drift(
        old,
        new,
        delta_e=float(delta_e_2000(was, now).mean()),
        sd=float(np.sqrt(np.mean((drawn - delta_e_2000(was, now).mean()) ** 2))),
        shift=(now - was).mean(axis=0),
    )


def _ladder_slopes(palette: Palette, pigment: str, base: str) -> tuple[FloatArray, FloatArray]:
    loads = np.zeros((len(TINT_LADDER), len(palette.pigments)))
    most = palette.pigments[pigment].maximum_load
    loads[:, list(palette.pigments).index(pigment)] = np.minimum(TINT_LADDER, most)
    return palette.parameter_slopes(loads, base=base)


def _belongs(tile: Tile, pigment: str, base: str, state: str) -> bool:
    others = any(load > 0 for name, load in tile.loads.items() if name != pigment)
    return tile.base == base and tile.state == state and not others and tile.saturation is None
