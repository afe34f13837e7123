"""One test tile: what went into it, the state it is in, and its shade by photograph, numbers or instrument."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import streamlit as st

from colormatch.errors import InputError
from colormatch.learning import Tile
from colormatch.library import ShadeRecord, TileRecord, new_uid
from colormatch.palette import Palette
from colormatch.saying import than_predicted
from colormatch.screens.blocks import answer, touching
from colormatch.screens.drawing import STATES, plain, state_words
from colormatch.screens.guard import guard
from colormatch.screens.keeping import box_of, keep_photograph, measured_shade
from colormatch.screens.measuring import forget_answer, shade_asked, show_trust, spectrum_asked
from colormatch.screens.state import Wanted, in_hand
from colormatch.screens.studios import library, palette
from colormatch.screens.tiles_sure import learn_now
from colormatch.screens.typed_numbers import number_field, read
from colormatch.screens.work import Work
from colormatch.spectra import WAVELENGTHS_NM
from colormatch.workshop.shelf import shelf

_FORM = "form tile"
SHADE, SPECTRUM = "its shade", "its spectrum"


def one_part(known: Palette) -> None:
    """The whole form, top down: make-up, state, shade, keep."""
    base, loads, cast_on = _make_up(known)
    work = Work(_FORM)
    state = st.selectbox("It is", list(STATES), format_func=state_words, **work.field("state", "dry", among=STATES))
    what = st.segmented_control("Measured was", [SHADE, SPECTRUM], required=True, **work.field("what", SHADE))
    if what == SPECTRUM:
        _with_spectrum(base, loads, cast_on, state)
        return
    asked = shade_asked("tile", "Photograph the tile beside the chart.", state=state)
    if not asked:
        return
    predicted = known.predict(loads, base, state)
    answer(f"{than_predicted(asked[0].shade.lab, predicted.lab).capitalize()}.")
    touching([("measured", asked[0].shade.lab), ("predicted", predicted.lab)], height_px=72)
    show_trust("tile")
    if st.button("Keep the tile and learn", type="primary", width="stretch", key="tile.keep"):
        with guard():
            _keep(base, loads, cast_on, _shade_record(asked[0], state))


def _make_up(known: Palette) -> tuple[str, Mapping[str, float], date]:
    """What went into it, from her shelf; loads are refused before anything is kept."""
    here, work = shelf(library()), Work(_FORM)
    work.say()
    cements = {each.uid: each.name for each in here.cements if each.uid in known.bases}
    jars = {each.uid: each.name for each in here.pigments if each.uid in known.pigments}
    base = st.selectbox("Cement", list(cements), format_func=cements.__getitem__,
                        **work.field("base", next(iter(cements)), among=cements))  # fmt: skip
    names = st.multiselect("Jars in it", list(jars), format_func=jars.__getitem__, select_all=False,
                           **work.field("pigments", [], among=jars))  # fmt: skip
    loads = {}
    for name in names:
        typed = number_field(plain(jars[name]), f"tile.load.{name}", unit="% of the cement", hint="2", work=work)
        if not typed:
            raise InputError(f"How much {jars[name]} is in it? Type it in per cent of the cement, such as 2.")
        loads[name] = read(f"tile.load.{name}", name=jars[name], unit="%", high=100) / 100
    cast_on = st.date_input("Cast on", format="DD.MM.YYYY", **work.moment("cast_on", date, date.today()))
    known.load_vector(loads)
    return base, {name: load for name, load in loads.items() if load > 0}, cast_on


def _shade_record(asked: Wanted, state: str) -> ShadeRecord:
    measurement = in_hand().measured.get("tile")
    uid = keep_photograph(asked.photograph) if asked.photograph else None
    region = box_of(measurement.photos[0].outline) if measurement and asked.photograph else ()
    reference = measurement.reference if measurement and asked.photograph else ""
    return measured_shade(asked.shade, state=state, photograph_uid=uid, region=region, reference=reference)


def _with_spectrum(base: str, loads: Mapping[str, float], cast_on: date, state: str) -> None:
    given = spectrum_asked("tile")
    if given is None:
        return
    tile = Tile.from_spectrum(base, loads, given[1], state=state)
    predicted = palette().predict(loads, base, state)
    touching([("measured", tile.shade.lab), ("predicted", predicted.lab)], height_px=72)
    if st.button("Keep the tile and learn", type="primary", width="stretch", key="tile.keep"):
        with guard():
            record = measured_shade(tile.shade, state=state, reference="spectrum")
            nm, spectrum = tuple(WAVELENGTHS_NM.tolist()), tuple(given[1].tolist())
            _keep(base, loads, cast_on, replace(record, wavelength_nm=nm, reflectance=spectrum))


def _keep(base: str, loads: Mapping[str, float], cast_on: date, shade: ShadeRecord) -> None:
    """Keep the shade with its tile; the same make-up cast on the same day is the same tile in another state."""
    opened = library()
    same = [
        each
        for each in opened.list(TileRecord, cement_uid=base, cast_on=cast_on)
        if dict(each.loads) == dict(loads) and not opened.list(ShadeRecord, tile_uid=each.uid, state=shade.state)
    ]
    tile = same[0] if same else TileRecord(uid=new_uid(), cement_uid=base, loads=dict(loads), cast_on=cast_on)
    opened.save_all([*([] if same else [tile]), replace(shade, tile_uid=tile.uid)])
    forget_answer("tile")  # the next tile is measured anew
    Work(_FORM).drop()
    learn_now("The tile is kept.")
