"""The search space: limits resolved against a palette, every set of pigments they allow, and mixes of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .. import mixture
from ..arrays import FloatArray
from ..errors import LoadError, RecipeError, UnknownNameError
from ..loads import per_cent
from ..mixture import Coefficients
from ..palette import Palette
from .limits import Limits

IndexArray = NDArray[np.intp]
LOAD_SLACK = 1e-11  # of a load; rounding of sums, far below any scale


@dataclass(frozen=True, eq=False)
class Problem:
    """A palette, a base, a state and limits, as arrays over the palette's n pigments.

    fixed: loads already decided. low, high: bounds of each pigment when it is in a mix. own_maximum:
    each pigment's own limit. free: the pigments the solver may choose from.
    """

    palette: Palette
    base: str
    state: str
    limits: Limits

    def __post_init__(self) -> None:
        names = list(self.palette.pigments)
        limits = self.limits
        for group in (
            limits.pigments or (),
            limits.must_use,
            limits.never_use,
            limits.stock_g,
            limits.fixed_loads,
        ):
            for name in group:
                if name not in self.palette.pigments:
                    raise UnknownNameError("pigment", name, names)
        self._check_decided()

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(self.palette.pigments)

    @cached_property
    def coefficients(self) -> Coefficients:
        return self.palette.coefficients(self.base, self.state)

    @cached_property
    def own_maximum(self) -> FloatArray:
        return np.array([p.maximum_load for p in self.palette.pigments.values()])

    @cached_property
    def fixed(self) -> FloatArray:
        """(n,) decided loads, brought to the scale's step (down where a cap or the stock is in the way)."""
        step, loads = self.limits.step_load, np.zeros(len(self.names))
        for name, load in self.limits.fixed_loads.items():
            loads[self.names.index(name)] = max(round(load / step), 1) * step
        over = loads.sum() > self.cap_of(loads > 0) + LOAD_SLACK
        if over or np.any(loads > self.high + LOAD_SLACK):
            down = [np.floor(load / step + LOAD_SLACK) * step for load in self.limits.fixed_loads.values()]
            for name, load in zip(self.limits.fixed_loads, down, strict=True):
                loads[self.names.index(name)] = load
        gone = [name for name in self.limits.fixed_loads if loads[self.names.index(name)] == 0]
        if gone:
            raise RecipeError(
                f"The fixed load of {', '.join(gone)} is under one step of the scale, {self.limits.scale_step_g:g} g, "
                f"in {self.limits.cement_g:g} g of cement. Make a larger batch, or use a finer scale."
            )
        return loads

    @cached_property
    def high(self) -> FloatArray:
        """(n,) what the stock allows."""
        high = np.full(len(self.names), np.inf)
        for name, grams in self.limits.stock_g.items():
            high[self.names.index(name)] = grams / self.limits.cement_g
        return np.asarray(np.minimum(high, self.own_maximum))

    @cached_property
    def low(self) -> FloatArray:
        """(n,) one step of the scale for a pigment that must be used, else zero."""
        low = np.zeros(len(self.names))
        low[[self.names.index(name) for name in self.limits.must_use]] = self.limits.step_load
        return low

    @cached_property
    def allowed(self) -> tuple[str, ...]:
        """Names of the pigments not decided and on no list against them, in the palette's order."""
        limits = self.limits
        listed = set(self.names if limits.pigments is None else limits.pigments)
        listed -= set(limits.never_use) | set(limits.fixed_loads)
        return tuple(name for name in self.names if name in listed)

    @cached_property
    def free(self) -> IndexArray:
        """Indices of the pigments the solver may choose from: allowed, and a step of the scale of each fits."""
        places = np.array([self.names.index(name) for name in self.allowed], dtype=np.intp)
        return places[self.high[places] >= self.limits.step_load - LOAD_SLACK]

    @property
    def most_of_one(self) -> float:
        """The largest load that any one of the allowed pigments may have by the cap and its own maximum."""
        own = [self.palette.pigments[name].maximum_load for name in self.allowed]
        return min(max(own, default=0.0), self.limits.load_cap)

    @property
    def most_free(self) -> int:
        """How many pigments may join the fixed ones."""
        return self.limits.max_pigments - len(self.limits.fixed_loads)

    def cap_of(self, used: NDArray[np.bool_]) -> FloatArray:
        """(...) most pigment in all for mixes of the pigments `used` (..., n): ASTM C979 clause 1.4."""
        own = np.where(used, self.own_maximum, np.inf).min(axis=-1, initial=np.inf)
        return np.asarray(np.minimum(own, self.limits.load_cap))

    @cached_property
    def subsets(self) -> IndexArray:
        """(m, k) every allowed set of free pigments, padded with n; the empty set is among them."""
        must = [self.names.index(name) for name in self.limits.must_use if name not in self.limits.fixed_loads]
        return _subsets(tuple(self.free.tolist()), self.most_free, tuple(must), len(self.names))

    def caps_of(self, places: IndexArray) -> FloatArray:
        """(m,) what sets of pigments (m, k), n for an empty place, may add to the fixed loads; below 0: barred."""
        ceiling = np.append(self.own_maximum, np.inf)[places].min(axis=-1, initial=np.inf)
        return np.asarray(np.minimum(ceiling, float(self.cap_of(self.fixed > 0))) - self.fixed.sum())

    @cached_property
    def caps(self) -> FloatArray:
        """(m,) `caps_of` all the subsets."""
        return self.caps_of(self.subsets)

    @cached_property
    def feasible(self) -> IndexArray:
        """Rows of the subsets whose cap leaves room for what must be used."""
        least = np.append(self.low, 0.0)[self.subsets].sum(axis=-1)
        return np.flatnonzero(self.caps >= least - LOAD_SLACK)

    def named(self, loads: FloatArray) -> dict[str, float]:
        """Loads (n,) by the names of their pigments, without those of none."""
        return {self.names[i]: float(loads[i]) for i in np.flatnonzero(loads > 0)}

    def lab(self, loads: FloatArray) -> FloatArray:
        """CIELAB (m, 3) of loads (m, n), fixed ones included."""
        return mixture.lab(self.coefficients, loads)

    def _check_decided(self) -> None:
        limits = self.limits
        for name in (*limits.must_use, *limits.fixed_loads):
            i = self.names.index(name)
            need = limits.fixed_loads.get(name, limits.step_load)
            if need > self.high[i] + LOAD_SLACK:
                stock = limits.stock_g.get(name)
                why = f"its own maximum is {per_cent(self.own_maximum[i])}"
                if stock is not None and stock / limits.cement_g < need:
                    why = f"{stock:g} g are in stock"
                raise LoadError(
                    f"{name} would need {need * limits.cement_g:.3g} g in {limits.cement_g:g} g of cement, but "
                    f"{why}; lower its load or take it off the list."
                )
        self._check_choice()
        if not self.feasible.size:
            raise RecipeError(
                f"No recipe fits: the pigments that must be used cannot stay under the cap of "
                f"{per_cent(limits.load_cap)} or the smallest of their own maxima together. Free one of them."
            )

    def _check_choice(self) -> None:
        """Bare cement is an answer where it was asked for (an empty list), not where the lists leave nothing else."""
        limits = self.limits
        if limits.fixed_loads or limits.pigments == () or any(self._in_stock(name) for name in self.allowed):
            return
        if not self.names:
            raise RecipeError("The palette has no pigments; add one.")
        why = []
        if limits.pigments is not None:
            why.append(f"allowed: {', '.join(limits.pigments)}")
        if limits.never_use:
            why.append(f"never: {', '.join(limits.never_use)}")
        if self.allowed:
            why.append(f"less than one step of the scale in stock: {', '.join(self.allowed)}")
        raise RecipeError(
            f"No pigment is left to choose from ({'; '.join(why)}). Allow one more, or take one off a list."
        )

    def _in_stock(self, name: str) -> bool:
        return self.limits.stock_g.get(name, np.inf) >= self.limits.scale_step_g * (1 - 1e-9)


@lru_cache(maxsize=32)
def _subsets(free: tuple[int, ...], most: int, must: tuple[int, ...], blank: int) -> IndexArray:
    others = [i for i in free if i not in must]
    width = max(most, 1)
    rows = [
        (*must, *chosen) + (blank,) * (width - len(must) - len(chosen))
        for size in range(most - len(must) + 1)
        for chosen in combinations(others, size)
    ]
    array = np.array(rows, dtype=np.intp).reshape(-1, width)
    array.setflags(write=False)
    return array


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
        pairs = zip(self.parts(), more.parts(), strict=True)
        return Mixes(*(np.concatenate(pair, axis=-1) for pair in pairs))

    def take(self, chosen: NDArray[np.intp]) -> Mixes:
        """Some of the mixes."""
        return Mixes(*(part[..., chosen] for part in self.parts()))

    def parts(self) -> tuple[Any, ...]:
        """All five, to be handled alike."""
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


def least_of(values: FloatArray, owner: IndexArray, count: int | None = None) -> FloatArray:
    """(count,) the least of the values (m,) of each owner (m,), 0, 1, 2...; infinite for one that has none."""
    least = np.full(owner.max() + 1 if count is None else count, np.inf)
    np.minimum.at(least, owner, values)
    return least
