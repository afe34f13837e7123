"""Correcting a weighing mistake: too much of one pigment, or of the cement, is in; what to add to which.

Only additions are possible. More cement thins everything, more of the other pigments turns the shade back. The
nearest shade under the cap is looked for over both at once, on the scale's marks, by scipy's differential evolution.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .. import mixture
from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..frozen import FrozenMapping
from ..loads import SLACK
from ..naming import look_up
from ..palette import Palette
from ..saying import ALIKE, READS_AS_ONE
from ..shade import Shade
from .batch import highest_load
from .bowl import WATER, Bowl

Advice = Literal["leave it", "correct it", "start again"]

# dE00: below the first nothing is seen, above the second it is another shade; the third is a judgement.
_LEAVE_BELOW, _START_AGAIN_ABOVE, _GAIN_WORTH_IT = ALIKE, READS_AS_ONE, 0.2
_EXTRA_CEMENT = 0.25  # of the cement; more than that seldom fits the bowl (common practice, no source)
# Enough for every one of 620 random mistakes to come within 0.1 dE00 of brute force (tests/bench); a crowd of 30 missed
# by 0.12 once, one that begins around the plan alone too.
_GENERATIONS, _CROWD, _SEED = 180, 60, 1


@dataclass(frozen=True, slots=True, eq=False)
class Correction:
    """The answer to a weighing mistake. Shades dry; grams by name, cement under its base's name, and "water".

    planned, left, corrected: the shade of the sheet, when it is simply finished, and when corrected; delta_e_left,
    delta_e_corrected: dE00 from the first. to_leave, to_correct: all that still goes in. beyond_plan: corrected bowl
    minus sheet. how: to add it. words: all of it, for the command line.
    """

    advice: Advice
    planned: Shade
    left: Shade
    corrected: Shade
    delta_e_left: float
    delta_e_corrected: float
    to_leave: FrozenMapping[str, float]
    to_correct: FrozenMapping[str, float]
    beyond_plan: FrozenMapping[str, float]
    how: str
    words: str = ""


def correct_weighing(palette: Palette, bowl: Bowl) -> Correction:
    """How to come back to the shade of the sheet from what is in the bowl, on the marks of its scales."""
    trouble = _Trouble(palette, bowl)
    finish, best = trouble.finish_g, trouble.nearest()
    possible = bool(trouble.after(best[None])[2] == 0)
    best = best if possible else finish
    (left, corrected), (off_left, off), (past, _) = trouble.after(np.array([finish, best]))
    little = off_left <= _START_AGAIN_ABOVE and off_left - off < _GAIN_WORTH_IT
    advice: Advice = "correct it" if possible and off <= _START_AGAIN_ABOVE else "start again"
    if possible and past == 0 and (off_left <= _LEAVE_BELOW or little):
        advice = "leave it"
    found = Correction(
        advice, Shade(trouble.wanted), Shade(left), Shade(corrected), float(off_left), float(off),
        trouble.still_to_weigh(finish), trouble.still_to_weigh(best), trouble.beyond_plan(best), trouble.how(best),
    )  # fmt: skip
    return replace(found, words=_words(found, palette, trouble, possible))


class _Trouble:
    """A bowl by its n pigments: grams planned and inside (n,), the cement it ends with at least, the shade wanted.

    finish_g: what finishing the sheet still takes of each pigment and of cement (n + 1,).
    """

    def __init__(self, palette: Palette, bowl: Bowl) -> None:
        sheet, inside = bowl.sheet, bowl.inside
        pigments = [name for name in sheet.pigments_g | inside if name not in (sheet.base, WATER)]
        # What is neither planned nor in the bowl is not in the mix, and its own maximum does not count.
        self.names = [n for n in pigments if sheet.pigments_g.get(n, 0.0) + inside.get(n, 0.0) > 0]
        maxima = {name: look_up(palette.pigments, name, "pigment").maximum_load for name in self.names}
        self.bowl, self.cap = bowl, highest_load(bowl.cap, self.names, maxima)
        self.cement_g = max(sheet.cement_g, inside.get(sheet.base, 0.0))
        self.planned_g, self.inside_g = (
            np.array([grams.get(name, 0.0) for name in self.names]) for grams in (sheet.pigments_g, inside)
        )
        self.finish_g = np.append(np.maximum(self.planned_g - self.inside_g, 0.0), 0.0)
        known, columns = palette.coefficients(sheet.base), [list(palette.pigments).index(name) for name in self.names]
        self.known = replace(known, pigment_k=known.pigment_k[columns], pigment_s=known.pigment_s[columns])
        self.planned_loads = self.planned_g / sheet.cement_g
        self.wanted = mixture.lab(self.known, self.planned_loads[None])[0]

    def after(self, added_g: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """CIELAB (m, 3), dE00 from the plan (m,) and g/g past the cap (m,) with pigments and cement (m, n + 1) more."""
        loads = (self.inside_g + added_g[:, :-1]) / (self.cement_g + added_g[:, -1:])
        lab = mixture.lab(self.known, loads)
        return lab, delta_e_2000(lab, self.wanted), np.maximum(loads.sum(axis=1) - self.cap - SLACK, 0.0)

    def nearest(self) -> FloatArray:
        """(n + 1,) g of each pigment and of cement to add, on the marks of the scales; past the cap if need be."""
        from scipy.optimize import Bounds, differential_evolution

        mark = np.array([self.bowl.least(name) for name in (*self.names, self.bowl.sheet.base)])

        def off(marks: FloatArray) -> FloatArray:
            _, delta_e, past = self.after(marks.T * mark)
            return delta_e + np.where(past > 0, 100 + 1e4 * past, 0.0)  # no bowl past the cap is ever the nearest

        n, extra, rng = len(self.names), _EXTRA_CEMENT * self.cement_g, np.random.default_rng(_SEED)
        room = max(self.cap * (self.cement_g + extra) - self.inside_g.sum(), 0.0)
        high = np.floor(np.append(np.full(n, room), extra) / mark + 1e-9)
        # Half the crowd near the wanted loads, held at any amount of cement; half anywhere, mostly near nothing.
        more, held = rng.uniform(0, extra, (_CROWD, 1)), self.planned_loads * rng.uniform(0.7, 1.3, (_CROWD, n))
        near = np.hstack([held * (self.cement_g + more) - self.inside_g, more]) / mark
        near[:, :-1] += rng.uniform(-3, 3, (_CROWD, n))
        crowd = np.vstack([self.finish_g / mark, near, rng.random(near.shape) ** 3 * high])
        found = differential_evolution(
            off,  # type: ignore[arg-type]  # vectorized: the whole crowd at once
            Bounds(np.zeros(len(high)), np.maximum(high, 1e-9)),
            init=np.clip(np.round(crowd), 0, high),
            integrality=np.ones(len(high), dtype=bool),
            strategy="rand1bin",  # the crowd stays apart: doses of few marks have many hollows
            vectorized=True, updating="deferred", polish=False, maxiter=_GENERATIONS, tol=1e-3, atol=1e-3,
            mutation=(0.4, 0.9), recombination=0.8, seed=_SEED,
        )  # fmt: skip
        return np.asarray(np.round(found.x) * mark)

    def still_to_weigh(self, added_g: FloatArray) -> FrozenMapping[str, float]:
        """All that goes in from now on, by name."""
        cement = self.cement_g + added_g[-1]
        wet = cement - self.bowl.sheet.cement_g if WATER in self.bowl.inside else cement
        return self._named(added_g[:-1], cement - self.bowl.inside.get(self.bowl.sheet.base, 0.0), wet)

    def beyond_plan(self, added_g: FloatArray) -> FrozenMapping[str, float]:
        """The finished bowl minus the sheet, by name."""
        more = self.cement_g + added_g[-1] - self.bowl.sheet.cement_g
        return self._named(self.inside_g + added_g[:-1] - self.planned_g, more, more)

    def how(self, added_g: FloatArray) -> str:
        """How what is added goes in: common practice, no source."""
        if WATER not in self.bowl.inside:
            return "No water is in yet: add it dry and mix until the colour is even."
        water = self.still_to_weigh(added_g).get(WATER)
        wet = f"mix the addition apart with {water:.1f} g of water" if water else "wet it with a few drops of water"
        return f"The water is in: {wet} to a smooth paste, work it in at once. If the mix is stiffening, start again."

    def _named(self, pigments_g: FloatArray, cement_g: float, wetted_g: float) -> FrozenMapping[str, float]:
        """Grams by name, with the water for so much cement; nothing that is zero."""
        sheet = self.bowl.sheet
        water = wetted_g * sheet.water_most_g / sheet.cement_g
        grams = {**dict(zip(self.names, pigments_g.tolist(), strict=True)), sheet.base: cement_g, WATER: water}
        return FrozenMapping({name: round(g, 3) for name, g in grams.items() if abs(g) >= 0.0005})


def _words(found: Correction, palette: Palette, trouble: _Trouble, possible: bool) -> str:
    left, off = f"{found.delta_e_left:.1f}", f"{found.delta_e_corrected:.1f}"
    if found.advice == "leave it":
        return f"Leave it: {left} dE00 from the shade you wanted; corrected, {off}. Finish the sheet as it stands."
    if found.advice == "start again":
        why = f"the nearest shade that can still be reached is {off} dE00 off" if possible else "it is past the cap"
        with np.errstate(divide="ignore"):
            cement = float(np.max(trouble.inside_g / trouble.planned_loads)) - trouble.cement_g
        more = f" Holding the shade would take {cement:.0f} g more cement, with all else in proportion."
        return f"Start again: {why}.{more if np.isfinite(cement) else ''}"
    parts = [f"{grams:g} g of {palette.label(name)}" for name, grams in found.to_correct.items() if name != WATER]
    return f"Still to weigh: {', '.join(parts)}. That brings the shade from {left} to {off} dE00. {found.how}"
