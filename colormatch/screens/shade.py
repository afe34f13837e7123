"""Shade: a photograph with a reference, or numbers, become the wanted shade."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.drawing import Chip, show_chips
from colormatch.screens.guard import guard
from colormatch.screens.measuring import shade_asked, show_trust
from colormatch.screens.routes import onward, turn_to
from colormatch.screens.state import in_hand


def page() -> None:
    st.title("Shade")
    asked = shade_asked("shade", "Where the wanted shade comes from", two_tones=True)
    if not asked:
        return
    hand = in_hand()
    if asked is not hand.answered:  # a new answer becomes the wanted shade; looking at an old one changes nothing
        hand.answered, hand.wanted = asked, asked[0]
    st.subheader("The wanted shade")
    names = ["Wanted", "Second tone"]
    show_chips([Chip(name, each.shade, each.origin) for name, each in zip(names, asked, strict=False)])
    for name, each in zip(names[: len(asked)], asked, strict=True):
        if len(asked) > 1 and st.button(f"Find recipes for: {name.lower()}", key=f"shade.for.{name}"):
            hand.wanted = each
            turn_to("recipe")
    if len(asked) == 1:
        onward("recipe", "Find recipes for it")
    show_trust("shade")


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
