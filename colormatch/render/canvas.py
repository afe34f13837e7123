"""A neutral sheet to draw on: lines, letters and flat colours, at three times the size and then brought down.

Flat areas lie on whole pixels, so a colour on the sheet is exactly the colour it shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from .text import clean, font, shorten, wrap

if TYPE_CHECKING:
    from PIL import Image

Colour = tuple[int, int, int]
Place = tuple[float, float]
Anchor = Literal["left", "middle", "right"]

SURROUND: Colour = (145, 145, 145)  # CIELAB 60, 0, 0
PAPER: Colour = (226, 226, 226)  # CIELAB 90, 0, 0
INK: Colour = (17, 17, 17)
FAINT: Colour = (38, 38, 38)  # 4.8 : 1 on SURROUND; WCAG 2.2 asks for 4.5 : 1
_OVER = 3  # drawn so much larger and made smaller, for smooth edges; by eye


class Canvas:
    """Coordinates are pixels of the finished picture, y downwards."""

    def __init__(self, width: int, height: int, background: Colour = SURROUND) -> None:
        from PIL import Image, ImageDraw

        self.width, self.height = int(width), int(height)
        self._large = Image.new("RGB", (self.width * _OVER, self.height * _OVER), background)
        self._draw = ImageDraw.Draw(self._large)
        self._pasted: list[tuple[Image.Image, tuple[int, int]]] = []

    def rectangle(self, box: Sequence[float], fill: Colour) -> None:
        """box: left, top, right, bottom; right and bottom are left out."""
        x0, y0, x1, y1 = (round(value) * _OVER for value in box)
        self._draw.rectangle((x0, y0, x1 - 1, y1 - 1), fill=fill)

    def chip(self, box: Sequence[float], fill: Colour) -> None:
        """A flat colour; with a hairline round it where it would be lost on the surround."""
        if max(abs(a - b) for a, b in zip(fill, SURROUND, strict=True)) < 12:
            left, top, right, bottom = box
            self.rectangle((left - 1, top - 1, right + 1, bottom + 1), INK)
        self.rectangle(box, fill)

    def line(self, points: Sequence[Place], colour: Colour = INK, width: float = 1.0) -> None:
        """A polyline."""
        scaled = [(x * _OVER, y * _OVER) for x, y in points]
        self._draw.line(scaled, fill=colour, width=max(1, round(width * _OVER)), joint="curve")

    def text(
        self, at: Place, text: object, size: int = 14, *, bold: bool = False, colour: Colour = INK,
        width: float | None = None, anchor: Anchor = "left", part_of: object = None,
    ) -> None:  # fmt: skip
        """One line with its top at `at`, cut with an ellipsis at `width` pixels; in the typeface of `part_of`."""
        face = font(size * _OVER, bold, text if part_of is None else part_of)
        line = clean(text) if width is None else shorten(str(text), width * _OVER, face)
        where = (at[0] * _OVER, at[1] * _OVER)
        side = {"left": "la", "middle": "ma", "right": "ra"}[anchor]
        self._draw.text(where, line, font=face, fill=colour, anchor=side)

    def paragraph(
        self, at: Place, text: object, size: int = 14, *, width: float, most_lines: int = 4, colour: Colour = INK
    ) -> float:
        """Wrapped lines from `at` downwards; returns the y below the last one."""
        y = at[1]
        for line in wrap(str(text), width * _OVER, font(size * _OVER, text=text), most_lines):
            self.text((at[0], y), line, size, part_of=text, colour=colour)
            y += line_height(size)
        return y

    def paste(self, picture: Image.Image, at: tuple[int, int]) -> None:
        """A finished picture, put down pixel for pixel and on top of everything drawn."""
        self._pasted.append((picture, at))

    def finish(self) -> Image.Image:
        """The picture, as RGB."""
        picture = self._large.reduce(_OVER)
        for other, at in self._pasted:
            picture.paste(other, at)
        return picture


def line_height(size: int) -> int:
    """Distance from one line of letters to the next."""
    return round(size * 1.35)


def paragraph_height(text: object, size: int, width: float, most_lines: int = 4) -> int:
    """What `Canvas.paragraph` will take."""
    return len(wrap(str(text), width * _OVER, font(size * _OVER, text=text), most_lines)) * line_height(size)
