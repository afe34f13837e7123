"""Swatches: what was kept, as chips to tap; each has its own address, `?swatch=`, and shows its life."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import streamlit as st

from colormatch.arrays import FloatArray
from colormatch.colorimetry import hex_to_lab, lab_to_hex
from colormatch.library import Near, NotInLibrary, ShadeRecord, Swatch, find, find_near
from colormatch.saying import compared, shade_name
from colormatch.science import warm
from colormatch.screens.blocks import small
from colormatch.screens.drawing import STATES, state_words
from colormatch.screens.elsewhere import from_elsewhere
from colormatch.screens.guard import guard, show_notice
from colormatch.screens.routes import asked, link, turn_to
from colormatch.screens.state import in_hand, kept, start_with
from colormatch.screens.studios import library, palette
from colormatch.screens.swatch_life import show_life
from colormatch.screens.tapping import Card, tap_cards
from colormatch.states import in_order
from colormatch.studio import when_measured
from colormatch.workshop.lives import cast_words, times_cast

LATEST, LIKE_WANTED, LIKE_COLOUR = "latest first", "nearest to the wanted shade", "nearest to a screen colour"
MOST = 60  # drawn at once; a judgement of time


def page() -> None:
    uid = asked("swatch")
    if uid:
        try:
            swatch = library().get(Swatch, uid)
        except NotInLibrary:
            st.title("Swatches")
            st.info("There is no swatch at this address any more: it is in the bin, or in the other library.")
            link("swatches", "All swatches")
            return
        show_life(swatch)
        warm()
        return
    st.title("Swatches")
    show_notice("swatches")
    if not library().count(Swatch):
        small("A recipe you keep becomes a swatch: its shade wet, dry and sealed, and how it was made.")
        if st.button("Match a shade", type="primary", width="stretch", key="swatches.match"):
            turn_to("match")
        from_elsewhere()
        return
    found, target = _search()
    if found:
        tapped = tap_cards("swatches", "Swatches", _cards(found[:MOST], target))
        if tapped:
            turn_to("swatches", swatch=tapped)
    small(_count(len(found)))
    from_elsewhere()


def _count(number: int) -> str:
    if not number:
        return "No swatch fits what you look for."
    if number > MOST:
        return f"The first {MOST} are shown: look for a word, a jar or a tag to see the others."
    return "one swatch" if number == 1 else f"{number} swatches"


def _search() -> tuple[Sequence[Swatch | Near], FloatArray | None]:
    """What fits, and the colour it is nearest to, if one was asked for."""
    words = st.text_input(
        "Find", key=start_with("typed.swatches.words", ""), placeholder="a word in name, tags or notes",
        label_visibility="collapsed", icon=":material/search:",
    )  # fmt: skip
    known = palette()
    with st.expander("By jar, tag or colour"):
        one, two, three = st.columns(3)
        pigment = one.selectbox("With the pigment", ["", *known.pigments], key=kept("swatches.pigment"),
                                format_func=lambda name: known.pigments[name].label if name else "any")  # fmt: skip
        tags = sorted({tag for swatch in library().list(Swatch) for tag in swatch.tags})
        tag = two.selectbox("Tag", ["", *tags], format_func=lambda each: each or "any", key=kept("swatches.tag"))
        orders = [LATEST, *([LIKE_WANTED] if in_hand().wanted else []), LIKE_COLOUR]
        order = three.selectbox("Order", orders, key=kept("swatches.order"))
        state, colour = "dry", ""
        if order != LATEST:
            state = one.selectbox(
                "By their shade when", list(STATES), format_func=state_words, key=start_with("swatches.state", "dry")
            )
        if order == LIKE_COLOUR:
            colour = two.text_input("Screen colour", key=start_with("typed.swatches.colour", "#b0603a"))
    wanted: dict[str, Any] = {"text": words, "pigment": pigment or None, "tag": tag or None, "limit": MOST + 1}
    hand = in_hand().wanted
    if order == LATEST or (order == LIKE_WANTED and hand is None):
        return find(library(), **wanted), None
    lab = hex_to_lab(colour) if order == LIKE_COLOUR or hand is None else hand.shade.lab
    return find_near(library(), lab, state=state, **wanted), lab


def _cards(found: Sequence[Swatch | Near], target: FloatArray | None) -> list[Card]:
    """One for each, its shades touching, the dry one large."""
    swatches = [each.swatch if isinstance(each, Near) else each for each in found]
    shades: dict[str, dict[str, ShadeRecord]] = {}
    own = library().list(ShadeRecord, swatch_uid=[each.uid for each in swatches])
    for shade in sorted(own, key=when_measured):
        shades.setdefault(shade.swatch_uid or "", {})[shade.state] = shade
    casts = times_cast(library())
    return [
        _card(each, swatch, shades.get(swatch.uid, {}), casts, target)
        for each, swatch in zip(found, swatches, strict=True)
    ]


def _card(
    found: Swatch | Near,
    swatch: Swatch,
    shades: dict[str, ShadeRecord],
    casts: Counter[str],
    target: FloatArray | None,
) -> Card:
    order = sorted(in_order(shades), key=lambda state: state != "dry")
    lines = []
    if isinstance(found, Near) and target is not None:
        lines.append(compared(found.shade.shade().lab, target))
    if swatch.recipe_uid:
        lines.append(cast_words(casts[swatch.uid]))
    else:
        lines.append("a shade, no recipe yet")
    if swatch.made_on:
        lines.append(f"{swatch.made_on:%d.%m.%Y}")
    says = shade_name(shades[order[0]].shade().lab) if order else ""
    return Card(
        swatch.uid, swatch.name, tuple(lines), tuple(lab_to_hex(shades[state].shade().lab) for state in order),
        alt=says, empty="no shade yet",
    )  # fmt: skip


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
