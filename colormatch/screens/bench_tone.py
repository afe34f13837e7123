"""Which tone of a piece is meant, where it was cast from two bowls."""

from __future__ import annotations

import streamlit as st

from colormatch.library import BatchRecord, Piece
from colormatch.screens.drawing import plain
from colormatch.screens.state import start_with
from colormatch.screens.studios import library
from colormatch.weighed import bowls_of


def tone_of(piece: Piece, place: str) -> str:
    """The bowl ("1", "2") of the tone meant; empty for a piece of one tone."""
    batch = library().find_one(BatchRecord, piece.batch_uid) if piece.batch_uid else None
    if batch is None or piece.bowl:
        return ""
    names = [each.name for each in bowls_of(library(), batch)]
    if len(names) < 2:
        return ""
    key = start_with(f"{place}.tone.{piece.uid}", "1")
    numbers = [str(number) for number in range(1, len(names) + 1)]
    chosen = st.segmented_control("Tone", numbers, format_func=lambda number: plain(names[int(number) - 1]), key=key)
    return chosen or "1"
