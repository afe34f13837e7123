"""Today: what needs her, most urgent first."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.guard import guard
from colormatch.screens.routes import link


def page() -> None:
    st.title("Today")
    link("shade", "Match a shade")
    link("batch", "Cast again")


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
