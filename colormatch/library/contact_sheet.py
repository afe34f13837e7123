"""A picture of swatches on neutral grey: each patch in its states, with its name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..colorimetry import in_srgb_gamut, lab_to_srgb
from ..errors import LibraryError
from ..lettering import face
from .finding import Near
from .records import ShadeRecord, Swatch
from .store import Library

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

_STATES = ("demould", "wet", "dry", "sealed")
_PATCH_W, _PATCH_H, _TEXT_H, _GAP = 220, 130, 62, 16
_GROUND, _INK, _FAINT = (186, 186, 186), (20, 20, 20), (70, 70, 70)
MOST_SWATCHES = 400


def contact_sheet(library: Library, swatches: Iterable[Swatch | Near], columns: int = 4) -> Image:
    """A picture of swatches, `columns` side by side; each patch is split into the states it was seen in.

    Takes swatches, or what find_near gives, whose difference is then written beside the name. The ground is a
    neutral grey, since a coloured surround spoils judging a colour. A colour that sRGB cannot show is marked.
    Raises LibraryError for none, or more than 400.
    """
    from PIL import Image, ImageDraw

    wanted = list(swatches)
    if not 0 < len(wanted) <= MOST_SWATCHES or columns < 1:
        raise LibraryError(
            f"A contact sheet shows 1 to {MOST_SWATCHES} swatches, not {len(wanted)}. Narrow the search."
        )
    uids = [each.swatch.uid if isinstance(each, Near) else each.uid for each in wanted]
    shades: dict[str, list[ShadeRecord]] = {}
    for shade in library.list(ShadeRecord, swatch_uid=uids):
        shades.setdefault(shade.swatch_uid or "", []).append(shade)
    columns = min(columns, len(wanted))
    lines = -(-len(wanted) // columns)
    step_x, step_y = _PATCH_W + _GAP, _PATCH_H + _TEXT_H + _GAP
    picture = Image.new("RGB", (columns * step_x + _GAP, lines * step_y + _GAP), _GROUND)
    pen = ImageDraw.Draw(picture)
    for place, (each, uid) in enumerate(zip(wanted, uids, strict=True)):
        line, column = divmod(place, columns)
        _one(pen, (_GAP + column * step_x, _GAP + line * step_y), each, shades.get(uid, []))
    return picture


def _one(pen: ImageDraw, corner: tuple[int, int], found: Swatch | Near, shades: Sequence[ShadeRecord]) -> None:
    x, y = corner
    swatch = found.swatch if isinstance(found, Near) else found
    font, small, tiny = face(15, text=swatch.name), face(12), face(11)
    bottom = y + _PATCH_H
    pen.text((x, bottom + 5), _fitted(pen, swatch.name, font), fill=_INK, font=font)
    first = [f"dE00 {found.delta_e:.1f}"] if isinstance(found, Near) else []
    if swatch.made_on:
        first.append(swatch.made_on.isoformat())
    pen.text((x, bottom + 25), ", ".join(first), fill=_FAINT, font=small)
    by_state = _in_order(shades)
    if not by_state:
        pen.rectangle((x, y, x + _PATCH_W - 1, bottom - 1), outline=_FAINT)
        pen.text((x + 8, y + 8), "no shade yet", fill=_FAINT, font=small)
        return
    width = _PATCH_W / len(by_state)
    for i, shade in enumerate(by_state):
        box = (round(x + i * width), y, round(x + (i + 1) * width) - 1, bottom - 1)
        red, green, blue = (round(255 * float(part)) for part in np.clip(lab_to_srgb(shade.lab), 0, 1))
        pen.rectangle(box, fill=(red, green, blue))
        mark = "" if bool(in_srgb_gamut(shade.lab)) else " *"
        pen.text(
            (box[0], bottom + 41),
            _fitted(pen, shade.state, tiny, width - (9 if mark else 1)) + mark,
            fill=_FAINT,
            font=tiny,
        )


def _in_order(shades: Sequence[ShadeRecord]) -> list[ShadeRecord]:
    """The latest shade of each state, from demould to sealed, others after them."""
    latest = {each.state: each for each in sorted(shades, key=lambda each: (str(each.measured_on or ""), each.uid))}
    place = {state: i for i, state in enumerate(_STATES)}
    return [latest[state] for state in sorted(latest, key=lambda s: (place.get(s, len(place)), s))]


def _fitted(pen: ImageDraw, text: str, font: object, width: float = _PATCH_W) -> str:
    """As much of the text, on one line, as fits."""
    line = "".join(c if c.isprintable() else " " for c in text[:80])
    while line and pen.textlength(line, font=font) > width:  # type: ignore[arg-type]
        line = line[:-2] + "…" if len(line) > 2 else ""
    return line
