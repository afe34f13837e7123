"""A small pair of axes with plain tick values, drawn on a Canvas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np
from numpy.typing import ArrayLike

from .canvas import FAINT, INK, PAPER, RULE, Canvas, Colour, Place


@dataclass(frozen=True, slots=True)
class Axes:
    """A plotting field within `box` (left, top, right, bottom of the field itself) of a canvas."""

    canvas: Canvas
    box: tuple[float, float, float, float]
    x_range: tuple[float, float]
    y_range: tuple[float, float]

    def at(self, x: float, y: float) -> Place:
        """The place on the canvas of a value, kept within the field."""
        left, top, right, bottom = self.box
        (x0, x1), (y0, y1) = self.x_range, self.y_range
        across = min(max((x - x0) / (x1 - x0), 0.0), 1.0)
        up = min(max((y - y0) / (y1 - y0), 0.0), 1.0)
        return left + across * (right - left), bottom - up * (bottom - top)

    def frame(self, x_name: str, y_name: str, *, x_ticks: Sequence[float] | None = None) -> None:
        """Paper, rules, tick values, and the names of the axes."""
        size = 12
        left, top, right, bottom = self.box
        self.canvas.rectangle(self.box, fill=PAPER)
        for value, words in tick_values(*self.y_range):
            _, y = self.at(self.x_range[0], value)
            self.canvas.line([(left, y), (right, y)], RULE, 0.7)
            self.canvas.text((left - 6, y - size * 0.6), words, size, anchor="right")
        marks = tick_values(*self.x_range) if x_ticks is None else [(x, f"{x:g}") for x in x_ticks]
        for value, words in marks:
            x, _ = self.at(value, self.y_range[0])
            self.canvas.line([(x, bottom), (x, bottom + 4)], INK, 1)
            self.canvas.text((x, bottom + 7), words, size, anchor="middle")
        self.canvas.line([(left, top), (left, bottom), (right, bottom)], INK, 1)
        self.canvas.text((left, top - size * 1.6), y_name, size, bold=True, width=right - left)
        self.canvas.text((right, bottom + 9 + size * 1.3), x_name, size, colour=FAINT, anchor="right")

    def curve(self, x: ArrayLike, y: ArrayLike, colour: Colour = INK, width: float = 1.6) -> None:
        """A smooth line through many values."""
        pairs = zip(np.asarray(x, dtype=float), np.asarray(y, dtype=float), strict=True)
        self.canvas.line([self.at(a, b) for a, b in pairs], colour, width)

    def band(self, x: ArrayLike, low: ArrayLike, high: ArrayLike, colour: Colour) -> None:
        """The area between two curves."""
        xs, lows, highs = (np.asarray(v, dtype=float) for v in (x, low, high))
        upper = [self.at(a, b) for a, b in zip(xs, highs, strict=True)]
        lower = [self.at(a, b) for a, b in zip(xs, lows, strict=True)]
        self.canvas.polygon(upper + lower[::-1], colour)

    def bar(self, x: float, low: float, high: float, colour: Colour = INK) -> None:
        """An upright error bar."""
        (u, v), (_, w) = self.at(x, low), self.at(x, high)
        self.canvas.line([(u, v), (u, w)], colour, 1.2)

    def level(self, y: float, colour: Colour = INK, width: float = 1.2, *, label: str = "") -> None:
        """A broken level line with words to the right of the field."""
        start, end = self.at(self.x_range[0], y), self.at(self.x_range[1], y)
        self.canvas.dashes(start, end, colour, width)
        if label:
            self.canvas.text((end[0] + 6, end[1] - 8), label, 12, colour=colour)

    def upright(self, x: float, colour: Colour = INK, label: str = "") -> None:
        """A broken upright line with words at its head."""
        low, high = self.at(x, self.y_range[0]), self.at(x, self.y_range[1])
        self.canvas.dashes(low, high, colour, 1.4)
        if label:
            right = high[0] > (self.box[0] + self.box[2]) / 2
            beside = -5 if right else 5
            self.canvas.text(
                (high[0] + beside, high[1] + 4), label, 12, colour=colour, anchor="right" if right else "left"
            )


def tick_values(low: float, high: float, count: int = 5) -> list[tuple[float, str]]:
    """Round values between low and high with their words, about `count` of them."""
    step = _round_step((high - low) / count)
    digits = max(0, -floor(log10(step) + 1e-9))
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [(i * step, f"{i * step + 0.0:.{digits}f}") for i in range(first, last + 1)]


def span(values: ArrayLike, *, margin: float = 0.08, least: float = 1.0) -> tuple[float, float]:
    """A range that holds all finite values, with a margin, at least `least` wide."""
    array = np.asarray(values, dtype=float).ravel()
    array = array[np.isfinite(array)]
    low, high = (float(array.min()), float(array.max())) if array.size else (0.0, 1.0)
    if high - low < least:
        middle = (low + high) / 2
        low, high = middle - least / 2, middle + least / 2
    room = margin * (high - low)
    return low - room, high + room


def _round_step(rough: float) -> float:
    power = 10.0 ** floor(log10(max(rough, 1e-12)))
    for factor in (1, 2, 5):
        if rough <= factor * power * (1 + 1e-9):
            return float(factor * power)
    return 10 * power
