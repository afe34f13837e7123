"""One job of learning: a palette with its tiles' readings, and where the fit of them stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..palette import Palette
from .evidence import Choice, Expectation, Straight, expectation, noise_parts
from .information import Point
from .left_out import OUTLIER_SD, LeftOut
from .observe import Readings, answer

MOST_OUTLIERS = 4  # one tile in so many may be called an outlier; beyond that the tiles plainly contradict each other


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the fit stands: the most probable parameters for a choice and a set of outliers."""

    point: Point
    choice: Choice
    outliers: frozenset[int]
    straight: Straight | None = None
    aside: frozenset[int] = frozenset()  # those of the outliers that may be of a new lot
    score: float = -np.inf
    left_out: Sequence[LeftOut] = ()  # each tile from all the others, once settled


class Job:
    """A palette, its tiles' readings, and the parameters these touch."""

    def __init__(self, palette: Palette, seen: Readings) -> None:
        self.palette, self.seen, layout = palette, seen, palette.layout
        bases = {tile.base for tile in seen.tiles}
        pigments = {name for tile in seen.tiles for name, load in tile.loads.items() if load > 0}
        states = {tile.state for tile in seen.tiles} - {"dry"}
        touched = np.zeros(layout.size, dtype=bool)
        for places in (
            *map(layout.base, bases), *map(layout.pigment, pigments), *map(layout.state, states)
        ):  # fmt: skip
            touched[places] = True
        self.touched = np.flatnonzero(touched)
        self.unknown = tuple(name for name in palette.unknown if name in pigments)
        starts = [int(np.searchsorted(self.touched, layout.pigment(name).start)) for name in self.unknown]
        size = layout.pigment(self.unknown[0]) if self.unknown else slice(0, 0)
        self.unknown_places = tuple(slice(start, start + size.stop - size.start) for start in starts)
        self.mean = palette.mean[self.touched]
        self.prior = palette.covariance[np.ix_(self.touched, self.touched)]
        self.before: Expectation = expectation(palette, bool(self.unknown))

    def room(self, stand: Stand) -> bool:
        """Whether one more tile may be called an outlier."""
        return len(stand.outliers) < len(self.seen.tiles) // MOST_OUTLIERS

    def full(self, parameters: FloatArray) -> FloatArray:
        """All parameters, those of the tiles as given."""
        out = self.palette.mean.copy()
        out[self.touched] = parameters
        return out

    def model(self, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Readings and their slopes in the touched parameters."""
        values, slopes = answer(self.palette, self.full(parameters), self.seen)
        return values, np.take(slopes, self.touched, axis=1)

    def apart(self, outliers: frozenset[int]) -> tuple[FloatArray, ...]:
        """By batches of blocks: what makes the outliers' readings anything."""
        loose = np.zeros(self.seen.values.size)
        for place in outliers:
            loose[self.seen.rows[place]] = OUTLIER_SD**2
        return tuple(loose[rows][:, :, None] * np.eye(rows.shape[1]) for rows in self.seen.block_rows)

    def straightened(self, point: Point, outliers: frozenset[int]) -> Straight:
        """The model as straight around a point."""
        slopes = np.zeros((len(point.slopes), self.palette.layout.size))
        slopes[:, self.touched] = point.slopes
        return Straight(
            self.seen,
            point.slopes,
            point.innovation(self.seen.values, self.mean),
            self.prior,
            self.unknown_places,
            noise_parts(self.palette, self.seen, slopes),
            self.apart(outliers),
        )
