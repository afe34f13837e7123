"""The frame around every place: the look, whose library is open, and the bar of places."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from colormatch.screens.drawing import plain
from colormatch.screens.last_opened import other, turn_to_library
from colormatch.screens.routes import PLACES, Place, link
from colormatch.screens.state import studio
from colormatch.screens.studios import settings

_HERE = Path(__file__).parent
# What Streamlit's own elements cannot be set from Python: the numeric keypad, and which place is the current one.
_telling = st.components.v2.component(
    "colormatch.telling", html="<span></span>", js=(_HERE / "telling.js").read_text("utf-8")
)


def dress() -> None:
    """The style sheet and what the browser must be told; first on every screen, also on those without a bar."""
    st.html(_HERE / "look.css")
    with st.container(key="telling"):
        _telling(key="telling-component")


def frame(here: Place) -> None:
    """Whose library is open, one tap from the other; and the places, at the bottom of a phone."""
    with st.container(key="top", horizontal=True, vertical_alignment="center"):
        st.markdown("**Demo studio**, invented" if studio() == "demo" else f"**{plain(settings().name)}**")
        words = "open my studio" if studio() == "demo" else "look round the demo"
        if st.button(words, type="tertiary", key="top.other"):
            turn_to_library(other())
            st.rerun()
    if not here.full:
        _places(here)


def _places(here: Place) -> None:
    inside = {place.name: place for place in PLACES}.get(here.part_of, here)
    with st.container(key="places", horizontal=True, gap=None):
        for place in PLACES:
            if place.shown in ("bar", "more"):
                current = "-here" if place is inside else ""
                with st.container(key=f"{place.shown}-{place.name}{current}", width="content"):
                    link(place.name, place.label)
        with st.container(key="phone-more" + ("" if inside.shown == "bar" else "-here"), width="content"):
            link("more", "More")
