"""Flat chips of shades with their numbers below them."""

from __future__ import annotations

from ..colorimetry import in_srgb_gamut, lab_to_hex
from ..shade import Shade
from .canvas import FAINT, Canvas, line_height
from .piece import NOT_ON_SCREEN, bytes_of
from .text import font


def lab_words(shade: Shade, width: float, size: int) -> str:
    """`L* 61.2, a* 13.5, b* 6.1`, or `Lab 61.2, 13.5, 6.1` where that is wider than `width` pixels."""
    lightness, a, b = (0.0 if abs(v) < 0.05 else v for v in shade.lab)
    words = f"L* {lightness:.1f}, a* {a:.1f}, b* {b:.1f}"
    if font(size).getlength(words) <= width - 2:
        return words
    return f"Lab {lightness:.1f}, {a:.1f}, {b:.1f}"


_TEXT = 13  # pixels, by eye


def draw_chip(canvas: Canvas, box: tuple[float, float, float, float], label: str, shade: Shade) -> None:
    """One flat chip with its label and numbers below, within `box` (left, top, right, bottom)."""
    left, top, right, bottom = box
    step, width = line_height(_TEXT), right - left
    on_screen = bool(in_srgb_gamut(shade.lab))
    below = bottom - (3 if on_screen else 5) * step - 4
    canvas.chip((left, top, right, below), bytes_of(shade.lab))
    y = below + 5
    canvas.text((left, y), label, _TEXT, bold=True, width=width)
    canvas.text((left, y + step), lab_words(shade, width, _TEXT), _TEXT, width=width)
    sure = f"sd {shade.sd:.1f}" if shade.sd > 0 else "taken as exact"
    canvas.text((left, y + 2 * step), f"{sure}, {lab_to_hex(shade.lab)}", _TEXT, colour=FAINT, width=width)
    if not on_screen:
        canvas.paragraph((left, y + 3 * step), NOT_ON_SCREEN, _TEXT - 1, width=width, most_lines=2)
