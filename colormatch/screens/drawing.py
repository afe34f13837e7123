"""What the pages draw by themselves: chips on neutral grey, tables, cautions, plain words.

Everything a maker (or a library from elsewhere) may have written is escaped: HTML in what is drawn here,
Markdown in what Streamlit draws.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape

import numpy as np
import streamlit as st

from colormatch.arrays import FloatArray
from colormatch.colorimetry import in_srgb_gamut, lab_to_hex
from colormatch.science import is_here, munsell
from colormatch.shade import Shade

SAID_LAST = "Safety data sheets, local codes and licensed practice come first."
# In the order in which a piece goes through them.
STATES = {"demould": "Fresh from the mould", "wet": "Cured, then wetted", "dry": "Dry", "sealed": "Sealed"}
WORDS = {
    "L*": "how light: 0 is black, 100 is white.",
    "a*": "red above 0, green below.",
    "b*": "yellow above 0, blue below.",
    "dE00": "how far apart two shades are; 1 is hardly to be told apart, 2 passes for the same on mottled cement.",
    "±": "the uncertainty: two times in three the truth lies within it, in each number.",
    "Munsell": "a name for a colour in a system of colour chips: hue, how light, how strong.",
    "% of the cement": "pigment in 100 parts of dry cement, by weight.",
}


@dataclass(frozen=True, slots=True)
class Chip:
    """One chip: what it is, its shade, and a further line."""

    label: str
    shade: Shade
    note: str = ""


def show_chips(chips: Sequence[Chip], *, height_px: int = 110) -> None:
    """A row of chips on neutral grey."""
    st.html('<div class="chips">' + "".join(_chip(chip, height_px) for chip in chips) + "</div>")


def state_words(state: str) -> str:
    """A state as a heading; `sealed:wax` is `Sealed with wax`."""
    return STATES.get(state) or state.replace(":", " with ").capitalize()


def show_cautions(cautions: Sequence[str]) -> None:
    """The cautions of a step, in a grey box with a bar, where the step happens."""
    lines = "".join(f"<li>{escape(caution)}</li>" for caution in cautions)
    st.html(f'<div class="cautions"><b>Caution</b><ul>{lines}</ul></div>')


def show_table(head: Sequence[str], rows: Sequence[Sequence[str]], *, numbers_from: int = 1) -> None:
    """A table; the columns from `numbers_from` on are aligned to the right. No head: leave it empty."""

    def row(cells: Sequence[str], tag: str) -> str:
        sides = ["" if place < numbers_from else ' class="n"' for place in range(len(cells))]
        return "<tr>" + "".join(f"<{tag}{s}>{escape(c)}</{tag}>" for c, s in zip(cells, sides, strict=True)) + "</tr>"

    top = f"<thead>{row(head, 'th')}</thead>" if any(head) else ""
    body = "".join(row(cells, "td") for cells in rows)
    st.html(f'<table class="plain">{top}<tbody>{body}</tbody></table>')


def stamp_words(stamp: str) -> str:
    """`2026-11-25T09:40:12+00:00` as her clock shows it, to the minute."""
    return f"{datetime.fromisoformat(stamp).astimezone():%d.%m.%Y, %H:%M}"


def plain(text: object) -> str:
    """Words that Streamlit shows as they stand, whatever Markdown signs are in them."""
    return re.sub(r"([\\`*_{}\[\]()<>#+\-.!|~$:&])", r"\\\1", str(text))


def numbers(lab: FloatArray) -> str:
    """`L* 52.0  a* 18.0  b* 20.0`."""
    lightness, a, b = (float(x) + 0.0 for x in np.round(lab, 1))
    return f"L* {lightness:.1f}  a* {a:.1f}  b* {b:.1f}"


def notation(lab: FloatArray) -> str:
    """`Munsell 1.8YR 5.1/4.9`; empty where it has none, or until the field's library is there, which none waits for."""
    name = munsell(lab) if is_here() else None
    return f"Munsell {name}" if name else ""


def _chip(chip: Chip, height_px: int) -> str:
    lab, sd = chip.shade.lab, chip.shade.sd
    lines = [numbers(lab)]
    lines.append(f"{lab_to_hex(lab)}" + (f"  ± {sd:.1f}" if sd > 0 else ""))
    if not bool(in_srgb_gamut(lab)):
        lines.append("beyond what a screen can show")
    if chip.note:
        lines.append(chip.note)
    spans = "".join(f"<span>{escape(line)}</span>" for line in lines)
    return (
        f'<div class="chip"><i style="background:{lab_to_hex(lab)};height:{height_px}px"></i>'
        f"<b>{escape(chip.label)}</b>{spans}</div>"
    )
