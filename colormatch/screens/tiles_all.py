"""Every tile kept, with what was measured of it and how far it is from what the others say."""

from __future__ import annotations

from html import escape

import numpy as np
import streamlit as st

from colormatch.colorimetry import lab_to_hex
from colormatch.learning import TintLadder, tint_ladders
from colormatch.library import TileRecord
from colormatch.palette import Palette
from colormatch.saying import shade_name
from colormatch.screens.blocks import answer, small
from colormatch.screens.drawing import show_table, state_words
from colormatch.screens.guard import guard, say_then_draw
from colormatch.screens.state import kept
from colormatch.screens.studios import library
from colormatch.states import in_order
from colormatch.studio import studio_tiles

MEASURED_MOST = 12  # chips in one picture of a ladder


def all_part(known: Palette) -> None:
    """The tiles, their ladders, and the way into the bin."""
    tiles = {each.uid: each for each in library().list(TileRecord)}
    if not tiles:
        small("No tile is kept yet.")
        return
    states: dict[str, list[str]] = {}
    for tile in studio_tiles(library()):
        states.setdefault(tile.piece, []).append(tile.state)
    answer(f"{len(tiles)} tiles are kept.", "Finished pieces with a measured shade count as tiles too.")
    _ladders(known)
    with st.expander("Every tile"):
        rows = [
            [
                tile_words(each, known),
                ", ".join(state_words(state).lower() for state in in_order(states.get(uid, []))),
                f"{each.cast_on:%d.%m.%Y}" if each.cast_on else "",
            ]
            for uid, each in tiles.items()
        ]
        show_table(["Tile", "Measured", "Cast on"], rows, numbers_from=2)
        chosen = st.selectbox(
            "Put in the bin",
            list(tiles),
            index=None,
            format_func=lambda uid: tile_words(tiles[uid], known),
            key=kept("tiles.bin"),
        )
        if chosen and st.button("Put it in the bin", key="tiles.away"):
            with guard():
                library().delete(tiles[chosen])
                say_then_draw(
                    "tiles", f"In the bin: {tile_words(tiles[chosen], known)}. The studio's bin brings it back."
                )


def _ladders(known: Palette) -> None:
    ladders = [ladder for ladder in tint_ladders(known, studio_tiles(library())) if len(ladder.measured)]
    if not ladders:
        return
    ladders.sort(key=lambda ladder: -len(ladder.measured))
    chosen = st.selectbox(
        "Tint ladder",
        range(len(ladders)),
        format_func=lambda i: _ladder_words(ladders[i], known),
        key=kept("tiles.ladder"),
    )
    st.html(_ladder(ladders[chosen or 0]))


def _ladder(ladder: TintLadder) -> str:
    """Measured above, predicted below, for each tile of one jar alone."""
    columns = []
    for i in np.argsort(ladder.measured_loads, kind="stable")[:MEASURED_MOST]:
        load, off = f"{100 * ladder.measured_loads[i]:.2g} %", f"{ladder.delta_e[i]:.1f} off"
        columns.append(
            f'<li><div role="img" aria-label="{load}: {escape(shade_name(ladder.measured[i]))}, {off}">'
            f'<i style="background:{lab_to_hex(ladder.measured[i])}"></i>'
            f'<i style="background:{lab_to_hex(ladder.fitted[i])}"></i></div><span>{load}<br>{off}</span></li>'
        )
    return (
        "<div class='tiles-jar'><small>Measured above, predicted below; "
        f"{float(np.mean(ladder.delta_e)):.1f} off on average.</small><ol>{''.join(columns)}</ol></div>"
    )


def _ladder_words(ladder: TintLadder, known: Palette) -> str:
    return ", ".join((known.label(ladder.pigment), known.label(ladder.base), state_words(ladder.state).lower()))


def tile_words(tile: TileRecord, known: Palette) -> str:
    """`White: 2.00 % Ochre`, as far as its cement and jars are still kept."""
    base = known.bases[tile.cement_uid].label if tile.cement_uid in known.bases else "a cement no longer kept"
    doses = [
        f"{100 * load:.2f} % {known.pigments[name].label if name in known.pigments else 'a jar no longer kept'}"
        for name, load in tile.loads.items()
    ]
    return f"{base}: {' + '.join(doses) or 'blank'}"
