"""Flat chips of shades with their numbers beside them, and a piece in its states side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ..colorimetry import in_srgb_gamut, lab_to_hex
from ..errors import InputError
from ..shade import Shade
from .canvas import FAINT, SURROUND, Canvas, line_height
from .piece import NOT_ON_SCREEN, bytes_of, piece_picture
from .text import font

if TYPE_CHECKING:
    from PIL import Image

STATE_WORDS = {"wet": "Wet", "demould": "At demould", "dry": "Dry", "sealed": "Sealed"}
_MARGIN = 14  # pixels, as all sizes below: by eye


def lab_words(shade: Shade, width: float, size: int) -> str:
    """`L* 61.2, a* 13.5, b* 6.1`, or `Lab 61.2, 13.5, 6.1` where that is wider than `width` pixels."""
    lightness, a, b = (0.0 if abs(v) < 0.05 else v for v in shade.lab)
    words = f"L* {lightness:.1f}, a* {a:.1f}, b* {b:.1f}"
    if font(size).getlength(words) <= width - 2:
        return words
    return f"Lab {lightness:.1f}, {a:.1f}, {b:.1f}"


def doubt_words(shade: Shade) -> str:
    """`sd 1.3`, or that it is taken as exact."""
    return f"sd {shade.sd:.1f}" if shade.sd > 0 else "taken as exact"


def state_word(state: str) -> str:
    """The state as a heading: `sealed:wax` is `Sealed with wax`."""
    kind, _, name = state.partition(":")
    word = STATE_WORDS.get(kind, kind)
    return f"{word} with {name}" if name else word


def draw_chip(canvas: Canvas, box: tuple[float, float, float, float], label: str, shade: Shade, size: int = 13) -> None:
    """One flat chip with its label and numbers below, within `box` (left, top, right, bottom)."""
    left, top, right, bottom = box
    step, width = line_height(size), right - left
    on_screen = bool(in_srgb_gamut(shade.lab))
    below = bottom - (3 if on_screen else 5) * step - 4
    canvas.chip((left, top, right, below), bytes_of(shade.lab))
    y = below + 5
    canvas.text((left, y), label, size, bold=True, width=width)
    canvas.text((left, y + step), lab_words(shade, width, size), size, width=width)
    note = f"{doubt_words(shade)}, {lab_to_hex(shade.lab)}"
    canvas.text((left, y + 2 * step), note, size, colour=FAINT, width=width)
    if not on_screen:
        canvas.paragraph((left, y + 3 * step), NOT_ON_SCREEN, size - 1, width=width, most_lines=2)


def shade_chips(
    shades: Sequence[tuple[str, Shade]], *, columns: int = 4, width: int = 180, height: int = 190
) -> Image.Image:
    """Chips of named shades in rows on neutral grey, each `width` x `height` pixels with its numbers.

    Colours outside the screen's gamut carry words that say so. Raises InputError when there are none.
    """
    if not shades:
        raise InputError("There are no shades to draw; give at least one.")
    columns = min(columns, len(shades))
    rows = -(-len(shades) // columns)
    step_x, step_y = width + _MARGIN, height + _MARGIN
    canvas = Canvas(columns * step_x + _MARGIN, rows * step_y + _MARGIN, SURROUND)
    for i, (label, shade) in enumerate(shades):
        left, top = _MARGIN + i % columns * step_x, _MARGIN + i // columns * step_y
        draw_chip(canvas, (left, top, left + width, top + height), label, shade)
    return canvas.finish()


def state_strip(
    form: str,
    pattern: str,
    one: Mapping[str, Shade],
    two: Mapping[str, Shade] | None = None,
    *,
    share_two: float = 0.5,
    seed: int = 1,
    size: int = 300,
    names: tuple[str, str] = ("first tone", "second tone"),
) -> Image.Image:
    """The same piece in each state of `one` (wet or demould, dry, sealed), side by side, with its numbers.

    one, two: the predicted shades by state; `two` must have the states of `one`. Raises InputError.
    """
    if not one or (two is not None and set(two) != set(one)):
        raise InputError("Both tones need a predicted shade in the same states, at least one.")
    tones = [one] if two is None else [one, two]
    text = 13 if size >= 240 else 11
    block = 2 * line_height(text) + (line_height(text) if len(tones) == 2 else 0)
    height = size + 34 + len(tones) * block + _MARGIN
    canvas = Canvas(len(one) * size, int(height), SURROUND)
    for i, state in enumerate(one):
        shown = piece_picture(
            form, pattern, one[state].lab, None if two is None else two[state].lab,
            state=state, share_two=share_two, seed=seed, size=size,
        )  # fmt: skip
        left, width = i * size + _MARGIN, size - 1.5 * _MARGIN
        canvas.paste(shown, (i * size, 30))
        canvas.text((left, 9), state_word(state), text + 3, bold=True, width=width)
        y = size + 34.0
        for name, tone in zip(names, tones, strict=False):
            if len(tones) == 2:
                canvas.text((left, y), name, text, bold=True, width=width)
                y += line_height(text)
            canvas.text((left, y), lab_words(tone[state], width, text), text, width=width)
            y += line_height(text)
            on_screen = bool(in_srgb_gamut(tone[state].lab))
            note = doubt_words(tone[state]) if on_screen else NOT_ON_SCREEN
            canvas.text((left, y), note, text if on_screen else text - 1, colour=FAINT, width=width)
            y += line_height(text)
    return canvas.finish()
