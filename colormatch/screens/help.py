"""Help: what is needed, the first day, how sure it is, cautions; made to be printed."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.drawing import show_words
from colormatch.screens.guard import guard


def page() -> None:
    st.title("Help")
    show_words()


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
