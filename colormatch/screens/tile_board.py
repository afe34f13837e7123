"""The board of own tiles: its frame to print, and measuring it once with the chart beside it."""

from __future__ import annotations

from functools import partial

import streamlit as st

from colormatch.photo import measure_board
from colormatch.render import board_pdf
from colormatch.screens.blocks import small
from colormatch.screens.decoded import decoded
from colormatch.screens.guard import guard
from colormatch.screens.looked_at import looked_at
from colormatch.screens.state import Upload
from colormatch.screens.studios import library
from colormatch.workshop.charts import chart_words, own_chart
from colormatch.workshop.tile_board import keep_board, own_board


def board_part(place: str, upload: Upload) -> None:
    """Print the frame; measure the board in this photograph, with the chart in it too, and keep it."""
    there = own_board(library()) is not None
    small(
        "Your board is kept. Measure it again, with the chart beside it, when a tile is changed."
        if there
        else "Print the frame, glue a measured, matte tile into each window, and photograph it once beside the chart."
    )
    with st.container(horizontal=True):
        for paper in ("A4", "Letter"):
            st.download_button(
                f"Frame ({paper}, PDF)",
                partial(board_pdf, paper),
                f"tile-board-{paper}.pdf".lower(),
                "application/pdf",
                key=f"{place}.board.{paper}",
                on_click="ignore",
            )
        measure = st.button("Measure the board in this photograph", key=f"{place}.board.measure")
    # Beside the button: why it could not be measured, before and after it is pressed.
    if there and not measure:
        return
    chart = own_chart(library())
    checked = looked_at(upload, chart, chart_words(library()))
    if measure and checked.usable:
        with guard():
            keep_board(library(), [photo.shade for photo in measure_board(decoded(upload), reference=chart)])
            st.rerun()
