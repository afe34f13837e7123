"""A card for a customer: the piece drawn in its shades, and what to expect, in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ..errors import InputError
from ..shade import Shade
from ..states import state_words
from .canvas import PAPER, Canvas, line_height, paragraph_height
from .piece import bytes_of, piece_picture

if TYPE_CHECKING:
    from PIL import Image

_MARGIN, _GAP, _CHIP = 28, 16, 70  # pixels, as all sizes below: by eye
_TITLE, _TEXT, _TOP = 28, 17, 90
_WIDTH = 900


def customer_card(
    *,
    title: str,
    maker: str,
    shades: Mapping[str, Shade],
    lines: Sequence[str],
) -> Image.Image:
    """A picture for a customer, 900 pixels wide and as high as it needs to be.

    shades: by state, one to three, drawn as a piece and as a flat chip each; the same input gives the same pixels.
    title, maker: at the top; without a title nothing is.
    Raises InputError.
    """
    if not 1 <= len(shades) <= 3:
        raise InputError(f"A customer's card shows one to three states; {len(shades)} were given.")
    inner = _WIDTH - 2 * _MARGIN
    each = min((inner - _GAP * (len(shades) - 1)) // len(shades), inner // 2)
    text = sum(paragraph_height(line, _TEXT, inner) + 6 for line in lines)
    below = _CHIP + line_height(_TEXT) + 24
    top = _TOP if title else _MARGIN
    canvas = Canvas(_WIDTH, top + each + below + text + _MARGIN, PAPER)
    canvas.text((_MARGIN, 22), title, _TITLE, bold=True, width=inner)
    canvas.text((_MARGIN, 22 + line_height(_TITLE)), maker, _TEXT, width=inner)
    x, y = _MARGIN, top
    for state, shade in shades.items():
        canvas.paste(piece_picture("cup", "layered", shade.lab, state=state, size=each), (x, y))
        canvas.rectangle((x, y + each + 8, x + each, y + each + 8 + _CHIP), fill=bytes_of(shade.lab))
        canvas.text((x, y + each + _CHIP + 14), state_words(state).capitalize(), _TEXT, bold=True, width=each)
        x += each + _GAP
    y += each + below
    for line in lines:
        y = round(canvas.paragraph((_MARGIN, y), line, _TEXT, width=inner)) + 6
    return canvas.finish()
