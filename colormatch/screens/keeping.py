"""What a page keeps in the library beside what the workshop does: photographs, measured shades, tags."""

from __future__ import annotations

from datetime import date
from typing import Any

from colormatch.arrays import FloatArray
from colormatch.errors import InputError
from colormatch.library import ShadeRecord, Swatch
from colormatch.screens.state import Upload, in_hand
from colormatch.screens.studios import library
from colormatch.shade import Shade
from colormatch.studio import MEASURED, now_kept
from colormatch.workshop.materials import distinct, named


def tags_of(text: str) -> tuple[str, ...]:
    """Tags separated by commas."""
    return tuple(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))


def noted_of(place: str) -> dict[str, Any]:
    """Where and how the shade asked for at a place was measured, for its record."""
    measurement = in_hand().measured.get(place)
    if measurement is None:
        return {}
    return {"region": list(box_of(measurement.photos[0].outline)), "reference": measurement.reference}


def box_of(outline: FloatArray) -> tuple[float, ...]:
    """The box (x0, y0, x1, y1) around an outline (n, 2), in pixels."""
    return tuple(round(float(x), 1) for x in (*outline.min(axis=0), *outline.max(axis=0)))


def keep_photograph(upload: Upload) -> str:
    """Keep a photograph; its uid."""
    return library().store_photograph(upload.content, file_name=upload.name).uid


def measured_shade(
    shade: Shade,
    *,
    state: str,
    swatch_uid: str | None = None,
    tile_uid: str | None = None,
    photograph_uid: str | None = None,
    region: tuple[float, ...] = (),
    reference: str = "",
) -> ShadeRecord:
    """A measured shade of a swatch or tile, with where in which photograph it was measured (pixels)."""
    provenance = {"kind": MEASURED, **now_kept(), "region": list(region), "reference": reference}
    return ShadeRecord.of(
        shade, state=state, swatch_uid=swatch_uid, tile_uid=tile_uid, photograph_uid=photograph_uid,
        measured_on=date.today(), provenance={key: value for key, value in provenance.items() if value},
    )  # fmt: skip


def new_name(name: str, uid: str | None = None) -> str:
    """A name the maker typed for a swatch (that of `uid`, or a new one), or an error when another one has it."""
    name, taken = named(name), [each.name for each in library().list(Swatch) if each.uid != uid]
    if name.casefold() in (each.casefold() for each in taken):
        other = distinct(name, taken)
        raise InputError(f"A swatch called {name!r} is kept already. Give this one another name, such as {other!r}.")
    return name
