"""A photograph decoded once, for looking at it, marking, measuring and the proof."""

from __future__ import annotations

import streamlit as st

from colormatch.photo import Picture, load_picture
from colormatch.screens.state import Upload


def decoded(upload: Upload) -> Picture:
    """The picture of an upload; raises PhotoError."""
    return _decoded(upload.sha256, upload.content)


@st.cache_resource(max_entries=1, show_spinner=False)  # one at a time is in hand; a large one takes 0.2 GB
def _decoded(sha256: str, _content: bytes) -> Picture:
    return load_picture(_content)
