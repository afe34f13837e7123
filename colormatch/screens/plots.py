"""The look of every plot on the page: neutral greys, large enough type, a description for those who do not see it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import altair as alt
import streamlit as st
from altair.utils.schemapi import disable_debug_mode

INK, SOFT, LINE = "#1d1d1b", "#565652", "#c3c3bf"
_TYPE = {"labelColor": INK, "titleColor": SOFT, "labelFontSize": 13, "titleFontSize": 13}
_LOOK = {
    "background": "transparent",
    "font": "Source Sans, sans-serif",
    "axis": {**_TYPE, "gridColor": LINE, "domainColor": SOFT, "tickColor": SOFT, "titleFontWeight": "normal"},
    "legend": {**_TYPE, "orient": "bottom"},
    "view": {"stroke": None},
}

disable_debug_mode()  # checking each part of a chart as it is made takes longer than a whole page; tests check charts


def show_plot(chart: alt.Chart | alt.LayerChart, says: str, *, height_px: int = 260) -> None:
    """Draw a chart in the page's look; `says` is its text alternative: what a reader would see in it."""
    drawn = chart.to_dict(validate=False)
    room = {"top": 8, "bottom": 4}  # the topmost label would be cut
    drawn |= {"height": height_px, "width": "container", "description": says, "config": _LOOK, "padding": room}
    st.vega_lite_chart(drawn, theme=None, width="stretch")
    st.html(f'<p class="for-readers">{escape(says)}</p>')


def rows(values: Sequence[Mapping[str, Any]]) -> Any:
    """The data of a chart, one mapping a row; as a tuple, since of a list every layer makes a copy of its own."""
    return alt.InlineData(values=tuple(values))
