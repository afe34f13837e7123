"""Swatches side by side on neutral grey, each in the states it was seen in; it wraps on a phone."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import streamlit as st

from colormatch.colorimetry import lab_to_hex
from colormatch.library import Near, ShadeRecord, Swatch
from colormatch.screens.drawing import in_order
from colormatch.screens.studios import library

SHORT = {"demould": "fresh", "wet": "wetted", "dry": "dry", "sealed": "sealed"}
_STYLE = """<style>
.swatches {display:grid; grid-template-columns:repeat(auto-fill, minmax(150px, 1fr)); gap:14px; background:#9b9b9b;
  padding:14px; border-radius:4px; color:#111; line-height:1.3}
.swatches b {display:block; font-weight:600; font-size:.95rem; overflow-wrap:anywhere; margin-top:5px}
.swatches small {display:block; font-size:.82rem}
.swatches .states {display:flex} .swatches .states div {flex:1; min-width:0; font-size:.74rem}
.swatches i {display:block; height:84px} .swatches .none {border:1px solid #111; height:84px; padding:6px}
</style>"""


def show_swatches(found: Sequence[Swatch | Near]) -> None:
    """What was found, in its order; of each state the latest shade."""
    uids = [_swatch(each).uid for each in found]
    shades: dict[str, list[ShadeRecord]] = {}
    for shade in sorted(library().list(ShadeRecord, swatch_uid=uids), key=lambda each: str(each.measured_on or "")):
        shades.setdefault(shade.swatch_uid or "", []).append(shade)
    cards = "".join(_card(each, shades.get(uid, [])) for each, uid in zip(found, uids, strict=True))
    st.html(f'{_STYLE}<div class="swatches">{cards}</div>')


def _swatch(found: Swatch | Near) -> Swatch:
    return found.swatch if isinstance(found, Near) else found


def _card(found: Swatch | Near, shades: Sequence[ShadeRecord]) -> str:
    swatch = _swatch(found)
    latest = {shade.state: shade for shade in shades}
    states = "".join(
        f'<div><i style="background:{lab_to_hex(latest[each].shade().lab)}"></i>{escape(SHORT.get(each, each))}</div>'
        for each in in_order(latest)
    )
    facts = [f"dE00 {found.delta_e:.1f}"] if isinstance(found, Near) else []
    facts += [f"{swatch.made_on:%d.%m.%Y}"] if swatch.made_on else []
    top = f'<div class="states">{states}</div>' if states else '<div class="none">no shade yet</div>'
    return f"<div>{top}<b>{escape(swatch.name)}</b><small>{', '.join(facts)}</small></div>"
