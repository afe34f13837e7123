"""Correcting a weighing mistake: too much of one pigment, or of the cement, is in; what to add to which.

Only additions are possible. More cement thins everything, more of the other pigments turns the shade back. The
nearest shade under the cap is looked for over both at once, on the scale's own marks, by scipy's differential
evolution over whole numbers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from .. import mixture
from ..arrays import FloatArray, number_between, scale_step
from ..difference import delta_e_2000
from ..errors import InputError
from ..loads import STUDIO_CAP, Mix
from ..mixture import Coefficients
from ..naming import look_up
from ..palette import Palette
from ..saying import ALIKE, READS_AS_ONE
from ..shade import Shade
from .batch import WATER_PER_CEMENT, highest_load, under_cap

Advice = Literal["leave it", "correct it", "start again"]

# dE00: below the first nothing is seen, above the second it is another shade; the third is a judgement.
LEAVE_BELOW, START_AGAIN_ABOVE, _GAIN_WORTH_IT = ALIKE, READS_AS_ONE, 0.2
EXTRA_CEMENT = 0.25  # of the cement; more than that seldom fits the bowl (common practice, no source)

# Enough for every one of 620 random mistakes to come within 0.1 dE00 of brute force (tests/bench); a crowd of 30
# missed by 0.12 once. Walks from mark to mark from 24 starts in its place: up to 0.8 dE00 worse, and no faster.
_GENERATIONS, _CROWD, _SEED = 180, 60, 1
_OVER = 1e4  # dE00 for a gram of pigment per gram of cement past the cap: no bowl past it is ever the nearest


@dataclass(frozen=True, slots=True, eq=False)
class Correction:
    """The answer to a weighing mistake. Masses in g, shades dry.

    to_correct, to_leave: everything that goes in from now on when correcting, or when the sheet is simply
    finished; cement under its base's name, and "water". beyond_plan: corrected bowl minus sheet.
    planned, left, corrected: the shade as wanted, when the sheet is simply finished, and when corrected;
    delta_e_left, delta_e_corrected: dE00 from the shade wanted. extra_g: wet mix beyond the plan.
    cement_needed_g: extra cement that would bring the wanted loads back exactly, whatever the limit.
    """

    advice: Advice
    words: str
    to_correct: Mapping[str, float]
    to_leave: Mapping[str, float]
    beyond_plan: Mapping[str, float]
    planned: Shade
    left: Shade
    corrected: Shade
    delta_e_left: float
    delta_e_corrected: float
    total_load: float
    cap: float
    extra_g: float
    cement_needed_g: float
    water_in: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Bowl:
    """A bowl in trouble, by its pigments (n,): their columns in the palette, what was planned and what is in, in g."""

    base: str
    names: tuple[str, ...]
    columns: list[int]
    coefficients: Coefficients
    wanted_loads: FloatArray
    planned_g: FloatArray
    inside_g: FloatArray
    cement_inside_g: float
    cement_planned_g: float
    extra_cement_g: float
    cap: float

    @property
    def cement_g(self) -> float:
        """The least the bowl can end with."""
        return max(self.cement_inside_g, self.cement_planned_g)

    def lab(self, loads: FloatArray) -> FloatArray:
        """CIELAB (m, 3), dry, of loads (m, n); also over 10 %, a mistake can be that large."""
        full = np.zeros((len(loads), self.coefficients.pigment_k.shape[0]))
        full[:, self.columns] = loads
        return mixture.lab(self.coefficients, full)


def correct_weighing(
    palette: Palette,
    mix: Mix,
    *,
    cement_g: float,
    weighed: Mapping[str, float],
    cap: float = STUDIO_CAP,
    scale_step_g: float = 0.1,
    bulk_step_g: float | None = None,
    extra_cement_g: float | None = None,
    water_in: bool = False,
    water_per_cement: float = WATER_PER_CEMENT,
) -> Correction:
    """How to come back to the shade of the sheet: its mix and cement_g, and the grams `weighed` into the bowl so far.

    weighed: pigment names, and the base's name for cement (left out: all of cement_g is in). extra_cement_g: how much
    more fits the bowl, default a quarter of the cement. Raises UnknownNameError, InputError or LoadError.
    """
    step = scale_step(scale_step_g)
    bulk = scale_step(bulk_step_g or step, "The step of the scale for cement")
    bowl = _bowl(palette, mix, cement_g, weighed, extra_cement_g, step, cap)
    wanted = bowl.lab(bowl.wanted_loads[None, :])[0]
    added = _nearest_addition(bowl, wanted, step, bulk)
    return _answer(palette, bowl, added, wanted, water_in, water_per_cement)


def _bowl(
    palette: Palette,
    mix: Mix,
    cement_g: float,
    weighed: Mapping[str, float],
    extra: float | None,
    step: float,
    cap: float,
) -> _Bowl:
    grams = {
        name: number_between(g, name=f"The weight of {palette.label(name)}", low=0, high=1e5, unit="g")
        for name, g in weighed.items()
    }
    cement_g = number_between(cement_g, name="The cement", low=0, high=1e5, unit="g", open_low=True)
    # A pigment that is neither planned nor in the bowl is not in the mix, and its own maximum does not count.
    names = tuple(dict.fromkeys(n for part in (mix.loads, grams) for n in part if n != mix.base and part[n] > 0))
    maxima = {name: look_up(palette.pigments, name, "pigment").maximum_load for name in (*mix.loads, *names)}
    if not names:
        raise InputError("There is no pigment in this bowl; without pigment there is no shade to come back to.")
    inside = grams.get(mix.base, cement_g)
    exact = {name: mix.loads.get(name, 0.0) * cement_g for name in names}
    planned = [name for name in names if exact[name] > 0]
    most = max(highest_load(cap, planned, maxima) * cement_g, math.fsum(exact.values()))
    order = list(palette.pigments)
    return _Bowl(
        base=mix.base,
        names=names,
        columns=[order.index(name) for name in names],
        coefficients=palette.coefficients(mix.base),
        wanted_loads=np.array([mix.loads.get(name, 0.0) for name in names]),
        planned_g=np.array(list(under_cap(exact, most, step).values())),
        inside_g=np.array([grams.get(name, 0.0) for name in names]),
        cement_inside_g=inside,
        cement_planned_g=cement_g,
        extra_cement_g=EXTRA_CEMENT * max(inside, cement_g)
        if extra is None
        else number_between(extra, name="The extra cement", low=0, high=1e5, unit="g"),
        cap=highest_load(cap, names, maxima),
    )


def _nearest_addition(bowl: _Bowl, wanted: FloatArray, step: float, bulk: float) -> FloatArray | None:
    """(n + 1,) grams of each pigment and of extra cement that come nearest, on marks; None: past the cap."""
    from scipy.optimize import Bounds, differential_evolution

    mark = np.append(np.full(len(bowl.names), step), bulk)
    room = bowl.cap * (bowl.cement_g + bowl.extra_cement_g) - bowl.inside_g.sum()
    if room < -1e-9:
        return None
    high = np.floor(np.append(np.full(len(bowl.names), max(room, 0.0)), bowl.extra_cement_g) / mark + 1e-9)

    def off(marks: FloatArray) -> FloatArray:
        grams = np.round(marks.T) * mark
        loads = (bowl.inside_g + grams[:, :-1]) / (bowl.cement_g + grams[:, -1:])
        past = np.maximum(loads.sum(axis=1) - bowl.cap - 1e-9, 0.0)
        return delta_e_2000(bowl.lab(loads), wanted) + np.where(past > 0, 100 + _OVER * past, 0.0)

    def downhill(marks: FloatArray) -> FloatArray:
        """From mark to mark, one or two materials at a time, until none is better."""
        ways = np.array([way for way in product((-2, -1, 0, 1, 2), repeat=len(mark)) if np.count_nonzero(way) <= 2])
        while True:
            tried = np.clip(marks + ways, 0, high)
            found = off(tried.T)
            if found.min() >= float(off(marks[:, None])[0]) - 1e-9:
                return marks
            marks = tried[found.argmin()]

    # Half the crowd near the wanted loads, held at any amount of cement; the other half anywhere, mostly near nothing.
    rng = np.random.default_rng(_SEED)
    more, size = rng.random(_CROWD) * bowl.extra_cement_g, (_CROWD, len(bowl.names))
    held = (bowl.wanted_loads * (bowl.cement_g + more[:, None]) - bowl.inside_g) / step
    near = np.column_stack([held * rng.uniform(0.7, 1.3, size) + rng.uniform(-3, 3, size), more / bulk])
    anywhere = rng.random(near.shape) ** 3 * high
    crowd = np.clip(np.round(np.vstack([near, anywhere])), 0, high)
    found = differential_evolution(
        off,  # type: ignore[arg-type]  # vectorized: the whole crowd at once
        Bounds(np.zeros(len(mark)), np.maximum(high, 1e-9)),
        init=crowd,
        integrality=np.ones(len(mark), dtype=bool),
        strategy="rand1bin",  # the crowd stays apart: doses of few marks have many hollows
        vectorized=True,
        updating="deferred",
        polish=False,
        maxiter=_GENERATIONS,
        tol=1e-3,
        atol=1e-3,
        mutation=(0.4, 0.9),
        recombination=0.8,
        seed=_SEED,
    )
    best = downhill(np.round(found.x))
    return best * mark if float(off(best[:, None])[0]) < 100 else None


def _answer(
    palette: Palette, bowl: _Bowl, found: FloatArray | None, wanted: FloatArray, water_in: bool, water: float
) -> Correction:
    left_g = np.maximum(bowl.inside_g, bowl.planned_g)
    left_load = float(left_g.sum() / bowl.cement_g)
    added, extra = (left_g - bowl.inside_g, 0.0) if found is None else (found[:-1], float(found[-1]))
    final = (bowl.inside_g + added) / (bowl.cement_g + extra)
    planned, left, corrected = (
        Shade(lab) for lab in bowl.lab(np.array([bowl.wanted_loads, left_g / bowl.cement_g, final]))
    )
    off_left, off_corrected = (float(delta_e_2000(shade.lab, wanted)) for shade in (left, corrected))
    change = bowl.cement_g + extra - bowl.cement_planned_g
    beyond = _named(bowl, bowl.inside_g + added - bowl.planned_g, change, water * change)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(bowl.inside_g > 0, bowl.inside_g / bowl.wanted_loads, 0.0)
    answer = Correction(
        advice=_advice(left_load <= bowl.cap + 1e-9, off_left, off_corrected, found is not None),
        words="",
        to_correct=_to_weigh(bowl, added, extra, water, water_in),
        to_leave=_to_weigh(bowl, left_g - bowl.inside_g, 0.0, water, water_in),
        beyond_plan=beyond,
        planned=planned,
        left=left,
        corrected=corrected,
        delta_e_left=off_left,
        delta_e_corrected=off_corrected,
        total_load=float(final.sum()),
        cap=bowl.cap,
        extra_g=math.fsum(beyond.values()),
        cement_needed_g=max(float(ratio.max()) - bowl.cement_g, 0.0),
        water_in=water_in,
    )
    return replace(answer, words=_words(answer, palette, left_load))


def _advice(left_allowed: bool, off_left: float, off_corrected: float, possible: bool) -> Advice:
    if not possible:
        return "start again"
    little = off_left - off_corrected < _GAIN_WORTH_IT and off_left <= START_AGAIN_ABOVE
    if left_allowed and (off_left <= LEAVE_BELOW or little):
        return "leave it"
    return "correct it" if off_corrected <= START_AGAIN_ABOVE else "start again"


def _to_weigh(bowl: _Bowl, added: FloatArray, extra: float, water: float, water_in: bool) -> dict[str, float]:
    """All that still goes into the bowl."""
    cement = bowl.cement_g + extra
    wet = water * (cement - bowl.cement_planned_g if water_in else cement)
    return _named(bowl, added, cement - bowl.cement_inside_g, wet)


def _named(bowl: _Bowl, pigments: FloatArray, cement: float, water: float) -> dict[str, float]:
    """Grams by name, nothing that is zero."""
    grams = {**dict(zip(bowl.names, pigments.tolist(), strict=True)), bowl.base: cement, "water": water}
    return {name: round(g, 3) for name, g in grams.items() if abs(g) >= 0.0005}


def _words(answer: Correction, palette: Palette, left_load: float) -> str:
    if answer.advice == "leave it":
        return (
            f"Leave it: {answer.delta_e_left:.1f} dE00 from the shade you wanted "
            f"(correcting it would make that {answer.delta_e_corrected:.1f}). Finish the sheet as it stands."
        )
    more = (
        ""
        if math.isinf(answer.cement_needed_g)
        else f" Holding the shade would take {answer.cement_needed_g:.0f} g more cement, with all else in proportion."
    )
    if answer.advice == "start again":
        if answer.total_load > answer.cap + 1e-9:
            share = f"{100 * left_load:.3g} % of pigment; {100 * answer.cap:.3g} % allowed"
            return f"Past the cap ({share}): start again.{more}"
        off = answer.delta_e_corrected
        return f"Start again: the nearest shade that can still be reached is {off:.1f} dE00 off.{more}"
    parts = [f"{g:g} g of {palette.label(name)}" for name, g in answer.to_correct.items() if name != "water"]
    return (
        f"Still to weigh: {', '.join(parts) or 'nothing'}. That brings the shade from {answer.delta_e_left:.1f} to "
        f"{answer.delta_e_corrected:.1f} dE00 of the one you wanted, with {answer.extra_g:.1f} g more mix. "
        + _how(answer)
    )


def _how(answer: Correction) -> str:
    """Common practice, no source."""
    if not answer.water_in:
        return "No water is in yet: add it dry and mix until the colour is even."
    water = answer.to_correct.get("water", 0.0)
    paste = (
        f"mix the addition apart with {water:.1f} g of water to a smooth paste first, then work it in at once"
        if water > 0
        else "wet the pigment with a few drops of the mixing water to a smooth paste first, then work it in at once"
    )
    return f"The water is in: {paste}. If the mix has begun to stiffen, start again."
