"""Measured shades that an older version kept and nothing can be learned from: mended, or put in the bin."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from colormatch.colorimetry import lab_to_hex
from colormatch.library import Piece, ShadeRecord, Swatch, TileRecord
from colormatch.screens.blocks import card, caution, chip, head, head_and_button, small
from colormatch.screens.drawing import STATES, plain, state_words
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.routes import turn_to
from colormatch.screens.studios import library, palette
from colormatch.screens.typed_numbers import keeping, number_field, read, sure
from colormatch.screens.work import Work
from colormatch.studio import left_out


def left_out_line() -> None:
    """On the first page: how many there are, and the way to them; nothing while all is well."""
    found = left_out(library())
    if not found:
        return
    many = f"{len(found)} measured shades are" if len(found) > 1 else "One measured shade is"
    with card("left-out"):
        if head_and_button(f"{many} left out", "nothing can be learned from them as they are", "Look", "left.look"):
            turn_to("studio", part="library")


def left_out_part() -> None:
    """Each with why, and what can be done about it: typed anew where it can be, or into the bin."""
    show_notice("left-out")
    found = left_out(library())
    if not found:
        return
    st.header("Left out")
    small("Recipes and learning go on without these measured shades. Mend each, or put it in the bin.")
    for record, why in found:
        _one(record, why)


def _one(record: ShadeRecord, why: str) -> None:
    name, tile = owner_of(record)
    key = f"left.{record.uid}.{record.version}"
    with card(f"left-{record.uid}"):
        measured = f"measured {record.measured_on:%d.%m.%Y}" if record.measured_on else ""
        head(name, measured, mark=chip(record.lab, f"measured: {lab_to_hex(record.lab)}"))
        caution(why)
        work = Work("form left out", record.uid)
        state = st.selectbox("It is", list(STATES), format_func=state_words, **work.field(
            "state", record.state if record.state in STATES else next(iter(STATES)), among=STATES))  # fmt: skip
        for jar, load in tile.loads.items() if tile else ():
            was = f"{100 * load:g}"
            number_field(plain(palette().label(jar)), f"{key}.{jar}", value=was, unit="% of the cement", work=work)
        with st.container(horizontal=True):
            mended = st.button("Mend it so", type="primary", key=f"{key}.mend") or sure(key, work)
            away = st.button("Put it in the bin", key=f"{key}.away")
        if mended:
            with keeping(key, work):
                _mend(record, tile, state, key)
                work.drop()
                say_then_draw("left-out", f"Mended: {name}.")
        if away:
            with guard():
                library().delete(record)
                say_then_draw("left-out", f"In the bin: the shade of {name}. It can be restored below.")


def _mend(record: ShadeRecord, tile: TileRecord | None, state: str, key: str) -> None:
    """The state and the doses as they are said now; a spectrum that is none is left out, its shade stays."""
    whole = len(record.wavelength_nm) > 1
    fresh = replace(record, state=state, wavelength_nm=record.wavelength_nm if whole else (),
                    reflectance=record.reflectance if whole else ())  # fmt: skip
    if tile is None:
        library().save(fresh)
        return
    loads = {jar: read(f"{key}.{jar}", name=palette().label(jar), unit="%", high=10) / 100 for jar in tile.loads}
    library().save_all([replace(tile, loads={jar: load for jar, load in loads.items() if load > 0}), fresh])


def owner_of(record: ShadeRecord) -> tuple[str, TileRecord | None]:
    """What it is the shade of, in words; its tile, if it is of one."""
    if record.tile_uid and (tile := library().find_one(TileRecord, record.tile_uid)):
        loads = [f"{100 * load:.3g} % {palette().label(jar)}" for jar, load in tile.loads.items()]
        return f"Tile: {' + '.join(loads) or 'blank'}", tile
    if record.piece_uid and (piece := library().find_one(Piece, record.piece_uid)):
        return piece.name, None
    swatch = library().find_one(Swatch, record.swatch_uid) if record.swatch_uid else None
    return swatch.name if swatch else "A measured shade", None
