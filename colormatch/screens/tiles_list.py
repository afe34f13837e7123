"""The cast list: which tiles to cast, what to weigh for each, on the page and printed."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

import streamlit as st

from colormatch.bench.cast_list import PREBLEND_WORDS
from colormatch.colorimetry import lab_to_hex
from colormatch.library import TileRecord
from colormatch.loads import ASTM_C979_MAXIMUM
from colormatch.palette import Palette
from colormatch.saying import shade_name
from colormatch.screens.blocks import answer, small
from colormatch.screens.device import device
from colormatch.screens.drawing import plain, show_cautions
from colormatch.screens.guard import guard, say_then_draw
from colormatch.screens.routes import onward
from colormatch.screens.state import kept
from colormatch.screens.studios import library
from colormatch.screens.tiles_sure import learn_now
from colormatch.screens.typed_numbers import keeping, number_field, read, read_whole, sure
from colormatch.screens.work import Work
from colormatch.workshop.shelf import Shelf
from colormatch.workshop.tile_list import (
    FIRST_TILES,
    TileList,
    added,
    advised,
    as_table,
    ladder,
    left_out,
    reweighed,
    taken_in,
    water_words,
)

CAUTIONS = (
    "Weigh cement and pigment with a fitted P100 / FFP3 mask and no draught. Wet cement is caustic: gloves, goggles.",
)


def list_part(listed: TileList | None, here: Shelf, known: Palette) -> None:
    """The list in hand; without one, the way to it."""
    if listed is None or not listed.tiles:
        if listed is not None and listed.off[0]:
            answer(
                "No tile is worth casting now.",
                f"For the shades you want, recipes are about {listed.off[0]:.1f} off: make them.",
            )
            onward("match", "To the recipes")
        else:
            begun = library().count(TileRecord) > 0
            answer(
                "More tiles." if begun else "Five small tiles, then recipes.",
                "The advice takes the shades you want and your own jars.",
            )
        if st.button("What to cast", type="primary", width="stretch", key="tiles.advise"):
            _advise(known, FIRST_TILES, 100.0)
        _other_lists(here, known, listed)
        return
    count = len(listed.tiles)
    base = known.label(listed.base)
    now, after = listed.off
    gain = f" Recipes are about {now:.1f} off now, about {after:.1f} with these tiles." if now else ""
    answer(f"{count} tile{'s' if count > 1 else ''} to cast.", f"{listed.cement_g:g} g of {base} in each.{gain}")
    _tiles(listed, known)
    small(water_words(library(), listed))
    if any(listed.cast.blends(place) for place in range(count)):
        small(PREBLEND_WORDS)
    if few := listed.cast.too_little():
        names = " and ".join(known.label(name) for name in few)
        st.warning(plain(f"So little {names} is hard to weigh even as a pre-blend: cast larger tiles."))
    _print(listed, known)
    show_cautions(CAUTIONS)
    _other_lists(here, known, listed)


def _advise(known: Palette, count: int, cement_g: float) -> None:
    with guard(), st.spinner("Trying every tile that could be cast"):
        advised(library(), known, count=count, cement_g=cement_g, device=device())
        st.rerun()


def _tiles(listed: TileList, known: Palette) -> None:
    """One card a tile: its number, its predicted shade, what to weigh, why; and what was weighed, if other."""
    st.html(f'<ol class="tiles-list">{"".join(_row(listed, place, known) for place in range(len(listed.tiles)))}</ol>')
    with st.expander("Weighed otherwise, or left out?"):
        work, numbers = Work("form reweighed"), range(len(listed.tiles))
        work.say()
        place = st.selectbox("Tile", numbers, format_func=lambda i: f"{i + 1}: {doses(listed, i, known)}",
                             **work.field("tile", 0, among=numbers))  # fmt: skip
        tile = listed.tiles[place]
        keys = {name: f"tiles.{place}.{name}.{grams:g}" for name, grams in tile.grams.items()}
        for name, key in keys.items():
            number_field(plain(known.label(name)), key, value=f"{tile.grams[name]:g}", unit="g", work=work)
        save, away = st.columns(2)
        weighed = save.button("Weighed so", width="stretch", key="tiles.weighed.keep")
        out = away.button("Leave it out", width="stretch", key="tiles.out")
        if weighed or sure("tiles.weighed", work):
            with keeping("tiles.weighed", work):
                reweighed(library(), listed, place, _grams(keys, known, listed.cement_g), device=device())
                work.drop()
                say_then_draw("tiles", f"Tile {place + 1}: noted as it was weighed.")
        if out:
            with guard():
                left_out(library(), listed, place, device=device())
                say_then_draw("tiles", f"Tile {place + 1} is left out.")


def _grams(keys: Mapping[str, str], known: Palette, cement_g: float) -> dict[str, float]:
    most = ASTM_C979_MAXIMUM * cement_g
    return {name: read(key, name=known.label(name), high=most) for name, key in keys.items()}


def doses(listed: TileList, place: int, known: Palette) -> str:
    """`0.5 g Ochre; 1.0 g Soot`, with the cement where a pre-blend brings part of it; or that it is a blank."""
    lines = listed.cast.lines(place, known.label)
    return "; ".join(lines if listed.cast.blends(place) else lines[1:]) or "no pigment"


def _row(listed: TileList, place: int, known: Palette) -> str:
    mix = listed.mix(place)
    lab = known.predict(mix.loads, mix.base, "dry").lab
    tile = listed.tiles[place]
    why = f"<small>{escape(tile.why)}</small>" if tile.why else ""
    return (
        f'<li><i role="img" aria-label="{escape(shade_name(lab))}, predicted dry" '
        f'style="background:{lab_to_hex(lab)}"></i>'
        f"<div><b>{place + 1}. {escape(doses(listed, place, known))}</b>{why}</div></li>"
    )


def _print(listed: TileList, known: Palette) -> None:
    from colormatch.render import tile_sheet_html
    from colormatch.render.tile_sheet import THEN

    small(f"{THEN} That is Measure, above.")
    rows = [
        ("; ".join(listed.cast.lines(place, known.label)), known.predict(listed.mix(place).loads, listed.base).lab)
        for place in range(len(listed.tiles))
    ]
    printed, table = st.columns(2)
    page = tile_sheet_html(rows, water=water_words(library(), listed), cautions=CAUTIONS)
    printed.download_button("List to print", page, "tiles.html", "text/html", width="stretch", on_click="ignore")
    cells = as_table(listed.cast, known)
    table.download_button("As a table", cells, "tiles.csv", "text/csv", width="stretch", on_click="ignore")


def _other_lists(here: Shelf, known: Palette, listed: TileList | None) -> None:
    """Another number of tiles, the ladder of one jar, a tile of her own."""
    with st.expander("Another list"):
        work = Work("form new list")
        work.say()
        number_field("Tiles", "tiles.count", value="5", work=work)
        number_field("Dry cement of one tile", "tiles.cement", value="100", unit="g", work=work)
        words = "What to cast" if listed is None else "A new list instead"
        if st.button(words, width="stretch", key="tiles.other") or sure("tiles.new", work):
            with keeping("tiles.new", work):
                many = read_whole("tiles.count", name="The number of tiles", low=1, high=12)
                cement_g = read("tiles.cement", name="The cement", low=5, high=5000)
                work.drop()
                _advise(known, many, cement_g)
        jars = {each.uid: each.name for each in here.pigments}
        jar = st.selectbox(
            "The first tiles of one jar", list(jars), format_func=jars.__getitem__, key=kept("tiles.jar")
        )
        if jar and st.button("Plan its first tiles", width="stretch", key="tiles.ladder"):
            with guard(), st.spinner("Planning"):
                ladder(library(), known, jar, device=device())
                st.rerun()
        _table_back(known)
    with st.expander("A tile of my own"):
        _own_tile(here, known, listed)


def _table_back(known: Palette) -> None:
    """The list as a table that comes back, with what was weighed and measured written in."""
    file = st.file_uploader("A table saved here, filled in elsewhere", ["csv"], key="tiles.table")
    if file is not None and st.button("Take the table", width="stretch", key="tiles.take"):
        with guard():
            taken = taken_in(library(), known, file.getvalue(), device=device())
            if taken.measured:
                learn_now()
            say_then_draw("tiles", "It is the list now; nothing on it is measured.")


def _own_tile(here: Shelf, known: Palette, listed: TileList | None) -> None:
    jars = {each.uid: each.name for each in here.pigments}
    work = Work("form own tile")
    work.say()
    names = st.multiselect("Jars in it", list(jars), format_func=jars.__getitem__, select_all=False,
                           **work.field("jars", [], among=jars))  # fmt: skip
    base = listed.base if listed else here.cements[0].uid
    cement = listed.cement_g if listed else 100.0
    keys = {name: f"tiles.own.{name}" for name in names}
    small(f"In {cement:g} g of {known.label(base)}; no jar: a blank.")
    for name, key in keys.items():
        number_field(plain(jars[name]), key, unit="g", work=work)
    if st.button("Put it on the list", width="stretch", key="tiles.put") or sure("tiles.own", work):
        with keeping("tiles.own", work):
            added(library(), listed, base, _grams(keys, known, cement), device=device())
            work.drop()
            say_then_draw("tiles", "It is on the list.")
