"""More: the places that a phone's bar has no room for."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.blocks import card, small
from colormatch.screens.guard import guard
from colormatch.screens.routes import PLACES, link

_HOLDS = {
    "two_tones": "Two shades in one piece, drawn before they are cast.",
    "tiles": "What to cast so that your jars are known, and how sure each is.",
    "studio": "Your shelf, moulds, scale and cap; backup, export and import.",
    "help": "The first day, how sure it is, the cautions of every step.",
}


def page() -> None:
    st.title("More")
    for place in PLACES:
        if place.shown == "more":
            with card(f"more-{place.name}"):
                link(place.name, place.label)
                small(_HOLDS[place.name])


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
