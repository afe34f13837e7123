"""Tiles: what to cast next, all of them measured from one photograph, and how sure each jar is."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.blocks import answer
from colormatch.screens.guard import guard
from colormatch.screens.routes import by_address, turn_to
from colormatch.screens.studios import library, palette
from colormatch.screens.tiles_all import all_part
from colormatch.screens.tiles_list import list_part
from colormatch.screens.tiles_measure import measure_part
from colormatch.screens.tiles_sure import learned_line, learning_part, sure_part
from colormatch.workshop.shelf import shelf
from colormatch.workshop.tile_list import tile_list

CAST, MEASURE, SURE, ALL = "Cast", "Measure", "How sure", "All"


def page() -> None:
    st.title("Tiles")
    here = shelf(library())
    if here.empty:
        answer(
            "Nothing is on your shelf yet.",
            "A tile is a small flat cast that shows what your jars do in your cement: first a cement and a jar.",
        )
        if st.button("Fill the shelf", type="primary", width="stretch", key="tiles.shelf"):
            turn_to("studio")
        return
    learning_part()
    learned_line()
    listed = tile_list(library())
    view = st.segmented_control(
        "View",
        [CAST, MEASURE, SURE, ALL],
        required=True,
        label_visibility="collapsed",
        width="stretch",
        **by_address("view", CAST, (CAST, MEASURE, SURE, ALL)),
    )
    with guard():
        if view == MEASURE:
            with st.container(key="narrow-measure"):
                measure_part(listed, palette())
        elif view == SURE:
            sure_part(here, palette())
        elif view == ALL:
            all_part(palette())
        else:
            list_part(listed, here, palette())


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
