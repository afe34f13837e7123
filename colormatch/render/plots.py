"""Small plots: a tint ladder against its prediction, a drying curve, batches against their standard."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import FloatArray, finite_array
from ..colorimetry import in_srgb_gamut
from ..difference import delta_e_2000
from ..errors import InputError
from .axes import Axes, span
from .canvas import FAINT, INK, SURROUND, Canvas, Colour
from .piece import bytes_of

if TYPE_CHECKING:
    from PIL import Image

_BAND: Colour = (196, 196, 196)
_DARK: Colour = (60, 60, 60)
_NINETY = 1.645  # sd to half a 90 % interval


def ladder_picture(
    measured: ArrayLike,
    predicted: ArrayLike,
    loads: ArrayLike,
    title: str,
    *,
    curve: tuple[ArrayLike, ArrayLike] | None = None,
    measured_sd: float | None = None,
    width: int = 900,
) -> Image.Image:
    """A tint ladder: touching chips, measured above and predicted below, and L*, a*, b* against the load.

    measured, predicted: (n, 3) CIELAB; loads: (n,) g per g of dry cement, n from 1 to 12.
    curve: (loads (m,), CIELAB (m, 3)) for a smooth line through the prediction. Raises InputError.
    """
    seen = finite_array(measured, name="The measured shades", shape=(None, 3))
    model = finite_array(predicted, name="The predicted shades", shape=(len(seen), 3))
    load = finite_array(loads, name="The loads", shape=(len(seen),))
    if not 1 <= len(seen) <= 12:
        raise InputError(f"A ladder of {len(seen)} steps cannot be drawn; give 1 to 12.")
    order = np.argsort(load, kind="stable")
    seen, model, load = seen[order], model[order], load[order]
    canvas = Canvas(width, 496, SURROUND)
    canvas.text((20, 14), title, 20, bold=True, width=width - 40)
    distances = delta_e_2000(seen, model)
    words = f"Mean {distances.mean():.1f}, worst {distances.max():.1f} dE00."
    canvas.text((20, 44), f"Measured above, predicted below. {words}", 13)
    _ladder_chips(canvas, seen, model, load, distances, width)
    line = (load, model) if curve is None else (np.asarray(curve[0]), np.asarray(curve[1]))
    third, reach = (width - 40) / 3, _NINETY * (measured_sd or 0.0)
    for axis, name in enumerate(("L*", "a*", "b*")):
        left = 20 + axis * third
        bars = [seen[:, axis] - reach, seen[:, axis] + reach]
        y_range = span(np.concatenate([*bars, line[1][:, axis]]), least=4)
        field = (left + 42, 276, left + third - 14, 422)
        axes = Axes(canvas, field, (0.0, max(float(load.max()), 0.001) * 108), y_range)
        axes.frame("load, % of dry cement", name)
        axes.curve(line[0] * 100, line[1][:, axis], _DARK)
        for x, y in zip(load * 100, seen[:, axis], strict=True):
            if reach:
                axes.bar(x, y - reach, y + reach)
            canvas.dot(axes.at(x, y), 3.6)
    foot = "Dots measured, line predicted"
    canvas.text((20, 474), foot + (", bars 90 %." if measured_sd else "."), 11, colour=FAINT)
    if not in_srgb_gamut(np.concatenate([seen, model])).all():
        words = "Some are beyond what a screen can show: nearest drawn."
        canvas.text((width - 20, 474), words, 11, anchor="right")
    return canvas.finish()


def _ladder_chips(
    canvas: Canvas, seen: FloatArray, model: FloatArray, load: FloatArray, distances: FloatArray, width: int
) -> None:
    step = (width - 40) / len(load)
    size = 13 if step >= 80 else 11
    for i in range(len(load)):
        left, right = round(20 + i * step), round(20 + (i + 1) * step) - 6
        canvas.rectangle((left, 72, right, 132), fill=bytes_of(seen[i]))
        canvas.rectangle((left, 132, right, 192), fill=bytes_of(model[i]))
        canvas.text((left, 197), f"{load[i] * 100:.3g} %", size, bold=True, width=right - left)
        canvas.text((left, 215), f"{distances[i]:.1f} dE00", size, width=right - left)


def drying_picture(
    days: ArrayLike,
    weights_g: ArrayLike,
    *,
    curve: tuple[ArrayLike, ArrayLike],
    band: tuple[ArrayLike, ArrayLike] | None = None,
    plateau_g: float | None = None,
    seal_day: float | None = None,
    seal_range: tuple[float, float] | None = None,
    outliers: Sequence[int] = (),
    title: str = "Drying by weight",
    width: int = 760,
    height: int = 420,
) -> Image.Image:
    """Daily weights with the fitted curve, its 90 % band, the plateau and the day it may be sealed.

    days, weights_g: (n,). curve: (days (m,), grams (m,)). band: (low (m,), high (m,)) over the same days.
    outliers: indices of weights left out of the fit, drawn as crosses. Raises InputError.
    """
    day = finite_array(days, name="The days", shape=(None,))
    weight = finite_array(weights_g, name="The weights", shape=(len(day),))
    curve_day = finite_array(curve[0], name="The curve's days", shape=(None,))
    curve_g = finite_array(curve[1], name="The curve", shape=(len(curve_day),))
    edges = [] if band is None else [finite_array(e, name="The band", shape=(len(curve_day),)) for e in band]
    seal = [*([] if seal_day is None else [seal_day]), *(seal_range or ())]
    canvas = Canvas(width, height, SURROUND)
    canvas.text((20, 14), title, 20, bold=True, width=width - 40)
    x_range = (0.0, span([*day, *curve_day, *seal], margin=0.03)[1])
    shown = np.concatenate([weight, curve_g, [] if plateau_g is None else [plateau_g]])
    axes = Axes(canvas, (82, 84, width - 118, height - 62), x_range, span(shown, least=1.0))
    axes.frame("days since demould", "weight, g")
    if seal_range is not None:
        low, high = axes.y_range
        axes.band(seal_range, [low, low], [high, high], (210, 210, 210))
    if edges:
        axes.band(curve_day, edges[0], edges[1], _BAND)
    axes.curve(curve_day, curve_g, _DARK, 2)
    if plateau_g is not None:
        axes.level(plateau_g, FAINT, label=f"dry {plateau_g:.1f} g")
    if seal_day is not None:
        axes.upright(seal_day, INK, f"seal from day {ceil(seal_day - 1e-9)}")
    for i, (x, y) in enumerate(zip(day, weight, strict=True)):
        if i in outliers:
            canvas.cross(axes.at(x, y), 5)
        else:
            canvas.dot(axes.at(x, y), 4)
    words = "Dots weighed, line fitted" + (", grey band 90 %" if edges or seal_range else "")
    words += ", crosses left out." if len(outliers) else "."
    canvas.text((20, height - 22), words, 12, colour=INK, width=width - 200)
    return canvas.finish()


def control_picture(
    values: ArrayLike,
    *,
    limit: float,
    warning_limit: float | None = None,
    centre: float | None = None,
    names: Sequence[str] | None = None,
    chips: ArrayLike | None = None,
    standard: ArrayLike | None = None,
    first_out: int | None = None,
    title: str = "Batches against their standard",
    value_name: str = "dE00 from the standard",
    width: int = 860,
    height: int = 430,
) -> Image.Image:
    """Each batch's distance from its standard over time, with the limits and the first batch beyond them.

    values: (n,), n >= 1. limit, warning_limit: from the maker's own scatter. names: of the batches, in
    order. chips: (n, 3) CIELAB drawn above the plot, on a strip of `standard`. Raises InputError.
    """
    value = finite_array(values, name="The batches", shape=(None,))
    if value.size < 1:
        raise InputError("There is no batch to draw; give at least one.")
    canvas = Canvas(width, height, SURROUND)
    canvas.text((20, 14), title, 20, bold=True, width=width - 40)
    top = 84 if chips is None else 150
    everything = [0.0, *value, limit, *([] if warning_limit is None else [warning_limit])]
    low, high = span(everything, least=1.0)
    y_range = (0.0 if min(everything) >= 0 else low, high)
    field = (64, top, width - 84, height - 62)
    axes = Axes(canvas, field, (0.5, value.size + 0.5), y_range)
    axes.frame("batch, in the order cast", value_name, x_ticks=[])
    if chips is not None:
        _batch_chips(canvas, axes, finite_array(chips, name="The chips", shape=(value.size, 3)), standard)
    for level, words in ((limit, "limit"), (warning_limit, "warning"), (centre, "usual")):
        if level is not None:
            axes.level(level, INK if words == "limit" else FAINT, 1.6, label=words)
    axes.curve(np.arange(1, value.size + 1), value, (130, 130, 130), 1.2)
    for i, y in enumerate(value):
        at = axes.at(i + 1, y)
        canvas.dot(at, 4.2)
        if i == first_out:
            canvas.dot(at, 10, None, INK)
            late = i > value.size / 2
            beside = (at[0] + (-15 if late else 15), at[1] - 8)
            canvas.text(beside, "first beyond", 12, bold=True, anchor="right" if late else "left")
    _batch_names(canvas, axes, [str(i + 1) for i in range(value.size)] if names is None else names)
    return canvas.finish()


def _batch_chips(canvas: Canvas, axes: Axes, chips: FloatArray, standard: ArrayLike | None) -> None:
    left, _, right, _ = axes.box
    if standard is not None:
        lab = finite_array(standard, name="The standard", shape=(3,))
        canvas.rectangle((left, 50, right, 116), fill=bytes_of(lab))
    half = (right - left) / len(chips) * 0.36
    for i, lab in enumerate(chips):
        x, _ = axes.at(i + 1, 0)
        canvas.rectangle((x - half, 62, x + half, 104), fill=bytes_of(lab))


def _batch_names(canvas: Canvas, axes: Axes, names: Sequence[str]) -> None:
    room = (axes.box[2] - axes.box[0]) / len(names)
    every = max(1, int(np.ceil(34 / room)))
    for i in range(0, len(names), every):
        x, _ = axes.at(i + 1, 0)
        canvas.text((x, axes.box[3] + 7), names[i], 11, width=room * every - 4, anchor="middle")
