"""A whole shade card at once: a table of wanted shades in, a table of recipes out, and the jar that helps most."""

from __future__ import annotations

import hashlib

import streamlit as st

from colormatch.recipes import Row, recipe_table, table_as_csv
from colormatch.screens.blocks import small
from colormatch.screens.drawing import plain, show_table
from colormatch.screens.guard import guard
from colormatch.screens.match_limits import Asked
from colormatch.screens.state import kept
from colormatch.screens.studios import library, palette
from colormatch.workshop.shade_cards import MOST_SHADES, read_shade_card
from colormatch.workshop.shelf import worth_buying

_SHOWN = 12  # lines on the page; the table to take away holds all


def many_shades(asked: Asked) -> None:
    """Folded away until it is asked for."""
    with st.expander("Many shades at once, from a file"):
        small(f"A table (.csv) with the columns name, L, a, b, or name, hex: one shade a line, at most {MOST_SHADES}.")
        given = st.file_uploader("Shades", type=["csv"], key="many.file", label_visibility="collapsed")
        if given is None:
            return
        slot = kept(f"many|{hashlib.sha256(given.getvalue()).hexdigest()}|{asked.question}")
        if st.button("Find recipes for all of them", type="primary", key="many.find"):
            with guard():
                st.session_state[slot] = _found(asked, given.getvalue(), given.name)
        if slot in st.session_state:
            _show(*st.session_state[slot])


def _found(asked: Asked, content: bytes, name: str) -> tuple[list[Row], tuple[str, ...]]:
    shades = read_shade_card(content, name)
    bar = st.progress(0.0, "Trying every set of your jars")

    def progress(done: int, of: int) -> None:
        bar.progress(done / of, f"{done} of {of} shades")

    rows = recipe_table(asked.palette, shades, asked.base, asked.limits, state=asked.state, progress=progress)
    wanted = list(shades.values())
    buy = worth_buying(library(), palette(), wanted, asked.base, asked.limits, state=asked.state)
    bar.empty()
    return rows, tuple(each.words for each in buy)


def _show(rows: list[Row], buy: tuple[str, ...]) -> None:
    near = sum(not row.out_of_reach for row in rows)
    st.markdown(plain(f"{near} of {len(rows)} shades are within reach of your jars."))
    lines = [[row.name, row.out_of_reach or f"{row.recipe.off.capitalize()}."] for row in rows[:_SHOWN]]
    show_table(["Shade", "Best recipe"], lines, numbers_from=2)
    if len(rows) > _SHOWN:
        small(f"and {len(rows) - _SHOWN} more in the table")
    table = table_as_csv(rows)
    st.download_button("Take the table with you (CSV)", table, "recipes.csv", "text/csv", key="many.table")
    if buy:
        st.markdown("\n".join(["Worth buying for these shades:", "", *(f"- {plain(words)}" for words in buy)]))
