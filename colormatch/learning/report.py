"""What learning found, in figures and in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..arrays import FloatArray
from ..notebook import chip_table
from .lots import NewLot
from .reasons import Suspect
from .tile import Tile

_COLUMNS = (
    "dE00: between measured and fitted with all tiles; predicted: between measured and what the other tiles predict."
)
_TRUST_COLUMNS = "expected dE00: how far off a tint of 0.5 to 5 % may be, casting left out; tiles: how many held it."


@dataclass(frozen=True, slots=True)
class TileResult:
    """One tile after learning.

    delta_e: CIEDE2000 between measured and fitted; left_out_delta_e: between measured and what all other
    tiles predict; within: whether it lies in the 90 % region of that prediction; inlier_probability: 0..1.
    """

    title: str
    tile: Tile
    fitted: FloatArray
    delta_e: float
    left_out_delta_e: float
    within: bool
    inlier_probability: float

    @property
    def doubtful(self) -> bool:
        """Whether it is more likely an outlier than not."""
        return self.inlier_probability < 0.5


@dataclass(frozen=True, slots=True)
class Trust:
    """How far predictions with one pigment can be trusted: expected CIEDE2000 over its tint ladder."""

    pigment: str
    tiles: int
    delta_e: float
    words: str


@dataclass(frozen=True, slots=True, repr=False)
class Report:
    """The outcome of `learn` for the maker.

    cast_sd: scatter from cast to cast, CIELAB units per coordinate, with what the model cannot do.
    replicate_sd: the part seen between tiles of one recipe; None without such tiles. coverage: share of
    the tiles inside the 90 % region predicted from the others; None for fewer than five tiles. lots: new bags or
    jars to ask the maker about, their tiles left aside until she answers. widening: of all variances, because the
    tiles left out in turn lay farther off than stated.
    """

    tiles: tuple[TileResult, ...]
    suspects: tuple[Suspect, ...]
    trust: tuple[Trust, ...]
    cast_sd: float
    replicate_sd: float | None
    coverage: float | None
    warnings: tuple[str, ...] = field(default=())
    lots: tuple[NewLot, ...] = ()
    widening: float = 1.0

    def __repr__(self) -> str:
        doubtful = f", {len(self.suspects)} doubtful" if self.suspects else ""
        off = f"mean dE00 {self.mean_delta_e:.2f}, cast sd {self.cast_sd:.2f}"
        return f"Report({len(self.tiles)} tiles{doubtful}; {off})"

    def _repr_html_(self) -> str:
        both = ((one, f"{one.title}, dE00 {one.delta_e:.2f}") for one in self.tiles)
        rows = (row for one, words in both for row in ((one.tile.shade.lab, words), (one.fitted, "as fitted")))
        return chip_table(repr(self), rows)

    @property
    def delta_e(self) -> FloatArray:
        """(n_tiles,) residual CIEDE2000 of each tile."""
        return np.array([tile.delta_e for tile in self.tiles])

    @property
    def mean_delta_e(self) -> float:
        """Mean residual over the tiles that are no outliers."""
        return float(np.mean([tile.delta_e for tile in self.tiles if not tile.doubtful] or [np.nan]))

    def to_table(self) -> dict[str, list[Any]]:
        """One row per tile as columns of one length, as `pandas.DataFrame` takes them."""
        tiles = self.tiles
        lots = {place: lot.name for lot in self.lots for place in lot.places}
        reasons = {one.place: one.reason for one in self.suspects}
        return {
            "tile": [one.title for one in tiles],
            "base": [one.tile.base for one in tiles],
            "state": [one.tile.state for one in tiles],
            "piece": [one.tile.piece for one in tiles],
            **{f"measured {axis}": [float(one.tile.shade.lab[at]) for one in tiles] for at, axis in enumerate("Lab")},
            **{f"fitted {axis}": [float(one.fitted[at]) for one in tiles] for at, axis in enumerate("Lab")},
            "dE00": [one.delta_e for one in tiles],
            "dE00 leave-one-out": [one.left_out_delta_e for one in tiles],
            "within 90 %": [one.within for one in tiles],
            "inlier probability": [one.inlier_probability for one in tiles],
            "reason": [reasons.get(at, "") for at in range(len(tiles))],
            "new lot of": [lots.get(at, "") for at in range(len(tiles))],
        }

    def text(self) -> str:
        """The report as plain text, for the command line."""
        return "\n".join([*self._summary(), "", *self._tile_lines(), "", *self._trust_lines()])

    def _summary(self) -> list[str]:
        lines = [f"{len(self.tiles)} tiles learned, {self.mean_delta_e:.2f} dE00 off on average."]
        repeat = "" if self.replicate_sd is None else f" (between tiles of one recipe: {self.replicate_sd:.2f})"
        lines.append(f"Scatter from cast to cast: {self.cast_sd:.2f} CIELAB units{repeat}.")
        if self.coverage is not None:
            lines.append(f"{self.coverage:.0%} of the tiles lie in the 90 % region predicted from the others.")
        lines += [
            f"Doubtful, and left aside: {one.title}, {one.delta_e:.1f} dE00 from what the others predict; {one.reason}."
            for one in self.suspects
        ]
        return lines + [f"Note: {warning}" for warning in self.warnings]

    def _tile_lines(self) -> Sequence[str]:
        width = max(len(tile.title) for tile in self.tiles)
        head = f"{'tile':{width}}  measured L* a* b*      fitted L* a* b*        dE00  predicted"
        return [_COLUMNS, head, *(_tile_line(tile, width) for tile in self.tiles)]

    def _trust_lines(self) -> Sequence[str]:
        width = max((len(one.pigment) for one in self.trust), default=7)
        head = f"{'pigment':{width}}  tiles  expected dE00  trust"
        rows = [f"{t.pigment:{width}}  {t.tiles:5d}  {t.delta_e:13.1f}  {t.words}" for t in self.trust]
        return [_TRUST_COLUMNS, head, *rows]


def _tile_line(result: TileResult, width: int) -> str:
    measured, fitted = ("{:6.1f} {:6.1f} {:6.1f}".format(*lab) for lab in (result.tile.shade.lab, result.fitted))
    mark = "  doubtful" if result.doubtful else ""
    return (
        f"{result.title:{width}}  {measured}   {fitted}   {result.delta_e:5.2f}  {result.left_out_delta_e:9.2f}{mark}"
    )
