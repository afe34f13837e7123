"""Studio: the shelf, the moulds, the studio's own numbers, its library."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.guard import guard
from colormatch.screens.phone import on_the_phone
from colormatch.screens.routes import asked
from colormatch.screens.state import kept, start_with
from colormatch.screens.studio_library import library_part
from colormatch.screens.studio_moulds import moulds_part
from colormatch.screens.studio_numbers import numbers_part
from colormatch.screens.studio_shelf import shelf_part

PARTS = {"shelf": "Shelf", "moulds": "Moulds", "numbers": "Numbers", "library": "Library"}


def page() -> None:
    st.title("Studio")
    if asked("part") in PARTS and kept("studio.part") not in st.session_state:
        start_with("studio.part", asked("part"))
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


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
