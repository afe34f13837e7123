"""What her jars reach, as a plot: at one lightness every chroma and hue in its own colour, the wanted shade a cross."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import streamlit as st
from numpy.typing import ArrayLike

from colormatch.arrays import FloatArray
from colormatch.colorimetry import lab_to_hexes
from colormatch.recipes import Reach, ReachSlice
from colormatch.screens.blocks import small
from colormatch.screens.plots import INK, rows, show_plot
from colormatch.screens.state import kept
from colormatch.shade import Shade

_CELLS = 40  # along each side of the plot


def show_reach(reach: Reach, wanted: Shade) -> None:
    """One slice of equal lightness, at first that of the wanted shade; another by a tap."""
    slices = {one.lightness: one for one in reach.slices if len(one.outline)}
    low, high = reach.lightness_range
    small(f"From L* {low:.0f}, the darkest, to L* {high:.0f}, the lightest.")
    if not slices:
        return
    nearest = min(slices, key=lambda lightness: abs(lightness - wanted.lab[0]))
    chosen = st.segmented_control(
        "Lightness L*", list(slices), default=nearest, format_func=lambda each: f"{each:g}",
        key=kept(f"match.reach.{nearest:g}"), required=True,
    )  # fmt: skip
    one = slices[chosen or nearest]
    show_plot(_chart(one, wanted), _words(one, wanted), height_px=300)


def _chart(one: ReachSlice, wanted: Shade) -> Any:
    corners = np.vstack([one.outline, wanted.lab[None, 1:]])
    low, high = np.floor(corners.min(axis=0) / 5) * 5 - 5, np.ceil(corners.max(axis=0) / 5) * 5 + 5
    x = alt.X("a:Q", title="a*: redder to the right", scale=alt.Scale(domain=[low[0], high[0]], nice=False))
    y = alt.Y("b*:Q", title="b*: yellower upwards", scale=alt.Scale(domain=[low[1], high[1]], nice=False))
    step = (high - low) / _CELLS
    middles = low + step * (np.indices((_CELLS, _CELLS)).reshape(2, -1).T + 0.5)
    reached = middles[_inside(one.outline, middles)]
    colours = lab_to_hexes(np.column_stack([np.full(len(reached), one.lightness), reached]))
    cells = [
        {"a": a - step[0] / 2, "to_a": a + step[0] / 2, "b*": b - step[1] / 2, "to_b": b + step[1] / 2, "colour": seen}
        for (a, b), seen in zip(reached, colours, strict=True)
    ]
    colour = alt.Color("colour:N", scale=None)
    field = alt.Chart(rows(cells)).mark_rect().encode(x=x, x2=alt.X2("to_a:Q"), y=y, y2=alt.Y2("to_b:Q"), color=colour)
    rim = [{"a": float(a), "b*": float(b), "at": i} for i, (a, b) in enumerate([*one.outline, one.outline[0]])]
    edge = alt.Chart(rows(rim)).mark_line(color=INK, strokeWidth=1).encode(x=x, y=y, order=alt.Order("at:Q"))
    at = alt.Chart(rows([{"a": float(wanted.lab[1]), "b*": float(wanted.lab[2])}])).encode(x=x, y=y)
    halo = at.mark_point(shape="cross", angle=45, color="white", filled=True, size=220)
    return alt.layer(field, edge, halo, at.mark_point(shape="cross", angle=45, color=INK, filled=True, size=110))


def _inside(outline: FloatArray, points: ArrayLike) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Whether a convex outline (n, 2) holds each point (..., 2): it is on the same side of every edge."""
    edges, there = np.roll(outline, -1, axis=0) - outline, np.asarray(points)[..., None, :] - outline
    side = edges[:, 0] * there[..., 1] - edges[:, 1] * there[..., 0]
    return np.asarray((side >= 0).all(axis=-1) | (side <= 0).all(axis=-1), dtype=np.bool_)


def _words(one: ReachSlice, wanted: Shade) -> str:
    (a_low, b_low), (a_high, b_high) = one.outline.min(axis=0), one.outline.max(axis=0)
    where = "inside" if _inside(one.outline, (wanted.lab[1], wanted.lab[2])) else "outside"
    return (
        f"At L* {one.lightness:g} these jars reach a* from {a_low:.0f} to {a_high:.0f} and b* from {b_low:.0f} to "
        f"{b_high:.0f}. The wanted shade, a* {wanted.lab[1]:.0f} and b* {wanted.lab[2]:.0f} at L* "
        f"{wanted.lab[0]:.0f}, lies {where} of what they reach at this lightness."
    )
