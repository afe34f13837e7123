"""Sharing a swatch: a card as a picture, a sheet as PDF for a customer; drawn only when they are asked for."""

from __future__ import annotations

import streamlit as st

from colormatch.library import Swatch
from colormatch.screens.drawing import plain
from colormatch.screens.studios import library, palette
from colormatch.workshop.selling import card_pdf, card_png, customer_card


def share(swatch: Swatch) -> None:
    """The two files for a customer."""
    st.markdown(
        plain("For a customer: its shade dry, wet and sealed, how much it may differ, and the light to judge it in.")
    )

    opened, known = library(), palette()  # here: the files are made outside the session, which knows what is open

    def picture() -> bytes:
        return card_png(customer_card(opened, known, swatch))

    def sheet() -> bytes:
        return card_pdf(customer_card(opened, known, swatch))

    name = "".join(c if c.isalnum() else "-" for c in swatch.name).strip("-").lower() or "swatch"
    st.download_button("Card (PNG)", picture, f"{name}.png", "image/png", on_click="ignore", width="stretch")
    st.download_button("Sheet (PDF)", sheet, f"{name}.pdf", "application/pdf", on_click="ignore", width="stretch")
