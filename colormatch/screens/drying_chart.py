"""The drying of one piece as a chart: what was weighed, the curve it predicts, and when it is likely ready."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt
import numpy as np

from colormatch.bench.drying import Drying, days_words
from colormatch.screens.plots import rows

_INK, _SOFT, _BAND, _READY = "#1d1d1b", "#5c5c58", "#bdbdba", "#dcdcd8"
_FARTHEST = 30.0  # days shown after the last weight


def drying_chart(drying: Drying, days: Sequence[float], grams: Sequence[float]) -> Any:
    """An altair chart, to be shown with `chart_words`; days (n,) since the first weight, grams (n,).

    The scale follows the weights that count: one that contradicts them is drawn as a cross at the edge it lies
    beyond, with its grams beside it, and flattens nothing.
    """
    end = float(max(days[-1] * 1.4, min(1.25 * drying.seal_day[1], days[-1] + _FARTHEST), days[-1] + 3.0))
    along = np.linspace(0.0, end, 120)
    band = drying.mass_band(along)
    low, high = _weights_shown(drying, grams, band[:, 1])
    x = alt.X("day:Q", title="days since the first weight", scale=alt.Scale(domain=[0, end], nice=False))
    scale = alt.Scale(domain=[low, high], nice=False, zero=False)
    y = alt.Y("grams:Q", title="weight, g", scale=scale)
    edge = alt.Y("low:Q", title="weight, g", scale=scale)
    curve = [
        {"day": float(day), "low": max(float(g[0]), low), "grams": float(g[1]), "high": min(float(g[2]), high)}
        for day, g in zip(along, band, strict=True)
    ]
    ready = [{"day": min(drying.seal_day[0], end), "until": min(drying.seal_day[2], end)}]
    layers: list[Any] = []
    if drying.seal_day[0] < end:
        layers.append(alt.Chart(rows(ready)).mark_rect(color=_READY).encode(x=x, x2=alt.X2("until:Q")))
    base = alt.Chart(rows([row for row in curve if row["low"] <= row["high"]]))
    layers.append(base.mark_area(color=_BAND, opacity=0.8).encode(x=x, y=edge, y2=alt.Y2("high:Q")))
    layers.append(alt.Chart(rows(curve)).mark_line(color=_SOFT, clip=True).encode(x=x, y=y))
    counted = [
        {"day": float(days[place]), "grams": float(grams[place])}
        for place in range(len(days))
        if place not in drying.outliers
    ]
    tips = [alt.Tooltip("day:Q", format=".1f"), alt.Tooltip("grams:Q", format=".1f", title="g")]
    layers.append(alt.Chart(rows(counted)).mark_point(color=_INK, filled=True, size=70).encode(x=x, y=y, tooltip=tips))
    inside = (low + 0.05 * (high - low), high - 0.05 * (high - low))  # a cross at the very edge would be cut
    apart = [
        {"day": days[place], "grams": float(np.clip(grams[place], *inside)), "words": f"{grams[place]:g} g, left out"}
        for place in drying.outliers
    ]
    if apart:
        crosses = alt.Chart(rows(apart)).encode(x=x, y=y)
        layers.append(crosses.mark_point(shape="cross", angle=45, color=_INK, filled=True, size=90))
        left = days[drying.outliers[-1]] < end / 2
        named = crosses.mark_text(align="left" if left else "right", dx=10 if left else -10, color=_INK)
        layers.append(named.encode(text=alt.Text("words:N")))
    return alt.layer(*layers)


def chart_words(drying: Drying, days: Sequence[float], grams: Sequence[float]) -> str:
    """The chart in words."""
    counted = [place for place in range(len(days)) if place not in drying.outliers]
    first, last = counted[0], counted[-1]
    words = f"Weight of the piece: {grams[first]:g} g at first"
    if last != first:
        words += f", {grams[last]:g} g after {days[last] - days[first]:.0f} days"
    words += f"; dry it is likely to weigh {drying.plateau_g[0]:.1f} to {drying.plateau_g[2]:.1f} g."
    if np.isfinite(drying.seal_day[2]):
        words += f" Likely ready to seal on day {days_words(drying.seal_day[0], drying.seal_day[2])}."
    left_out = ", ".join(f"{grams[place]:g} g on day {days[place]:.0f}" for place in drying.outliers)
    return words + (f" Left out: {left_out}." if left_out else "")


def _weights_shown(drying: Drying, grams: Sequence[float], curve: Any) -> tuple[float, float]:
    """The range of weights drawn: those that count, the curve, and where it ends."""
    counted = [g for place, g in enumerate(grams) if place not in drying.outliers]
    low, high = min(*counted, float(curve.min()), drying.plateau_g[1]), max(*counted, float(curve[0]))
    margin = max(0.08 * (high - low), 0.5)
    return low - margin, high + margin
