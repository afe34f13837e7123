"""Which of many recipes to show: a few that differ really, each with the reason to take it, the best first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..difference import JUST_SEEN
from .judging import Judged

# CIEDE2000, common practice: what is nearer together than this is not worth telling apart.
_TIE = 0.01  # of distance: the simpler recipe counts as the closest
_AS_CLOSE = 0.02  # of distance: the safest of those so close is looked at first
_SAFER = 0.1  # of expected distance
_AS_SAFE = 0.05  # of expected distance: less does not show in its first decimal
_NO_DIFFERENCE = 0.1  # of distance: a tenth of what is just seen, less than any cast repeats
_FAR_SAFER = 0.5  # share of the closest's expected distance below which its distance no longer counts
ALLOWANCE = JUST_SEEN  # further off than the closest that another virtue may cost
FURTHEST = 2.0  # the same where the list would be shorter than three
_SHORT = 3  # recipes
_MOVED = 0.15  # share of the pigment that must differ for two recipes of as many jars to be two
_STEADIER = 0.3  # CIEDE2000 less change under other lights worth naming
_CHEAPER, _MORE_FORGIVING = 0.9, 0.8  # of the closest's cost and slip
_NO_SLIP = 0.1  # CIEDE2000: a slip that nobody sees


@dataclass(frozen=True, slots=True)
class Choice:
    """One chosen row and what speaks for it, in phrases without a full stop."""

    row: int
    roles: tuple[str, ...]


def shortlist(judged: Judged, count: int) -> list[Choice]:
    """At most `count` rows: the closest, the safest, those that buy something with a little distance.

    They stand in the order in which they are expected to come out, the best first.
    """
    chosen = _chosen(judged, count, ALLOWANCE)
    return chosen if len(chosen) >= min(count, _SHORT) else _chosen(judged, count, FURTHEST)


def _chosen(judged: Judged, count: int, allowance: float) -> list[Choice]:
    closest = closest_row(judged)
    safest = _safest_row(judged, closest)
    near = judged.delta_e <= judged.delta_e[closest] + allowance
    near[safest] = True
    chosen: dict[int, list[str]] = {safest: []}
    if safest == closest or (count > 1 and _differs(judged, closest, chosen)):
        chosen.setdefault(closest, []).append("Closest by the model")
    for role in (_safest, _cheapest, _fewest, _steadiest, _most_forgiving):
        row, words = role(judged, closest, near)
        if row in chosen:
            chosen[row].insert(0, words) if role is _safest else chosen[row].append(words)
        elif row is not None and len(chosen) < count and _differs(judged, row, chosen):
            chosen[row] = [words]
    _add_other_ways(judged, near, chosen, count)
    order = sorted(chosen, key=lambda row: judged.expected_delta_e[row])
    # Of those that no eye tells from the safest the one of fewest jars goes first.
    expected, distance = judged.expected_delta_e, judged.delta_e
    as_safe = [row for row in order if expected[row] < expected[order[0]] + _AS_SAFE]
    alike = [row for row in as_safe if distance[row] < distance[order[0]] + _NO_DIFFERENCE]
    first = min(alike, key=lambda row: judged.n_pigments[row])
    order.remove(first)
    return [Choice(row, tuple(chosen[row] or ["Safer than the closest"])) for row in (first, *order)]


def closest_row(judged: Judged) -> int:
    """The least distance; ties within 0.01 go to the fewest pigments, then to the least expected distance."""
    tied = judged.delta_e <= judged.delta_e.min() + _TIE
    tied &= judged.n_pigments == judged.n_pigments[tied].min()
    return int(np.where(tied, judged.expected_delta_e, np.inf).argmin())


def _safest_row(judged: Judged, closest: int) -> int:
    """Of those as close as the closest the safest, and of all the safest where that is far safer."""
    expected = judged.expected_delta_e
    row = _least(expected, judged.delta_e <= judged.delta_e[closest] + _AS_CLOSE)
    if expected[closest] - expected[row] < _SAFER:
        row = closest
    of_all = int(expected.argmin())
    return of_all if expected[of_all] < _FAR_SAFER * expected[row] else row


def _safest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    row = _least(judged.expected_delta_e, near)
    if row != closest and judged.expected_delta_e[closest] - judged.expected_delta_e[row] < _SAFER:
        return None, ""
    return row, "Safest"


def _cheapest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    known = near & np.isfinite(judged.cost)
    if not known.any() or not np.isfinite(judged.cost[closest]):
        return None, ""
    row = _least(judged.cost, known)
    cost, before = judged.cost[row], judged.cost[closest]
    if row == closest:
        return row, "Cheapest of those near the shade"
    return (
        (None, "")
        if cost > _CHEAPER * before
        else (row, f"Cheapest, pigments for {cost:.2f}; {before:.2f} in the closest")
    )


def _fewest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    fewest = near & (judged.n_pigments == judged.n_pigments[near].min())
    row = _least(judged.delta_e, fewest)
    number = int(judged.n_pigments[row])
    if row != closest and number == judged.n_pigments[closest]:
        return None, ""
    return row, f"Fewest jars, {({0: 'no pigment', 1: 'one pigment'}).get(number, f'{number} pigments')}"


def _steadiest(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    change = judged.inconstancy if np.isnan(judged.metamerism).any() else judged.metamerism
    row = _least(change, near)
    if row != closest and change[closest] - change[row] < _STEADIER:
        return None, ""
    return row, f"Steadiest, {change[row]:.1f} dE00 at most under other lights than daylight"


def _most_forgiving(judged: Judged, closest: int, near: NDArray[np.bool_]) -> tuple[int | None, str]:
    row = _least(judged.slip_delta_e, near)
    value, before = judged.slip_delta_e[row], judged.slip_delta_e[closest]
    if row != closest and (value > _MORE_FORGIVING * before or before < _NO_SLIP):
        return None, ""
    return row, f"Most forgiving, a dose 5 % over moves it by {value:.2f} dE00 at most"


def _add_other_ways(judged: Judged, near: NDArray[np.bool_], chosen: dict[int, list[str]], count: int) -> None:
    """Fill up with near recipes made of other pigments: what to cast when a jar is empty."""
    for row in np.argsort(judged.delta_e, kind="stable"):
        if len(chosen) >= count:
            return
        row = int(row)
        if row not in chosen and near[row] and _differs(judged, row, chosen):
            chosen[row] = ["Another way, with other pigments"]


def _differs(judged: Judged, row: int, chosen: dict[int, list[str]]) -> bool:
    """Another set of pigments, and either a fair share of the pigment is another one or a jar is saved."""
    own, jars = judged.loads[row], judged.n_pigments
    for other in chosen:
        there = judged.loads[other]
        moved = np.abs(own - there).sum() / max(own.sum() + there.sum(), 1e-12)
        if np.array_equal(own > 0, there > 0) or (moved < _MOVED and jars[row] >= jars[other]):
            return False
    return True


def _least(values: NDArray[np.float64], among: NDArray[np.bool_]) -> int:
    return int(np.where(among, values, np.inf).argmin())
