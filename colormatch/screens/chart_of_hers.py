"""Which 24-patch chart she has: its edition, or her own measured values; the studio remembers it."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.blocks import small
from colormatch.screens.guard import guard
from colormatch.screens.studios import library
from colormatch.workshop.charts import EDITIONS, chart_words, keep_chart, take_edition


def which_chart(place: str) -> None:
    """The editions to choose from, and a file of its own values to give."""
    now, key = chart_words(library()), f"{place}.chart"
    charts = {now: now, "": "not known", **{each: f"made {each}" for each in EDITIONS}}
    st.session_state[key] = now

    def chosen() -> None:
        if st.session_state[key] != now:
            take_edition(library(), st.session_state[key])

    st.selectbox("The chart", list(charts), format_func=charts.__getitem__, key=key, on_change=chosen)
    if now in ("", *EDITIONS):
        small("Nobody measured this chart: all shades may be off together by about 1 dE00; one against another, less.")
    with st.popover("My chart, measured"):
        table = st.file_uploader(
            "24 lines from dark skin row by row, each ending in L*, a*, b* (D65)",
            type=["csv", "tsv", "txt"], key=f"{key}.file",
        )  # fmt: skip
        if st.button("Keep its values", type="primary", key=f"{key}.keep", disabled=table is None) and table:
            with guard():
                keep_chart(library(), table.name, table.getvalue())
                st.rerun()
