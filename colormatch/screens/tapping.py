"""Things to tap: chips, recipe cards, drawn pieces, partners; one component for all of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

import streamlit as st

from colormatch.screens.guard import guard

_HERE = Path(__file__).parent
_component = st.components.v2.component(
    "colormatch.tapping",
    html="<ul></ul>",
    css=(_HERE / "tapping.css").read_text("utf-8"),
    js=(_HERE / "tapping.js").read_text("utf-8"),
)


@dataclass(frozen=True, slots=True)
class Card:
    """One thing to tap. colours: its shades (#rrggbb), touching, the one that matters first; or a picture.

    alt: what the picture or the colours show, in words. note: a short word at the right end of a row.
    empty: what stands where a thing has no shade yet.
    """

    key: str
    title: str
    lines: tuple[str, ...] = ()
    colours: tuple[str, ...] = ()
    picture: str = ""
    alt: str = ""
    note: str = ""
    empty: str = ""


def tap_cards(
    name: str,
    label: str,
    cards: Sequence[Card],
    *,
    on_tap: Callable[[str], None] | None = None,
    layout: Literal["grid", "rows", "pictures"] = "grid",
    chosen: str | None = None,
    reveal: str = "",
) -> str | None:
    """Draw the cards; the key of the one just tapped, once. `on_tap` gets it before the page is drawn again.

    name: unique on the page. label: what the cards are, for a screen reader. chosen: the key that is chosen,
    "" for none of them; None where tapping opens something rather than choosing. reveal: key of the container that
    shows what was tapped, brought into sight.
    """
    key = f"tapped|{name}"
    keys = {card.key for card in cards}

    def tapped() -> None:
        sent = (st.session_state.get(key) or {}).get("tap")
        if sent in keys and on_tap is not None:
            with guard():
                on_tap(str(sent))

    data = {
        "label": label,
        "layout": layout,
        "chosen": chosen,
        "reveal": reveal,
        "cards": [asdict(card) for card in cards],
    }
    sent = _component(key=key, data=data, on_tap_change=tapped).get("tap")
    return str(sent) if sent in keys else None
