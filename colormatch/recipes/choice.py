"""Which of many recipes to show: a few that differ really, each with the reason to take it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray

_TIE = 0.01  # CIEDE2000; nearer together than this, the simpler recipe counts as the closest
_AS_CLOSE = 0.02  # CIEDE2000 further off than the closest; within this the surest goes first
_SURER = 0.1  # CIEDE2000 of expected distance worth telling apart
_FAR_SURER = 0.5  # share of the first's expected distance below which distance no longer counts
ALLOWANCE = 1.0  # CIEDE2000 further off than the closest that another virtue may cost
FURTHEST = 2.0  # the same where the list would be shorter than three
_SHORT = 3
_MOVED = 0.15  # share of the pigment that must differ for two recipes of as many jars to be two


@dataclass(frozen=True, eq=False, slots=True)
class Judged:
    """Rounded recipes for one target as arrays over them: loads (c, n), the rest (c,); cost may be NaN."""

    loads: FloatArray
    delta_e: FloatArray
    expected_delta_e: FloatArray
    cost: FloatArray
    metamerism: FloatArray
    slip_delta_e: FloatArray

    @property
    def n_pigments(self) -> NDArray[np.intp]:
        return np.asarray(np.count_nonzero(self.loads, axis=1), dtype=np.intp)


@dataclass(frozen=True, slots=True)
class Choice:
    """One chosen row and the sentences that speak for it."""

    row: int
    reasons: tuple[str, ...]


def shortlist(judged: Judged, count: int) -> list[Choice]:
    """At most `count` rows: the one to cast first, the closest, those that buy something with a little distance.

    After the first they stand in the order of their distance; those as close as each other, the surer before.
    """
    chosen = _chosen(judged, count, ALLOWANCE)
    return chosen if len(chosen) >= min(count, _SHORT) else _chosen(judged, count, FURTHEST)


def _chosen(judged: Judged, count: int, allowance: float) -> list[Choice]:
    closest = closest_row(judged)
    first = first_row(judged, closest)
    near = judged.delta_e <= judged.delta_e[closest] + allowance
    near[first] = True
    chosen: dict[int, list[str]] = {first: []}
    if first != closest:
        chosen[first].append(_surer_words(judged, first, closest, near))
    if first == closest or (count > 1 and _differs(judged, closest, chosen)):
        chosen.setdefault(closest, []).append(_closest_words(judged, closest))
    for role in (_surest, _cheapest, _fewest, _steadiest, _most_forgiving):
        row, words = role(judged, closest, near)
        if row in chosen:
            if not (role is _surest and row == first != closest):  # said already
                chosen[row].append(words)
        elif row is not None and len(chosen) < count and _differs(judged, row, chosen):
            chosen[row] = [words]
    _add_other_ways(judged, closest, near, chosen, count)
    order = sorted(chosen, key=lambda row: (row != first, *_place(judged, row)))
    return [Choice(row, tuple(chosen[row])) for row in order]


def closest_row(judged: Judged) -> int:
    """The least distance; ties within 0.01 go to the fewest pigments, then to the least expected distance."""
    tied = judged.delta_e <= judged.delta_e.min() + _TIE
    tied &= judged.n_pigments == judged.n_pigments[tied].min()
    return int(np.where(tied, judged.expected_delta_e, np.inf).argmin())


def first_row(judged: Judged, closest: int) -> int:
    """What to cast first: of those as close the surest, and of all the surest where that is far surer."""
    expected = judged.expected_delta_e
    first = _least(expected, judged.delta_e <= judged.delta_e[closest] + _AS_CLOSE)
    if expected[closest] - expected[first] < _SURER:
        first = closest
    surest = int(expected.argmin())
    return surest if expected[surest] < _FAR_SURER * expected[first] else first


Role = Callable[[Judged, int, NDArray[np.bool_]], tuple[int | None, str]]


def _surest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    row = _least(judged.expected_delta_e, near)
    value, before = judged.expected_delta_e[row], judged.expected_delta_e[closest]
    if row != closest and before - value < _SURER:
        return None, ""
    return row, f"Surest: {value:.1f} dE00 is to be expected when all doubt is counted in."


def _cheapest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    known = near & np.isfinite(judged.cost)
    if not known.any() or not np.isfinite(judged.cost[closest]):
        return None, ""
    row = _least(judged.cost, known)
    cost, before = judged.cost[row], judged.cost[closest]
    if row == closest:
        return row, "Cheapest of those near the target."
    if cost > 0.9 * before:
        return None, ""
    return (
        row,
        f"Cheapest: pigments for {cost:.2f} instead of {before:.2f}, {_further(judged, row, closest)}.",
    )


def _fewest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    fewest = near & (judged.n_pigments == judged.n_pigments[near].min())
    row = _least(judged.delta_e, fewest)
    if row != closest and judged.n_pigments[row] == judged.n_pigments[closest]:
        return None, ""
    number = _pigments(int(judged.n_pigments[row]))
    return row, f"Fewest pigments: {number}, {_further(judged, row, closest)}."


def _steadiest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    row = _least(judged.metamerism, near)
    value, before = judged.metamerism[row], judged.metamerism[closest]
    if row != closest and before - value < 0.3:
        return None, ""
    return row, f"Steadiest: {value:.1f} dE00 at most under other lights than daylight."


def _most_forgiving(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    row = _least(judged.slip_delta_e, near)
    value, before = judged.slip_delta_e[row], judged.slip_delta_e[closest]
    if row != closest and (value > 0.8 * before or before < 0.1):
        return None, ""
    return row, f"Most forgiving: a dose 5 % over moves the shade by {value:.2f} dE00 at most."


def _add_other_ways(
    judged: Judged, closest: int, near: NDArray[np.bool_], chosen: dict[int, list[str]], count: int
) -> None:
    """Fill up with near recipes made of other pigments: what to cast when a jar is empty."""
    for row in np.argsort(judged.delta_e, kind="stable"):
        if len(chosen) >= count:
            return
        row = int(row)
        if row not in chosen and near[row] and _differs(judged, row, chosen):
            chosen[row] = [f"Another way: other pigments, {_further(judged, row, closest)}."]


def _place(judged: Judged, row: int) -> tuple[int, float]:
    """What the rows after the first are sorted by."""
    return round(judged.delta_e[row] / _AS_CLOSE), float(judged.expected_delta_e[row])


def _differs(judged: Judged, row: int, chosen: dict[int, list[str]]) -> bool:
    """Another set of pigments, and either a fair share of the pigment is another one or a jar is saved."""
    own, jars = judged.loads[row], judged.n_pigments
    for other in chosen:
        there = judged.loads[other]
        moved = np.abs(own - there).sum() / max(own.sum() + there.sum(), 1e-12)
        if np.array_equal(own > 0, there > 0) or (moved < _MOVED and jars[row] >= jars[other]):
            return False
    return True


def _closest_words(judged: Judged, row: int) -> str:
    number, distance = _pigments(int(judged.n_pigments[row])), judged.delta_e[row]
    if distance > 1.0:
        return f"Nearest that can be cast: {distance:.1f} dE00 from the target, with {number}."
    return f"Closest: {distance:.2f} dE00 from the target by the model, with {number}."


def _surer_words(judged: Judged, row: int, closest: int, near: NDArray[np.bool_]) -> str:
    expected = judged.expected_delta_e
    word = "Surest" if row == _least(expected, near) else "Surer"
    return (
        f"{word}: {expected[row]:.1f} dE00 is to be expected when all doubt is counted in, where the closest by "
        f"the model has {expected[closest]:.1f}; {_further(judged, row, closest)}."
    )


def _further(judged: Judged, row: int, closest: int) -> str:
    further = judged.delta_e[row] - judged.delta_e[closest]
    return "no further off" if further < 0.05 else f"{further:.1f} dE00 further off than the closest"


def _pigments(number: int) -> str:
    return {0: "no pigment", 1: "one pigment"}.get(number, f"{number} pigments")


def _least(values: FloatArray, among: NDArray[np.bool_]) -> int:
    return int(np.where(among, values, np.inf).argmin())
