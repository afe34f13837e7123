"""Studio: the shelf, the moulds, the studio's own numbers, its library."""

from __future__ import annotations

import streamlit as st

from colormatch.library import Mould
from colormatch.screens.guard import guard
from colormatch.screens.phone import on_the_phone
from colormatch.screens.routes import asked, by_address
from colormatch.screens.studio_library import library_part
from colormatch.screens.studio_moulds import moulds_part
from colormatch.screens.studio_numbers import numbers_part
from colormatch.screens.studio_shelf import shelf_part
from colormatch.screens.studios import library

PARTS = {"shelf": "Shelf", "moulds": "Moulds", "numbers": "Numbers", "library": "Library"}


def page() -> None:
    st.title("Studio")
    part = st.segmented_control(
        "Part", list(PARTS), format_func=PARTS.__getitem__, required=True, label_visibility="collapsed",
        **by_address("part", _part_of(asked("item")), PARTS),
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


def _part_of(item: str) -> str:
    """Where the bag, jar or mould stands that the address names."""
    return "moulds" if item and library().find_one(Mould, item) else "shelf"


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
