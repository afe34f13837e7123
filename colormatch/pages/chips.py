"""Colour chips on neutral grey, with the numbers beside each; everything a maker typed is escaped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
import streamlit as st

from colormatch.arrays import FloatArray
from colormatch.colorimetry import in_srgb_gamut, lab_to_hex
from colormatch.shade import Shade

_STYLE = """<style>
.chips {display:flex; flex-wrap:wrap; gap:12px; background:#9b9b9b; padding:14px; border-radius:4px; margin:2px 0}
.chip {flex:1 1 130px; max-width:230px; color:#111; font-size:.86rem; line-height:1.35}
.chip i {display:block; font-style:normal; border-radius:2px; margin-bottom:6px}
.chip b {font-weight:600; font-size:.95rem}
.chip span {display:block; font-variant-numeric:tabular-nums}
</style>"""


@dataclass(frozen=True, slots=True)
class Chip:
    """One chip: what it is, its shade, and a further line."""

    label: str
    shade: Shade
    note: str = ""


def show_chips(chips: Sequence[Chip], *, height_px: int = 110) -> None:
    """A row of chips on neutral grey."""
    st.html(_STYLE + '<div class="chips">' + "".join(_chip(chip, height_px) for chip in chips) + "</div>")


def numbers(lab: FloatArray) -> str:
    """`L* 52.0  a* 18.0  b* 20.0`."""
    lightness, a, b = (float(x) + 0.0 for x in np.round(lab, 1))
    return f"L* {lightness:.1f}  a* {a:.1f}  b* {b:.1f}"


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
