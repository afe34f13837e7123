"""Which pages there are, in the order of the work, and how one points to another."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

_HERE = Path(__file__).parent
SECTIONS = {
    "Match": {"shade": "Shade", "recipe": "Recipe", "swatches": "Swatches", "two_tones": "Two tones"},
    "Cast": {"batch": "Batch", "drying": "Demould and drying", "over_time": "Over time"},
    "Know": {"tiles": "Tiles", "studio": "Studio"},
}


def page_file(name: str) -> Path:
    """The file of a page."""
    return _HERE / f"{name}.py"


def onward(name: str, label: str) -> None:
    """A link to the page that comes next in the work."""
    st.page_link(page_file(name), label=label, icon=":material/arrow_forward:")


def turn_to(name: str) -> None:
    """Go to a page now."""
    st.switch_page(page_file(name))
