"""More: the places that a phone's bar has no room for."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.guard import guard
from colormatch.screens.routes import PLACES, link


def page() -> None:
    st.title("More")
    with st.container(key="list-more", gap="small"):
        for place in PLACES:
            if place.shown in ("more", "second"):
                link(place.name, place.label)


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
