"""The look of every plot on the page: neutral greys, large enough type, a description for those who do not see it."""

from __future__ import annotations

from html import escape

import altair as alt
import streamlit as st

INK, SOFT, LINE = "#1d1d1b", "#565652", "#c3c3bf"


def show_plot(chart: alt.Chart | alt.LayerChart, says: str, *, height_px: int = 260) -> None:
    """Draw a chart in the page's look; `says` is its text alternative: what a reader would see in it."""
    looked = (
        chart.properties(height=height_px, width="container", description=says)
        .configure(background="transparent", font="Source Sans, sans-serif")
        .configure_axis(
            labelColor=INK, titleColor=SOFT, labelFontSize=13, titleFontSize=13, gridColor=LINE, domainColor=SOFT,
            tickColor=SOFT, titleFontWeight="normal",
        )
        .configure_legend(labelColor=INK, titleColor=SOFT, labelFontSize=13, titleFontSize=13, orient="bottom")
        .configure_view(stroke=None)
    )  # fmt: skip
    st.altair_chart(looked, theme=None, width="stretch")
    st.html(f'<p class="for-readers">{escape(says)}</p>')
