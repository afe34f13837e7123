"""The recipe card: target, predicted shades, grams and cautions on one neutral picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ..errors import InputError
from ..shade import Shade
from ..states import state_words
from .canvas import FAINT, INK, SURROUND, Canvas, line_height, paragraph_height
from .chips import draw_chip
from .text import font

if TYPE_CHECKING:
    from PIL import Image

_MARGIN = 24  # pixels, as all sizes below: by eye
_CHIP = (190, 218)
_TEXT, _HEAD = 15, 17

BOWL_CAUTIONS = (
    "Wet cement is caustic and may hold chromium VI: gloves, long sleeves, eye protection; rinse skin at once.",
    "Dry cement (it may hold silica) and pigment are fine dust: P100 / FFP3 mask, no draught; wipe wet, never sweep.",
    "Follow the safety data sheets of your cement, pigments and sealer, and your local codes.",
)


def recipe_card(
    *,
    title: str,
    target: Shade,
    predicted: Mapping[str, Shade],
    cement: tuple[str, float],
    pigments: Sequence[tuple[str, float, float]],
    water_g: float | None = None,
    numbers: Sequence[tuple[str, str]] = (),
    notes: Sequence[str] = (),
    cautions: Sequence[str] = BOWL_CAUTIONS,
    photo: Image.Image | None = None,
    code: str = "",
    width: int = 1000,
) -> Image.Image:
    """A picture card of one recipe, `width` (900..1600) pixels wide and as high as it needs to be.

    predicted: shades by state, in the order to be drawn, at most four. cement: name and grams.
    pigments: (name, grams, load in g per g of dry cement). numbers: (what, value in words), such as the
    predicted dE00. photo: the marked region, drawn beside the target as it is. Raises InputError.
    """
    if not 900 <= width <= 1600:
        raise InputError(f"The card's width is {width!r}; it must be 900 to 1600 pixels.")
    if not 1 <= len(predicted) <= 4:
        raise InputError(f"A card shows one to four predicted shades; {len(predicted)} were given.")
    inner = width - 2 * _MARGIN
    said = [*(("note", note) for note in notes), *(("caution", caution) for caution in cautions)]
    rows = 2 + len(pigments) + (water_g is not None)
    body = max(rows, len(numbers) + 1) * line_height(_TEXT + 1) + 12
    foot = sum(paragraph_height(text, 13, inner - 16, 3) + 3 for _, text in said)
    chips = _CHIP[1] + 20
    height = 74 + chips + body + foot + 2 * line_height(_HEAD) + 24
    canvas = Canvas(width, int(height), SURROUND)
    canvas.text((_MARGIN, 18), title, 26, bold=True, width=inner - 220)
    canvas.text((width - _MARGIN, 24), code, _TEXT, anchor="right", width=200)
    y = 68.0
    _chips_row(canvas, y, inner, target, predicted, photo)
    y += chips
    _grams(canvas, y, inner * 0.53, cement, pigments, water_g)
    _numbers(canvas, y, _MARGIN + inner * 0.57, inner * 0.43, numbers)
    y += body + 6
    _said(canvas, y, inner, said)
    return canvas.finish()


def _chips_row(
    canvas: Canvas, y: float, inner: float, target: Shade, predicted: Mapping[str, Shade],
    photo: Image.Image | None,
) -> None:  # fmt: skip
    """The photograph, the target, then one chip for each state."""
    from PIL import ImageOps

    count = 1 + len(predicted) + (photo is not None)
    gap = 12
    width = min(_CHIP[0], (inner - gap * (count - 1)) / count)
    x = float(_MARGIN)
    if photo is not None:
        box = (round(width), _CHIP[1] - 3 * line_height(13) - 4)
        canvas.paste(ImageOps.fit(photo.convert("RGB"), box), (round(x), round(y)))
        canvas.text((x, y + box[1] + 5), "Photograph", 13, bold=True, width=width)
        x += width + gap
    for label, shade in [("Target", target), *((state_words(s).capitalize(), shade) for s, shade in predicted.items())]:
        draw_chip(canvas, (round(x), y, round(x + width), y + _CHIP[1]), label, shade)
        x += width + gap


def _grams(
    canvas: Canvas, y: float, width: float, cement: tuple[str, float],
    pigments: Sequence[tuple[str, float, float]], water_g: float | None,
) -> None:  # fmt: skip
    step, left = line_height(_TEXT + 1), float(_MARGIN)
    gram_at, load_at = left + width * 0.76, left + width
    canvas.text((left, y), "To weigh", _HEAD, bold=True)
    canvas.text((gram_at, y), "g", _HEAD, bold=True, anchor="right")
    canvas.text((load_at, y), "% of cement", 13, anchor="right", colour=FAINT)
    rows = [(cement[0], cement[1], "dry cement")]
    rows += [(name, grams, f"{load * 100:.2f} %") for name, grams, load in pigments]
    rows += [] if water_g is None else [("Water, to start with", water_g, "")]
    for i, (name, grams, load) in enumerate(rows, start=1):
        line = y + i * step + 4
        canvas.line([(left, line - 3), (load_at, line - 3)], (120, 120, 120), 0.7)
        canvas.text((left, line), name, _TEXT, width=width * 0.6)
        canvas.text((gram_at, line), gram_words(grams), _TEXT, bold=True, anchor="right")
        canvas.text((load_at, line), load, _TEXT, anchor="right")


def _numbers(canvas: Canvas, y: float, left: float, width: float, numbers: Sequence[tuple[str, str]]) -> None:
    if not numbers:
        return
    canvas.text((left, y), "How sure", _HEAD, bold=True)
    for i, (what, value) in enumerate(numbers, start=1):
        line = y + i * line_height(_TEXT + 1) + 4
        taken = min(font(_TEXT, bold=True).getlength(value) + 12, width * 0.5)
        canvas.text((left, line), what, _TEXT, width=width - taken)
        canvas.text((left + width, line), value, _TEXT, bold=True, anchor="right", width=taken)


def _said(canvas: Canvas, y: float, inner: float, said: Sequence[tuple[str, str]]) -> None:
    """Notes first, then cautions; each kind under its heading, a bar beside the cautions."""
    kind = ""
    for what, text in said:
        if what != kind:
            kind = what
            canvas.text((_MARGIN, y), "Worth knowing" if kind == "note" else "Cautions", 14, bold=True)
            y += line_height(_HEAD)
        start = y
        y = canvas.paragraph((_MARGIN + 12, y), text, 13, width=inner - 16, most_lines=3)
        if what == "caution":
            canvas.rectangle((_MARGIN, start, _MARGIN + 4, y), fill=INK)
        y += 3


def gram_words(grams: float) -> str:
    """Grams with one decimal, or as many as a finer scale needs (at most three)."""
    for digits in (1, 2):
        if abs(round(grams, digits) - grams) < 5e-7 * max(1.0, abs(grams)):
            return f"{grams:.{digits}f}"
    return f"{grams:.3f}"
