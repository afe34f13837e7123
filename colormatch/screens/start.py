"""Today: what needs her, most urgent first; in a new library, the first day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import streamlit as st

from colormatch.screens.blocks import card, caution, head, head_and_button, small
from colormatch.screens.finding import find_anything
from colormatch.screens.first_day import first_day
from colormatch.screens.guard import guard
from colormatch.screens.left_out import left_out_line
from colormatch.screens.needs import go_to, mark_of, words_on_button
from colormatch.screens.phone import on_the_phone
from colormatch.screens.routes import turn_to
from colormatch.screens.studios import library
from colormatch.workshop.beginning import settled
from colormatch.workshop.today import Need, today

NUMBERS = ("Nothing waits", "One thing", "Two things", "Three things", "Four things", "Five things", "Six things",
           "Seven things", "Eight things", "Nine things")  # fmt: skip
MOST = 6  # on one screen of a phone: by eye


def page() -> None:
    needs = today(library())
    if settled(library()):
        _today(needs)
    else:
        st.title("First batch in six steps")
        small("Nothing here is sent anywhere.")
        _cards([each for each in needs if each.urgent])
        first_day()
    left_out_line()
    on_the_phone()


def _today(needs: Sequence[Need]) -> None:
    soft = [each for each in needs if each.kind == "stock"]
    doing = [each for each in needs if each.kind != "stock"]
    count = NUMBERS[len(doing)] if len(doing) < len(NUMBERS) else f"{len(doing)} things"
    st.title(f"{count} today")
    small(f"{date.today():%A} {date.today().day} {date.today():%B}")
    _cards(doing[:MOST])
    if len(doing) > MOST:
        with st.expander(f"And {len(doing) - MOST} more"):
            _cards(doing[MOST:], first=len(doing))
    with st.container(horizontal=True, key="today-doors"):
        if st.button("Match a shade", type="secondary" if doing else "primary", key="start.match", width="stretch"):
            turn_to("match")
        if st.button("Cast again", key="start.again", width="stretch"):
            turn_to("bench", cast="all")
    for need in soft:
        with card(f"soft-{need.uid}"):
            caution(need.words)
    with st.container(key="narrow-find"):
        find_anything()


def _cards(needs: Sequence[Need], first: int = 0) -> None:
    """One card a need with its one button; that of the most urgent is the dark one."""
    with st.container(key=f"grid-needs-{first}"):
        for number, need in enumerate(needs, start=first):
            key = f"need-{need.kind}-{need.uid}"
            with card(key):
                words, mark = words_on_button(need), mark_of(need)
                if number == 0:
                    head(need.words, need.detail, mark=mark)
                    pressed = st.button(words, type="primary", key=f"{key}-go", width="stretch")
                else:
                    pressed = head_and_button(need.words, need.detail, words, f"{key}-go", mark=mark)
                if pressed:
                    go_to(need)


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
