"""The first day: a list that ticks itself off, each step's short form in its place."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.blocks import card, head, head_and_button, small, ticked
from colormatch.screens.help import WITHOUT_TILES
from colormatch.screens.routes import asked, turn_to
from colormatch.screens.short_forms import bag_form, jar_form, mould_form, scale_form
from colormatch.screens.studios import library
from colormatch.workshop.beginning import FirstStep, first_steps

_FORMS = {"cement": bag_form, "jars": jar_form, "mould": mould_form, "scale": scale_form}
_TURNS = {"tiles": ("tiles", "See what to weigh"), "match": ("match", "Match a shade")}


def first_day() -> None:
    """The steps; the first that is not done is open, or the one she opened."""
    steps = first_steps(library())
    here = _open_step(steps)
    for number, step in enumerate(steps, start=1):
        with card(f"step-{step.name}"):
            mark = ticked(step.done, number)
            if step.name == here:
                head(step.words, step.note, mark=mark)
                _step(step)
            elif head_and_button(step.words, step.note, _label(step), f"step.{step.name}", mark=mark, type="tertiary"):
                if step.name in _TURNS:
                    turn_to(_TURNS[step.name][0])
                _turn(step.name)
    if not next(step for step in steps if step.name == "tiles").done:
        small(f"No time for tiles? Recipes work from the first day. {WITHOUT_TILES} Measured in simulated studios.")


def _step(step: FirstStep) -> None:
    if step.name in _TURNS:
        place, words = _TURNS[step.name]
        if st.button(words, type="primary", key=f"step.{step.name}.go"):
            turn_to(place)
        return
    if _FORMS[step.name](f"first.{step.name}"):
        _turn("jars" if step.name == "jars" else "")
    if step.name == "jars" and step.done and st.button("These are all my jars", key="step.jars.all"):
        _turn("")


def _open_step(steps: tuple[FirstStep, ...]) -> str:
    return asked("step") or next((step.name for step in steps if not step.done), "match")


def _label(step: FirstStep) -> str:
    if step.name in _TURNS:
        return _TURNS[step.name][1]
    if not step.done:
        return "open"
    return "change" if step.name == "scale" else "add another"


def _turn(name: str) -> None:
    turn_to("start", **({"step": name} if name else {}))
