"""How the nouns show themselves in a notebook: a table with a chip of colour beside each line of words."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from numpy.typing import ArrayLike

from .colorimetry import lab_to_hex

_CHIP = "display:inline-block;width:3em;height:1.4em;border:6px solid #777;background:"  # on mid grey, as on the page


def chip_table(title: str, rows: Iterable[tuple[ArrayLike, str]]) -> str:
    """HTML of a titled table; rows: (CIELAB, words beside its chip)."""
    lines = (
        f'<tr><td><span role="img" aria-label="{escape(words)}" style="{_CHIP}{lab_to_hex(lab)}"></span></td>'
        f"<td style='text-align:left'>{escape(words)}</td></tr>"
        for lab, words in rows
    )
    return f"<table><caption>{escape(title)}</caption>{''.join(lines)}</table>"
