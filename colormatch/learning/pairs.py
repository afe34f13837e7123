"""The dry shade from the wet one by the maker's own pairs, where no recipe is known.

Each of L*, a*, b* is a straight line in its wet value, learned from pieces measured both wet and dry. What is known
before the first pair is wide and from 82,427 moist and dry soils: 15.2 +- 7.2 L* lighter when dry, chroma unchanged.
The error is that of each pair predicted from the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..errors import InputError
from ..shade import Shade

Pairs = Sequence[tuple[Shade, Shade]]  # (wet, dry) of one piece each
ENOUGH = 4  # pairs; of fewer the error of each from the others says little
_MIDDLE = np.array([40.0, 0.0, 0.0])  # wet CIELAB at which the shift is stated
_SHIFT, _SHIFT_SD = np.array([15.2, 0.0, 0.0]), np.array([7.2, 2.0, 2.0])  # L*: 82,427 soils; a*, b*: memory
_SLOPE_SD = 0.2  # of the change per unit of the wet value (from memory)
_SCATTER_SD = 2.0  # of a piece about its line, before the pairs say (from memory)


@dataclass(frozen=True, slots=True, eq=False)
class DryingMap:
    """Dry CIELAB as a line in wet CIELAB. delta_e: mean CIEDE2000 of each pair from the others; sd (3,) the same."""

    shift: FloatArray  # (3,) at the middle
    slope: FloatArray  # (3,)
    sd: FloatArray
    delta_e: float
    pairs: int

    def dry(self, wet: Shade) -> Shade:
        """The dry shade, with the error of the pairs and of the measurement."""
        gain = np.diag(1 + self.slope)
        covariance = np.diag(self.sd**2) + gain @ wet.covariance @ gain
        return Shade(_along(self.shift, self.slope, wet.lab), covariance=covariance)


def drying_map(pairs: Pairs) -> DryingMap | None:
    """The map of the pairs, or None for fewer than four; raises InputError for what are no pairs of shades."""
    checked = list(pairs) if isinstance(pairs, Iterable) and not isinstance(pairs, str) else [pairs]
    for pair in checked:
        if not (isinstance(pair, tuple | list) and len(pair) == 2 and all(isinstance(one, Shade) for one in pair)):
            raise InputError(f"Pairs are (wet Shade, dry Shade) of one piece each; got {pair!r:.60}.")
    if len(checked) < ENOUGH:
        return None
    wet, dry = (np.array([pair[at].lab for pair in checked]) for at in (0, 1))
    rest = [np.arange(len(wet)) != at for at in range(len(wet))]
    ahead = np.array([_along(*_line(wet[kept], dry[kept]), wet[~kept][0]) for kept in rest])
    return DryingMap(
        *_line(wet, dry),
        np.sqrt(np.mean((dry - ahead) ** 2, axis=0)),
        float(delta_e_2000(ahead, dry).mean()),
        len(wet),
    )


def _along(shift: FloatArray, slope: FloatArray, wet: FloatArray) -> FloatArray:
    return np.asarray(wet + shift + slope * (wet - _MIDDLE))


def _line(wet: FloatArray, dry: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Shift and slope (3,) of the change from wet to dry: Bayesian linear regression, axis by axis."""
    found = []
    for axis in range(3):
        slopes = np.column_stack([np.ones(len(wet)), wet[:, axis] - _MIDDLE[axis]])
        precision = np.diag(1 / np.array([_SHIFT_SD[axis], _SLOPE_SD]) ** 2)
        change = (dry - wet)[:, axis] - _SHIFT[axis]
        found.append(
            np.linalg.solve(precision + slopes.T @ slopes / _SCATTER_SD**2, slopes.T @ change / _SCATTER_SD**2)
        )
    shift, slope = np.array(found).T
    return shift + _SHIFT, slope
