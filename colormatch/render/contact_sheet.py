"""A picture of swatches: each one a patch in its states, with its name, on a neutral surround."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ..colorimetry import in_srgb_gamut
from ..errors import LibraryError
from ..library import Library, Near, ShadeRecord, Swatch
from ..saying import capital
from ..states import in_order, state_words
from ..studio import when_measured
from .canvas import FAINT, Canvas
from .piece import bytes_of

if TYPE_CHECKING:
    from PIL import Image

_WIDTH, _HEIGHT, _TEXT, _GAP = 304, 130, 74, 16  # pixels, as all sizes below: by eye
MOST_SWATCHES = 400  # on one picture: about 1 300 x 22 000 pixels


def contact_sheet(library: Library, swatches: Iterable[Swatch | Near], columns: int = 4) -> Image.Image:
    """A picture of swatches, `columns` side by side; each patch is split into the states it was seen in.

    Takes swatches, or what find_near gives, whose difference is then written beside the name. A colour that a screen
    cannot show is marked with a star. Raises LibraryError for none, or more than 400.
    """
    found = [(each.swatch, each.delta_e) if isinstance(each, Near) else (each, None) for each in swatches]
    if not 0 < len(found) <= MOST_SWATCHES or columns < 1:
        raise LibraryError(f"A contact sheet shows 1 to {MOST_SWATCHES} swatches, not {len(found)}. Narrow the search.")
    shades: dict[str, list[ShadeRecord]] = {}
    for shade in library.list(ShadeRecord, swatch_uid=[swatch.uid for swatch, _ in found]):
        shades.setdefault(shade.swatch_uid or "", []).append(shade)
    columns = min(columns, len(found))
    across, down = _WIDTH + _GAP, _HEIGHT + _TEXT + _GAP
    canvas = Canvas(columns * across + _GAP, -(-len(found) // columns) * down + _GAP)
    for place, (swatch, delta_e) in enumerate(found):
        line, column = divmod(place, columns)
        left, top = _GAP + column * across, _GAP + line * down
        _patches(canvas, left, top, _in_order(shades.get(swatch.uid, [])))
        canvas.text((left, top + _HEIGHT + 4), swatch.name, 15, bold=True, width=_WIDTH)
        words = [
            f"dE00 {delta_e:.1f}" if delta_e is not None else "",
            f"{swatch.made_on:%d.%m.%Y}" if swatch.made_on else "",
        ]
        canvas.text((left, top + _HEIGHT + 25), ", ".join(filter(None, words)), 12, width=_WIDTH)
    return canvas.finish()


def _patches(canvas: Canvas, left: int, top: int, shades: Sequence[ShadeRecord]) -> None:
    if not shades:
        canvas.text((left, top + 8), "no shade yet", 12)
        return
    width = _WIDTH / len(shades)
    for place, shade in enumerate(shades):
        x = left + round(place * width)
        canvas.chip((x, top, left + round((place + 1) * width), top + _HEIGHT), bytes_of(shade.lab))
        star = "" if in_srgb_gamut(shade.lab) else "* "
        words = star + capital(state_words(shade.state))
        canvas.paragraph((x, top + _HEIGHT + 42), words, 11, colour=FAINT, width=width - 8, most_lines=2)


def _in_order(shades: Sequence[ShadeRecord]) -> list[ShadeRecord]:
    """The latest shade of each state, from demould to sealed, others after them."""
    latest = {each.state: each for each in sorted(shades, key=when_measured)}
    return [latest[state] for state in in_order(latest)]
