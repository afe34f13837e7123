"""The moulds: by the water that fills one, by wet mix, or by dry cement."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import streamlit as st

from colormatch.library import Mould
from colormatch.screens.blocks import card, confirmed, grid, head_and_button, small
from colormatch.screens.guard import guard
from colormatch.screens.routes import asked, turn_to
from colormatch.screens.short_forms import mould_form
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import keeping, number_field, read_if_any, sure
from colormatch.screens.work import Work
from colormatch.workshop.materials import checked_mould, own_name
from colormatch.workshop.shelf import defaults, set_defaults

_NEW = "new"  # in place of a mould's uid in the address
_AMOUNTS = {
    "volume_ml": ("Water that fills it", "ml"),
    "fill_weight_g": ("Wet mix", "g"),
    "cement_g": ("Dry cement", "g"),
}


def moulds_part() -> None:
    """Every mould as a card."""
    moulds = sorted(library().list(Mould), key=lambda each: each.name.casefold())
    with grid("moulds"):
        for mould in moulds:
            _card(mould)
    if moulds and asked("item") != _NEW:
        if st.button("Add a mould", key="moulds.add"):
            _open(_NEW)
        return
    with card("new-mould"):
        if not moulds:
            small("No mould yet. Fill one with water and weigh the water: that is enough.")
        if mould_form("studio.mould"):
            _open("")


def _card(mould: Mould) -> None:
    opened = asked("item") == mould.uid
    usual = defaults(library()).mould_uid == mould.uid
    amounts = [f"{getattr(mould, field):g} {unit} {words.lower()}" for field, (words, unit) in _AMOUNTS.items()
               if getattr(mould, field) is not None]  # fmt: skip
    with card(f"mould-{mould.uid}"):
        line = " · ".join(["the one forms start with"] * usual + (amounts or ["no amount yet: it cannot be planned"]))
        label = "Close" if opened else "Edit"
        if head_and_button(mould.name, line, label, f"moulds.{mould.uid}", type="tertiary"):
            _open("" if opened else mould.uid)
        if opened:
            _form(mould, usual)


def _form(mould: Mould, usual: bool) -> None:
    key, work = f"mould.{mould.uid}", Work("form mould", mould.uid)
    work.say()
    name = st.text_input("Name", **work.field("name", mould.name))
    for column, (field, (words, unit)) in zip(st.columns(3), _AMOUNTS.items(), strict=True):
        amount = getattr(mould, field)
        with column:
            number_field(words, f"{key}.{field}", unit=unit, value="" if amount is None else f"{amount:g}", work=work)
    notes = st.text_area("Notes", height=68, **work.field("notes", mould.notes))
    with st.container(horizontal=True):
        asked = st.button("Keep", type="primary", key=f"{key}.keep") or sure(f"{key}.keep", work)
        if not usual and st.button("Let forms start with this one", key=f"{key}.usual"):
            set_defaults(library(), mould_uid=mould.uid)
            st.rerun()
    if asked:
        with keeping(f"{key}.keep", work):
            amounts: dict[str, Any] = {field: read_if_any(f"{key}.{field}", name=words, unit=unit)
                       for field, (words, unit) in _AMOUNTS.items()}  # fmt: skip
            title = own_name(library(), Mould, name, "mould", mould.uid)
            library().save(checked_mould(replace(mould, name=title, notes=notes, **amounts)))
            work.drop()
            _open("")
    if confirmed("Remove it", f"{key}-remove", question="It goes into the bin and can be restored.", sure="Remove it"):
        with guard():
            library().delete(mould)
            _open("")


def _open(item: str) -> None:
    turn_to("studio", part="moulds", **({"item": item} if item else {}))
