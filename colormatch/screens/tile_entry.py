"""Adding a test tile: what went into it, the state it is in, and its shade by photograph, numbers or instrument."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import streamlit as st

from colormatch.errors import InputError
from colormatch.learning import Tile
from colormatch.library import ShadeRecord, TileRecord, new_uid
from colormatch.palette import Palette
from colormatch.screens.drawing import STATES, Chip, plain, show_cautions, show_chips, state_words
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.keeping import box_of, keep_photograph, measured_shade, shelve
from colormatch.screens.measuring import forget_answer, shade_asked, show_trust
from colormatch.screens.state import Wanted, in_hand, kept, start_with
from colormatch.screens.studios import library, palette

SHADE, SPECTRUM = "its shade", "its spectrum"
CAUTIONS = (
    "Weigh cement and pigment with a fitted dust mask and no draught; wet cement is caustic: gloves, eye protection.",
)


def add_part() -> None:
    """The whole form, top down: make-up, state, shade, keep."""
    known = palette()
    show_cautions(CAUTIONS)
    show_notice("tile")
    base, loads, cast_on = _make_up(known)
    one, two = st.columns(2)
    state = one.selectbox("It is", list(STATES), format_func=state_words, key=start_with("tile.state", "dry"))
    what = two.radio("Measured was", [SHADE, SPECTRUM], horizontal=True, key=start_with("tile.what", SHADE))
    if what == SPECTRUM:
        _with_spectrum(base, loads, cast_on, state)
        return
    asked = shade_asked("tile", "The shade of the tile comes", state=state)
    if not asked:
        return
    show_chips(
        [Chip("Measured", asked[0].shade, asked[0].origin), Chip("Predicted", known.predict(loads, base, state))]
    )
    show_trust("tile")
    if st.button("Keep the tile", type="primary", key="tile.keep"):
        with guard():
            _keep(base, loads, cast_on, _shade_record(asked[0], state))


def _make_up(known: Palette) -> tuple[str, Mapping[str, float], date]:
    one, two, three = st.columns([2, 3, 2])
    base = one.selectbox(
        "Cement", list(known.bases), format_func=lambda name: known.bases[name].label, key=kept("tile.base")
    )
    names = two.multiselect(
        "Pigments in it",
        list(known.pigments),
        format_func=lambda name: known.pigments[name].label,
        key=start_with("tile.pigments", []),
    )
    cast_on = three.date_input("Cast on", format="DD.MM.YYYY", key=start_with("tile.cast_on", date.today()))
    loads = {}
    columns = st.columns(max(len(names), 3))
    for column, name in zip(columns, names, strict=False):
        per_cent = column.number_input(
            f"{plain(known.pigments[name].label)}, % of the cement",
            0.0,
            100.0,
            step=0.1,
            format="%.3f",
            key=start_with(f"tile.load.{name}", 1.0),
        )
        loads[name] = per_cent / 100
    known.load_vector(loads)  # refuses what no tile may hold, before anything is kept
    return base, {name: load for name, load in loads.items() if load > 0}, cast_on


def _shade_record(asked: Wanted, state: str) -> ShadeRecord:
    measurement = in_hand().measured.get("tile")
    uid = keep_photograph(asked.photograph) if asked.photograph else None
    region = box_of(measurement.photos[0].outline) if measurement and asked.photograph else ()
    reference = measurement.reference if measurement and asked.photograph else ""
    return measured_shade(asked.shade, state=state, photograph_uid=uid, region=region, reference=reference)


def _with_spectrum(base: str, loads: Mapping[str, float], cast_on: date, state: str) -> None:
    file = st.file_uploader("Two columns: wavelength in nm, reflectance 0..1", ["csv", "txt"], key="tile.spectrum")
    if file is None:
        return
    nm, reflectance = read_spectrum(file.getvalue())
    tile = Tile.from_spectrum(base, loads, nm, reflectance, state=state)
    show_chips([Chip("Measured", tile.shade), Chip("Predicted", palette().predict(loads, base, state))])
    if st.button("Keep the tile", type="primary", key="tile.keep"):
        with guard():
            record = measured_shade(tile.shade, state=state, reference="spectrum")
            _keep(base, loads, cast_on, replace(record, wavelength_nm=tuple(nm), reflectance=tuple(reflectance)))


def read_spectrum(content: bytes) -> tuple[list[float], list[float]]:
    """Wavelengths and reflectance factors of a text file of two columns; lines without numbers are left out.

    Columns may be separated by commas, semicolons, tabs or blanks; with semicolons or tabs a comma is a decimal comma.
    """
    nm, reflectance = [], []
    for line in content.decode("utf-8-sig", "replace").splitlines():
        cells = re.split(r"[;\t]+", line.replace(",", ".")) if re.search(r"[;\t]", line) else re.split(r"[,\s]+", line)
        try:
            pair = float(cells[0]), float(cells[1])
        except (IndexError, ValueError):
            continue
        nm.append(pair[0])
        reflectance.append(pair[1])
    if not nm:
        raise InputError(
            "There are no two columns of numbers in this file; it must hold a wavelength in nm and a reflectance "
            "factor 0..1 on each line, parted by a comma."
        )
    return nm, reflectance


def _keep(base: str, loads: Mapping[str, float], cast_on: date, shade: ShadeRecord) -> None:
    """Keep the shade with its tile; the same make-up cast on the same day is the same tile in another state."""
    shelve(base, loads)
    opened = library()
    same = [
        each
        for each in opened.list(TileRecord, cement_uid=base, cast_on=cast_on)
        if dict(each.loads) == dict(loads) and not opened.list(ShadeRecord, tile_uid=each.uid, state=shade.state)
    ]
    tile = same[0] if same else TileRecord(uid=new_uid(), cement_uid=base, loads=dict(loads), cast_on=cast_on)
    opened.save_all([*([] if same else [tile]), replace(shade, tile_uid=tile.uid)])
    forget_answer("tile")  # the next tile is measured anew
    say_then_draw("tile", "Kept. Learn from all of them when the session's tiles are in.")
