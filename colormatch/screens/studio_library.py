"""The library as a whole: where it is, export and import, backup and restore, the bin."""

from __future__ import annotations

import os

import streamlit as st

from colormatch.library import data_folder
from colormatch.screens.blocks import amounts, card, head, small
from colormatch.screens.drawing import plain
from colormatch.screens.exchange import COUNTED, bin_part, exchange_part
from colormatch.screens.guard import guard
from colormatch.screens.left_out import left_out_part
from colormatch.screens.state import studio
from colormatch.screens.studios import LOCATION, library


def library_part() -> None:
    """What is in it, and everything that concerns all of it."""
    where = os.environ.get(LOCATION) or str(data_folder())
    with card("library"):
        head("The demo studio" if studio() == "demo" else "Your library",
             "Invented, and kept apart from your own." if studio() == "demo" else f"kept at {where}")  # fmt: skip
        amounts([(words, str(library().count(kind))) for words, kind in COUNTED.items()])
        if st.button("Check that everything can be read", key="studio.check"):
            with guard(), st.spinner("Reading everything"):
                wrong = library().check()
                for sentence in wrong:
                    st.error(plain(sentence))
                if not wrong:
                    st.success("Everything can be read, and every photograph is as it was stored.")
        small("To keep it elsewhere, or on a database server, start the page with: colormatch page --library PLACE")
    left_out_part()
    exchange_part()
    st.header("Bin")
    bin_part()
