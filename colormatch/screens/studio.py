"""Studio: the shelf, the moulds, the studio's own numbers, its library."""

from __future__ import annotations

import streamlit as st

from colormatch.library import Mould
from colormatch.screens.guard import guard
from colormatch.screens.phone import on_the_phone
from colormatch.screens.routes import asked
from colormatch.screens.state import kept, put, start_with
from colormatch.screens.studio_library import library_part
from colormatch.screens.studio_moulds import moulds_part
from colormatch.screens.studio_numbers import numbers_part
from colormatch.screens.studio_shelf import shelf_part
from colormatch.screens.studios import library

PARTS = {"shelf": "Shelf", "moulds": "Moulds", "numbers": "Numbers", "library": "Library"}


def page() -> None:
    st.title("Studio")
    _as_addressed()
    part = st.segmented_control(
        "Part", list(PARTS), format_func=PARTS.__getitem__, key=start_with("studio.part", "shelf"), required=True,
        label_visibility="collapsed",
    )  # fmt: skip
    if part == "moulds":
        moulds_part()
    elif part == "numbers":
        numbers_part()
        on_the_phone()
    elif part == "library":
        library_part()
    else:
        shelf_part()


def _as_addressed() -> None:
    """Open what the address names, once: a part, or one bag, jar or mould."""
    named = (asked("part"), asked("item"))
    if st.session_state.get(kept("studio.addressed")) == named:
        return
    st.session_state[kept("studio.addressed")] = named
    part, item = named
    if item and library().find_one(Mould, item):
        put("studio.part", "moulds")
        put("moulds.open", item)
    elif item:
        put("studio.part", "shelf")
        put("shelf.open", item)
    elif part in PARTS:
        put("studio.part", part)


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
