"""Mending a slip at the bowl: too much of one pigment (or of the cement) is in; what to add to which.

Only additions are possible. More cement thins everything, more of the other pigments turns the shade back;
the nearest shade under the cap is looked for over both, then put on the scale's marks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .. import mixture
from ..arrays import FloatArray, number_between
from ..difference import delta_e_2000
from ..errors import InputError, UnknownNameError
from ..palette import Palette
from ..shade import Shade
from .batch import STUDIO_CAP, WATER_PER_CEMENT, highest_load, under_cap
from .mending import Mending, Task, nearest_addition

Advice = Literal["leave it", "mend", "start again"]

LEAVE_BELOW = 0.5  # dE00; below it two casts of one recipe differ more (common practice, no source)
START_AGAIN_ABOVE = 2.0  # dE00; common practice, no source
EXTRA_CEMENT = 0.25  # of the cement; more than that seldom fits the bowl (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class Rescue:
    """The answer to a slip. Masses in g, shades dry.

    to_mend, to_leave: everything that goes in from now on when mending, or when the sheet is simply
    finished; cement under its base's name, and "water". beyond_plan: mended bowl minus sheet.
    planned, left, mended: the shade as wanted, when the sheet is simply finished, and when mended;
    delta_e_left, delta_e_mended: dE00 from the shade wanted.
    extra_g: wet mix beyond the plan. cement_needed_g: extra cement that would bring the wanted loads back
    exactly, whatever the limit.
    """

    advice: Advice
    words: str
    to_mend: Mapping[str, float]
    to_leave: Mapping[str, float]
    beyond_plan: Mapping[str, float]
    planned: Shade
    left: Shade
    mended: Shade
    delta_e_left: float
    delta_e_mended: float
    total_load: float
    cap: float
    extra_g: float
    cement_needed_g: float
    water_in: bool


def mend_slip(
    palette: Palette,
    *,
    base: str,
    loads: Mapping[str, float],
    cement_g: float,
    weighed: Mapping[str, float],
    slip: tuple[str, float] | None = None,
    target: Shade | None = None,
    cap: float = STUDIO_CAP,
    scale_step_g: float = 0.1,
    bulk_step_g: float | None = None,
    extra_cement_g: float | None = None,
    water_in: bool = False,
    water_per_cement: float = WATER_PER_CEMENT,
    leave_below: float = LEAVE_BELOW,
) -> Rescue:
    """Answer a slip: loads and cement_g as the sheet has them, `weighed` grams in the bowl so far.

    weighed: pigment names, and the base's name for cement (left out: all of cement_g is in).
    slip: (name, grams now in the bowl), put on top of `weighed`. target: the shade to come back to, default
    that of the sheet. extra_cement_g: how much more fits the bowl, default a quarter of the cement.
    Raises UnknownNameError, InputError or LoadError.
    """
    bowl = {**weighed, **({slip[0]: slip[1]} if slip else {})}
    step = number_between(scale_step_g, name="The scale's step", low=0.0001, high=50, unit="g")
    task = _task(palette, base, loads, cement_g, bowl, extra_cement_g, step, cap)
    bulk = (
        step
        if bulk_step_g is None
        else number_between(bulk_step_g, name="The step of the scale for cement", low=0.0001, high=50, unit="g")
    )
    cap = highest_load(cap, task.names, _maxima(palette, task.names))
    coefficients = palette.coefficients(base)
    wanted = target.lab if target else mixture.lab(coefficients, task.all_loads(task.wanted_loads))[0]
    mending = nearest_addition(task, coefficients, wanted, cap=cap, step=step, bulk=bulk)
    return _answer(palette, base, task, mending, wanted, cap, water_in, water_per_cement, leave_below)


def _task(
    palette: Palette,
    base: str,
    loads: Mapping[str, float],
    cement_g: float,
    bowl: Mapping[str, float],
    extra_cement_g: float | None,
    step: float,
    cap: float,
) -> Task:
    if base not in palette.bases:
        raise UnknownNameError("base", base, palette.bases)
    grams = {
        name: number_between(g, name=f"The weight of {palette.label(name)}", low=0, high=1e5, unit="g")
        for name, g in bowl.items()
    }
    cement_g = number_between(cement_g, name="The cement", low=0, high=1e5, unit="g", open_low=True)
    palette.load_vector(loads)  # checks names and loads
    # A pigment that is neither planned nor in the bowl is not in the mix, and its own maximum does not count.
    names = tuple(dict.fromkeys(name for part in (loads, grams) for name in part if name != base and part[name] > 0))
    known = list(palette.pigments)
    if not names:
        raise InputError("There is no pigment in this bowl; without pigment there is no shade to mend.")
    for name in grams:
        if name != base and name not in palette.pigments:
            raise UnknownNameError("pigment", name, known)
    inside = grams.get(base, cement_g)
    most = max(inside, cement_g)
    extra = (
        EXTRA_CEMENT * most
        if extra_cement_g is None
        else number_between(extra_cement_g, name="The extra cement", low=0, high=1e5, unit="g")
    )
    wanted = np.array([float(loads.get(name, 0.0)) for name in names])
    return Task(
        names=names,
        columns=tuple(known.index(name) for name in names),
        size=len(known),
        wanted_loads=wanted,
        planned_g=np.array(list(_sheet(palette, loads, names, cement_g, step, cap).values())),
        inside_g=np.array([grams.get(name, 0.0) for name in names]),
        cement_inside_g=inside,
        cement_planned_g=cement_g,
        extra_cement_g=extra,
    )


def _sheet(
    palette: Palette, loads: Mapping[str, float], names: Sequence[str], cement_g: float, step: float, cap: float
) -> dict[str, float]:
    """What the sheet says to weigh of each pigment, in g."""
    exact = {name: float(loads.get(name, 0.0)) * cement_g for name in names}
    planned = [name for name in names if exact[name] > 0]
    most = max(highest_load(cap, planned, _maxima(palette, planned)) * cement_g, math.fsum(exact.values()))
    return under_cap(exact, most, step)


def _maxima(palette: Palette, names: Sequence[str]) -> dict[str, float]:
    return {name: palette.pigments[name].maximum_load for name in names}


def _answer(
    palette: Palette,
    base: str,
    task: Task,
    mending: Mending | None,
    wanted: FloatArray,
    cap: float,
    water_in: bool,
    water: float,
    leave_below: float,
) -> Rescue:
    left_g = np.maximum(task.inside_g, task.planned_g)
    left_load = float(left_g.sum() / task.cement_g)
    added = mending.pigment_g if mending else left_g - task.inside_g
    extra_cement = mending.cement_g if mending else 0.0
    final = (task.inside_g + added) / (task.cement_g + extra_cement)
    left = _shade(palette, base, task, left_g / task.cement_g)
    mended = _shade(palette, base, task, final) if mending else left
    off_left = float(delta_e_2000(left.lab, wanted))
    off_mended = mending.delta_e if mending else off_left
    advice = _advice(left_load <= cap + 1e-9, off_left, off_mended, mending is not None, leave_below)
    to_mend = _to_weigh(task, base, added, extra_cement, water, water_in)
    beyond = _beyond_plan(task, base, added, extra_cement, water)
    needed = _cement_needed(task)
    rescue = Rescue(
        advice=advice,
        words="",
        to_mend=to_mend,
        to_leave=_to_weigh(task, base, left_g - task.inside_g, 0.0, water, water_in),
        beyond_plan=beyond,
        planned=_shade(palette, base, task, task.wanted_loads),
        left=left,
        mended=mended,
        delta_e_left=off_left,
        delta_e_mended=off_mended,
        total_load=float(final.sum()),
        cap=cap,
        extra_g=math.fsum(beyond.values()),
        cement_needed_g=needed,
        water_in=water_in,
    )
    return replace(rescue, words=_words(rescue, palette, base, left_load))


def _advice(left_allowed: bool, off_left: float, off_mended: float, mendable: bool, leave_below: float) -> Advice:
    if not mendable:
        return "start again"
    if left_allowed and (off_left <= leave_below or (off_left - off_mended < 0.2 and off_left <= START_AGAIN_ABOVE)):
        return "leave it"
    return "mend" if off_mended <= START_AGAIN_ABOVE else "start again"


def _to_weigh(
    task: Task, base: str, added: FloatArray, extra_cement: float, water: float, water_in: bool
) -> dict[str, float]:
    """All that still goes into the bowl, nothing that is zero."""
    cement = task.cement_g + extra_cement
    grams = {name: float(g) for name, g in zip(task.names, added, strict=True)}
    grams[base] = cement - task.cement_inside_g
    grams["water"] = water * (cement - task.cement_planned_g if water_in else cement)
    return _without_zeros(grams)


def _beyond_plan(task: Task, base: str, added: FloatArray, extra_cement: float, water: float) -> dict[str, float]:
    """The mended bowl minus the one on the sheet."""
    change = task.inside_g + added - task.planned_g
    grams = {name: float(g) for name, g in zip(task.names, change, strict=True)}
    grams[base] = task.cement_g + extra_cement - task.cement_planned_g
    grams["water"] = water * grams[base]
    return _without_zeros(grams)


def _without_zeros(grams: Mapping[str, float]) -> dict[str, float]:
    return {name: round(g, 3) for name, g in grams.items() if abs(g) >= 0.0005}


def _cement_needed(task: Task) -> float:
    """Extra cement that brings every load back to what was wanted; infinite for a pigment not wanted at all."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(task.inside_g > 0, task.inside_g / task.wanted_loads, 0.0)
    return max(float(ratio.max()) - task.cement_g, 0.0)


def _shade(palette: Palette, base: str, task: Task, loads: FloatArray) -> Shade:
    """The model's shade without the casting's doubt, also over 10 % (a slip can be that large)."""
    coefficients = palette.coefficients(base)
    return Shade(mixture.lab(coefficients, task.all_loads(loads))[0])


def _words(rescue: Rescue, palette: Palette, base: str, left_load: float) -> str:
    if rescue.advice == "leave it":
        return (
            f"Leave it: {rescue.delta_e_left:.1f} dE00 from the shade you wanted "
            f"(mending would make that {rescue.delta_e_mended:.1f}). Finish the sheet as it stands."
        )
    more = (
        ""
        if math.isinf(rescue.cement_needed_g)
        else f" Holding the shade would take {rescue.cement_needed_g:.0f} g more cement, with all else in proportion."
    )
    if rescue.advice == "start again":
        if rescue.total_load > rescue.cap + 1e-9:
            share = f"{100 * left_load:.3g} % of pigment; {100 * rescue.cap:.3g} % allowed"
            return f"Past the cap ({share}): start again.{more}"
        return (
            f"Start again: the nearest shade that can still be reached is {rescue.delta_e_mended:.1f} dE00 off.{more}"
        )
    parts = [f"{g:g} g of {palette.label(name)}" for name, g in rescue.to_mend.items() if name != "water"]
    return (
        f"Still to weigh: {', '.join(parts) or 'nothing'}. That brings the shade from {rescue.delta_e_left:.1f} to "
        f"{rescue.delta_e_mended:.1f} dE00 of the one you wanted, with {rescue.extra_g:.1f} g more mix. "
        + _how(rescue, base)
    )


def _how(rescue: Rescue, base: str) -> str:
    """Common practice, no source."""
    if not rescue.water_in:
        return "No water is in yet: add it dry and mix until the colour is even."
    water = rescue.to_mend.get("water", 0.0)
    if water > 0:
        return (
            f"The water is in: mix the addition apart with {water:.1f} g of water to a smooth paste first, then work "
            "it in at once. If the mix has begun to stiffen, start again."
        )
    return (
        "The water is in: wet the pigment with a few drops of the mixing water to a smooth paste first, then "
        "work it in at once. If the mix has begun to stiffen, start again."
    )
