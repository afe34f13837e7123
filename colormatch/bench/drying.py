"""Following a piece by its weight until it may be sealed.

Not by one day's loss: with a time constant of ten days, 9.5 times the last day's loss is still to go. The
rule here is the PREDICTED remainder, with its uncertainty, against a stated share of the dry mass and against
what the scale can show. The remainder is the water that would still leave in this room: a piece in balance
with the room is not oven-dry.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from ..arrays import FloatArray, finite_array, number_between, scale_step
from ..errors import InputError
from ..loads import per_cent
from ..palette import Palette
from ..shade import Shade
from .drying_curves import Curves, draw_curves

Verdict = Literal["seal", "drying", "cannot tell"]
Band = tuple[float, float, float]  # 5 %, 50 %, 95 %

STATED_REMAINDER = 0.003  # share of the dry mass; common practice, no source
LEAST_STEPS = 3  # a remainder of fewer steps than this cannot be seen on the scale
CERTAINTY = 0.99  # 0.98 was just not enough where the drying follows none of the shapes exactly
FEWEST_WEIGHTS = 4  # a curve of three numbers and one weight to hold it against
_OUTLIER_Z = 4.5  # sd; about one good weight in 150,000 is as far off
_MOST_WATER = 0.2  # of the weight: water at 4 : 1 is a fifth of the mix, so no weight of the piece is further off
_SUSPECTS = 5  # weights tried, the furthest off first: a gross one bends the curve away from its neighbours
_BAND = (0.05, 0.5, 0.95)  # the ends and the middle of a 90 % interval


@dataclass(frozen=True, slots=True, eq=False)
class Drying:
    """Where a piece stands. Days count from the first weight; bands are (5 %, 50 %, 95 %).

    remaining_g: what is still to go today. seal_day: when no more than the stated remainder will be left.
    outliers: indices of weights left out. curves: all that could be.
    """

    verdict: Verdict
    words: str
    today: float
    remaining_g: Band
    seal_day: Band
    plateau_g: Band
    outliers: tuple[int, ...]
    curves: Curves

    def saturation(self, day: float) -> Band:
        """Degree of saturation on a day: share of the water of the first weight still to go."""
        return _band(self.curves.courses.share(np.array([max(day, 0.0)]))[:, 0])

    def mass_band(self, days: ArrayLike) -> FloatArray:
        """(n, 3) mass in g on each day, for the chart."""
        mass = self.curves.mass(np.asarray(days, dtype=np.float64))
        return np.asarray(np.quantile(mass, _BAND, axis=0).T)

    def seal_dates(self, first_weighed: date) -> tuple[date, date, date]:
        """The band of the seal day as dates, each rounded up to a whole day."""
        early, middle, late = (first_weighed + timedelta(days=math.ceil(day)) for day in self.seal_day)
        return early, middle, late

    def shade(self, palette: Palette, loads: Mapping[str, float], base: str, day: float) -> Shade:
        """The shade to expect on a day on the way, with the uncertainty of the saturation added."""
        low, middle, high = self.saturation(day)
        shade = palette.predict_drying(loads, base, middle)
        ends = [palette.predict_drying(loads, base, s).lab for s in (low, high)]
        swing = (ends[1] - ends[0])[:, None] / (2 * ndtri(_BAND[-1]))
        return shade.widened(swing @ swing.T)


def follow_drying(
    days: Sequence[float],
    grams: Sequence[float],
    *,
    scale_step_g: float = 0.1,
    remainder: float = STATED_REMAINDER,
    today: float | None = None,
) -> Drying:
    """Judge a piece by its weights: days since demould (rising), grams; one weight is enough to start.

    remainder: the share of the dry mass that may be left when sealing, 0.0005 to 0.05. today: the day asked
    about, at or after the last weight. Raises InputError for weights that cannot be used.
    """
    t, y = _weights(days, grams)
    step = scale_step(scale_step_g)
    remainder = number_between(remainder, name="The stated remainder", low=0.0005, high=0.05)
    now = (
        float(t[-1])
        if today is None
        else number_between(today, name="Today", low=float(t[-1]), high=float(t[-1]) + 365, unit="days")
    )
    kept, curves = _without_outliers(t, y, step)
    left = curves.remaining(np.array([now - t[0]]))[:, 0]
    until = curves.days_until(remainder)
    seal_day = _band(until)
    limit = remainder * float(np.median(curves.plateau_g))
    chance = float(np.mean(until <= now - t[0]))
    rise = float(y[kept][-1] - y[kept].min())
    if rise > max(LEAST_STEPS * step, limit):
        verdict, words = _about_rise(rise)
    else:
        verdict, words = _judge(len(kept), chance, _band(left), seal_day, now - float(t[0]), limit, step, remainder)
    outliers = tuple(i for i in range(len(t)) if i not in kept)
    return Drying(
        verdict=verdict,
        words=words + _about_outliers(t, y, outliers),
        today=now,
        remaining_g=_band(left),
        seal_day=seal_day,
        plateau_g=_band(curves.plateau_g),
        outliers=outliers,
        curves=curves,
    )


def _judge(
    count: int, chance: float, left: Band, seal: Band, now: float, limit: float, step: float, remainder: float
) -> tuple[Verdict, str]:
    allowed = f"{limit:.1f} g ({100 * remainder:.1f} % of the dry piece)"
    if limit < LEAST_STEPS * step:
        finer = limit / LEAST_STEPS
        return "cannot tell", (
            f"The scale cannot tell: {allowed} may be left, and the scale shows steps of {step:g} g. "
            f"Use a scale with steps of {finer:.2g} g or finer, or weigh several pieces together."
        )
    to_go = f"Still to go: about {left[1]:.1f} g ({left[0]:.1f} to {left[2]:.1f} g); {allowed} may be left"
    if count < FEWEST_WEIGHTS:
        return (
            "cannot tell",
            f"{to_go}. Too few weights to say when ({count} of {FEWEST_WEIGHTS}): weigh again tomorrow.",
        )
    if chance >= CERTAINTY:
        return "seal", f"{to_go}. It may be sealed. Try the sealer on the foot or a test tile first."
    if seal[2] - seal[0] > max(3.0, 0.75 * seal[1]):  # days: too vague to plan by; a judgement
        return "cannot tell", (
            f"{to_go}. The day is not known yet: anywhere from day {math.ceil(seal[0])} to day "
            f"{math.ceil(seal[2])} after the first weight. Keep weighing once a day."
        )
    if seal[1] <= now:
        return "drying", f"{to_go}. Probably there, but not surely ({per_cent(chance, 0)}): weigh once more tomorrow."
    return "drying", (
        f"{to_go}. It may be sealed about day {math.ceil(seal[1])} after the first weight "
        f"(day {days_words(seal[0], seal[2])})."
    )


def days_words(first: float, last: float) -> str:
    """`3 to 5`, or `4`."""
    early, late = math.ceil(first), math.ceil(last)
    return f"{early} to {late}" if early < late else f"{late}"


def _about_rise(rise: float) -> tuple[Verdict, str]:
    return "cannot tell", (
        f"The piece has gained {rise:.1f} g since its lightest weight; a drying piece only loses. Check the order "
        "of the weights, the entry and the scale, and whether it got wet or stands in damp air; then weigh on."
    )


def _without_outliers(t: FloatArray, y: FloatArray, step: float) -> tuple[list[int], Curves]:
    """The weights kept and their curves; a weight the others cannot explain goes, first the one
    without which they agree best."""
    usual = float(np.median(y))
    kept = [i for i in range(len(t)) if len(t) < 3 or abs(y[i] - usual) <= _MOST_WATER * usual]
    curves = draw_curves(t[kept] - t[0], y[kept], step)
    for _ in range(len(t) // 4):
        if len(kept) < 5:
            break
        off = np.abs(np.median(curves.mass(t[kept] - t[0]), axis=0) - y[kept])
        best: tuple[float, int, Curves] | None = None
        for place in [p for p in np.argsort(-off)[:_SUSPECTS] if off[p] > step]:
            others = [i for i in kept if i != kept[place]]
            without = draw_curves(t[others] - t[0], y[others], step)
            if _miss(without, float(t[kept[place]] - t[0]), float(y[kept[place]]), step) > _OUTLIER_Z:
                rest = float(np.abs(np.median(without.mass(t[others] - t[0]), axis=0) - y[others]).max())
                if best is None or rest < best[0]:  # not the largest miss: beside a gross one the good ones miss too
                    best = (rest, kept[place], without)
        if best is None:
            break
        kept.remove(best[1])
        curves = best[2]
    return kept, curves


def _miss(curves: Curves, day: float, grams: float, step: float) -> float:
    """How many sd a weight lies from where the others say; under three steps of the scale never counts."""
    mass = curves.mass(np.array([day]))[:, 0]
    distance = abs(grams - float(np.median(mass)))
    if distance <= LEAST_STEPS * step:
        return 0.0
    return float(distance / math.sqrt(mass.var() + np.mean(curves.scatter_g**2)))


def _about_outliers(t: FloatArray, y: FloatArray, outliers: tuple[int, ...]) -> str:
    if not outliers:
        return ""
    named = ", ".join(f"{y[i]:g} g on day {t[i]:g}" for i in outliers)
    return f" Left out, because the other weights contradict it: {named}. Check the scale and the entry."


def _weights(days: ArrayLike, grams: ArrayLike) -> tuple[FloatArray, FloatArray]:
    t = finite_array(days, name="The days", shape=(None,))
    y = finite_array(grams, name="The weights", shape=(len(t),))
    if not len(t):
        raise InputError("There is no weight yet; weigh the piece when it leaves the mould.")
    if len(t) > 1 and np.diff(t).min() <= 0:
        raise InputError("The days must rise from one weight to the next; put the weights in order of time.")
    if y.size and y.min() <= 0:
        raise InputError(f"A weight of {y.min():g} g cannot be; enter what the scale shows, in g.")
    return t, y


def _band(values: FloatArray) -> Band:
    low, middle, high = np.quantile(values, _BAND)
    return float(low), float(middle), float(high)
