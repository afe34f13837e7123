"""A recipe from elsewhere, typed in as it stands there: whatever its amounts are a share of, it becomes a swatch."""

from __future__ import annotations

import streamlit as st

from colormatch.basis import BASES, Amounts, MixProportions
from colormatch.loads import Mix
from colormatch.screens.blocks import small
from colormatch.screens.drawing import plain
from colormatch.screens.guard import say_then_draw
from colormatch.screens.studios import library, offered
from colormatch.screens.typed_numbers import keeping, number_field, read, read_if_any, sure
from colormatch.screens.work import Work
from colormatch.workshop.keeping import keep_mix
from colormatch.workshop.shelf import defaults, shelf

_KEY = "elsewhere"


def from_elsewhere() -> None:
    """The short form, folded away; nothing on an empty shelf."""
    if shelf(library()).empty:
        return
    known = offered()
    with st.expander("A recipe from elsewhere"):
        work = Work(f"form {_KEY}")
        work.say()
        name = st.text_input("Its name", placeholder="From a book", **work.field("name", ""))
        cements = list(known.bases)
        base = st.selectbox("Cement", cements, format_func=known.label, **work.field("base", cements[0], among=cements))
        basis = st.selectbox(
            "Its amounts are", BASES, **work.field("basis", BASES[0], among=BASES),
            help="What the amounts are a share of. The same recipe has other numbers in each.",
        )  # fmt: skip
        if "mix" in basis:
            small("Parts by weight for 1 part of cement.")
            number_field("Sand or filler", f"{_KEY}.sand", hint="0", work=work)
        if "total" in basis:
            number_field("Water", f"{_KEY}.water", hint=f"{defaults(library()).water_per_cement:g}", work=work)
        jars = st.multiselect("Pigments", list(known.pigments), format_func=known.label, select_all=False,
                              **work.field("jars", [], among=known.pigments))  # fmt: skip
        for jar in jars:
            number_field(plain(known.label(jar)), f"{_KEY}.amount.{jar}", unit=basis, work=work)
        if st.button("Keep as a swatch", type="primary", key=f"{_KEY}.keep") or sure(f"{_KEY}.keep", work):
            with keeping(f"{_KEY}.keep", work):
                amounts = {
                    jar: read(f"{_KEY}.amount.{jar}", name=f"The amount of {known.label(jar)}", unit=basis, high=1000)
                    for jar in jars
                }
                loads = Amounts(basis, _mix(basis)).loads(amounts)
                swatch = keep_mix(library(), known, Mix.of(base, loads), name=name)
                work.drop()
                say_then_draw("swatches", f"Kept: {swatch.name}. Its shades are predicted.")
        small("A recipe with more pigment than 10 % of the cement is refused.")


def _mix(basis: str) -> MixProportions:
    """What else is in the mix, where it counts."""
    sand = read_if_any(f"{_KEY}.sand", name="Sand or filler", unit="parts", high=20) if "mix" in basis else None
    water = read_if_any(f"{_KEY}.water", name="Water", unit="parts", high=2) if "total" in basis else None
    return MixProportions(sand or 0.0, defaults(library()).water_per_cement if water is None else water)
