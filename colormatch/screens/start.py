"""Today: what needs her, most urgent first; in a new library, the first day."""

from __future__ import annotations

from datetime import date

import streamlit as st

from colormatch.screens.blocks import small
from colormatch.screens.first_day import first_day
from colormatch.screens.guard import guard
from colormatch.screens.phone import on_the_phone
from colormatch.screens.routes import turn_to
from colormatch.screens.studios import library
from colormatch.workshop.beginning import settled


def page() -> None:
    if settled(library()):
        _today()
    else:
        first_day()
    on_the_phone()


def _today() -> None:
    st.title("Today")
    small(f"{date.today():%A %-d %B}")
    with st.container(horizontal=True):
        if st.button("Match a shade", type="primary", key="start.match"):
            turn_to("match")
        if st.button("Cast again", key="start.again"):
            turn_to("bench", cast="all")


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
