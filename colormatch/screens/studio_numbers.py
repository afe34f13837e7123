"""The studio's own numbers: what every form starts from, and the light its pieces are seen under."""

from __future__ import annotations

import streamlit as st

from colormatch.errors import InputError
from colormatch.screens.blocks import card, small
from colormatch.screens.guard import say_then_draw, show_notice
from colormatch.screens.studios import library, settings
from colormatch.screens.typed_numbers import keeping, number_field, read, sure
from colormatch.screens.work import Work
from colormatch.workshop.lights import lights
from colormatch.workshop.shelf import defaults, set_defaults


def numbers_part() -> None:
    """Name, currency, scales, cap, water, light."""
    now, key, work = defaults(library()), "numbers", Work("form numbers")
    with card("numbers"):
        work.say()
        name = st.text_input("Name of the studio", **work.field("name", settings().name))
        one, two = st.columns(2)
        with one:
            number_field("Step of the pigment scale", f"{key}.step", unit="g", value=f"{now.scale_step_g:g}", work=work)
            most = f"{100 * now.load_cap:g}"
            number_field("Most pigment", f"{key}.cap", unit="% of the cement", value=most, work=work)
            currency = st.text_input("Currency", **work.field("currency", now.currency))
        with two:
            number_field("Step of the cement scale", f"{key}.bulk", unit="g", value=f"{now.bulk_step_g:g}", work=work)
            water = f"{100 * now.water_per_cement:g}"
            number_field("Water", f"{key}.water", unit="g to 100 g of cement", value=water, work=work)
            known = lights(library())
            light = st.selectbox("Pieces are seen in", list(known), format_func=known.__getitem__,
                                 **work.field("light", now.light, among=known))  # fmt: skip
        if st.button("Keep", type="primary", key=f"{key}.keep") or sure(f"{key}.keep", work):
            with keeping(f"{key}.keep", work):
                if not name.strip():
                    raise InputError("The studio needs a name: what stands on your door or your stamp.")
                set_defaults(
                    library(), name=name.strip(), currency=currency.strip(), light=light,
                    scale_step_g=read(f"{key}.step", name="The step of the pigment scale"),
                    bulk_step_g=read(f"{key}.bulk", name="The step of the cement scale"),
                    load_cap=read(f"{key}.cap", name="The most pigment", unit="%", low=0.1, high=10) / 100,
                    water_per_cement=read(f"{key}.water", name="The water", low=10, high=100) / 100,
                )  # fmt: skip
                work.drop()
                say_then_draw("studio.numbers", "Kept. Every form starts from these.")
        show_notice("studio.numbers")
        small("5 % of pigment and 1 part of water to 4 of cement are common practice, without a source; "
              "ASTM C979 allows at most 10 % of pigment in all.")  # fmt: skip
