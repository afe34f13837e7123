"""Find anything again: by the code on its sheet, or by its name."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.blocks import small
from colormatch.screens.drawing import plain
from colormatch.screens.routes import link
from colormatch.screens.state import kept
from colormatch.screens.studios import library
from colormatch.workshop.today import Found, find

MOST = 12  # of a kind, on one screen: by eye
_PLACES = {
    "batch": ("bench", "batch"), "piece": ("bench", "piece"), "swatch": ("swatches", "swatch"),
    "design": ("two_tones", "design"), "pigment": ("studio", "item"), "cement": ("studio", "item"),
    "mould": ("studio", "item"),
}  # fmt: skip
_KINDS = {"design": "two tones", "pigment": "jar", "cement": "bag"}


def find_anything() -> None:
    """A field, and links to what it finds."""
    text = st.text_input(
        "Find by name, or by the code on a sheet", key=kept("typed.start.find"), placeholder="a name or a code"
    )
    if not text.strip():
        return
    found = find(library(), text)
    if not found:
        small(f"Nothing is called {text.strip()[:60]!r}, and no sheet has that code.")
    with st.container(key="list-found"):
        for each in found[:MOST]:
            _link(each)
    if len(found) > MOST:
        small(f"And {len(found) - MOST} more: type more of the name.")


def _link(found: Found) -> None:
    place, name = _PLACES[found.kind]
    link(place, plain(f"{found.words} ({_KINDS.get(found.kind, found.kind)})"), **{name: found.uid})
