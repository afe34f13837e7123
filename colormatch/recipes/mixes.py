"""Many small mixes as arrays whose last axis is the mixes: what the search moves about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from .problem import IndexArray, Problem


@dataclass(frozen=True, slots=True)
class Mixes:
    """m mixes of k places: pigment indices (k, m), bounds (k, m), cap on the sum (m,), target row (m,)."""

    places: IndexArray
    low: FloatArray
    high: FloatArray
    cap: FloatArray
    target: IndexArray

    def as_precise_as(self, precision: type[np.floating[Any]]) -> Mixes:
        """The same mixes with bounds of another precision; the algebra then runs in it."""
        low, high, cap = (a.astype(precision) for a in (self.low, self.high, self.cap))
        return Mixes(self.places, low, high, cap, self.target)

    def joined(self, more: Mixes) -> Mixes:
        """These mixes and then the others, of as many places."""
        pairs = zip(self._parts(), more._parts(), strict=True)
        return Mixes(*(np.concatenate(pair, axis=-1) for pair in pairs))

    def take(self, chosen: NDArray[np.intp]) -> Mixes:
        """Some of the mixes."""
        return Mixes(*(part[..., chosen] for part in self._parts()))

    def _parts(self) -> tuple[Any, ...]:
        return self.places, self.low, self.high, self.cap, self.target


def mixes_of(problem: Problem, places: IndexArray, target: IndexArray) -> Mixes:
    """The mixes of the pigments `places` (k, m), n for an empty place, with the bounds the problem sets."""
    low, high = np.append(problem.low, 0.0)[places], np.append(problem.high, 0.0)[places]
    cap = np.maximum(problem.caps_of(places.T), 0.0)
    return Mixes(np.ascontiguousarray(places), low, high, cap, target)


def loads_of(problem: Problem, mixes: Mixes, amounts: FloatArray) -> FloatArray:
    """(m, n) loads of all pigments, the fixed ones with them."""
    n = len(problem.names)
    loads = np.zeros((amounts.shape[1], n + 1))
    np.put_along_axis(loads, mixes.places.T, amounts.T, axis=1)
    return np.asarray(loads[:, :n] + problem.fixed)


def amounts_of(mixes: Mixes, loads: FloatArray) -> FloatArray:
    """(k, m) what loads (m, n) hold of each mix's pigments."""
    padded = np.append(loads, np.zeros((len(loads), 1)), axis=1)
    return np.take_along_axis(padded, mixes.places.T, axis=1).T
