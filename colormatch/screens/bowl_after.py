"""After the last bowl: what came out as weighed, how it was poured, and the pieces it becomes."""

from __future__ import annotations

import streamlit as st

from colormatch.bench.cautions import caution_at
from colormatch.palette import Palette
from colormatch.saying import ALIKE
from colormatch.screens.blocks import answer, small, touching
from colormatch.screens.drawing import SAID_LAST, show_cautions
from colormatch.screens.guard import say_then_draw
from colormatch.screens.routes import turn_to
from colormatch.screens.state import in_hand
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import Unsure, answered, keeping, number_field, read, read_if_any, sure
from colormatch.screens.work import Work
from colormatch.workshop.casting import Circumstances, cast
from colormatch.workshop.weighing import Weighing, add_water, effect, note_additive, water_question


def poured(bowl: Weighing, known: Palette) -> None:
    """Everything is in: the shade it will dry to, and one button that makes the pieces of it."""
    seen = effect(known, bowl)
    if seen is not None:
        as_planned = seen.delta_e < ALIKE
        answer("Everything is in.", "It dries as planned." if as_planned else seen.words)
        touching([("planned, dry", seen.planned.lab), ("as weighed, dry", seen.expected.lab)], height_px=64)
    else:
        answer("Everything is in.")
    work = Work("form poured", bowl.batch.uid)
    work.say()
    with st.expander("Weather, room, additive (if you like)"):
        weather = st.text_input("Weather", placeholder="hot and dry, damp, cold ...", **work.field("weather", ""))
        number_field("Room", "bowl.warm", unit="°C", work=work)
        number_field("Humidity", "bowl.damp", unit="%", work=work)
        finish = st.text_input("Mould finish", placeholder="smooth, matt, oiled ...", **work.field("finish", ""))
        additive = st.text_input("Additive", placeholder="plasticiser 1.5 g", **work.field("additive", ""))
        stock = st.checkbox("Take what was weighed from the stock", **work.field("stock", True))
    sent = st.button("Poured into the mould", type="primary", width="stretch", key="bowl.poured.done")
    if sent or sure("bowl.poured", work):
        with keeping("bowl.poured", work):
            said = Circumstances(
                weather=weather,
                temperature_c=read_if_any("bowl.warm", name="The room", unit="°C", high=50),
                humidity_percent=read_if_any("bowl.damp", name="The humidity", unit="%", high=100),
                mould_finish=finish,
            )
            if additive != bowl.additive:
                note_additive(library(), bowl, additive)
            pieces = cast(library(), bowl.batch, circumstances=said, take_from_stock=stock)
            work.drop()
            count = f"{len(pieces)} pieces are" if len(pieces) > 1 else "The piece is"
            in_hand().notices["batch"] = f"{count} in the mould, and kept with what was weighed."
            turn_to("bench", batch=bowl.batch.uid)
    with st.expander("More water went in"):
        number_field("Water more", "bowl.more", unit="g", work=work)
        more = st.button("Note it", width="stretch", key="bowl.more.note")
    said_so = answered("bowl.more")
    if more or sure("bowl.more", work):
        with keeping("bowl.more", work):
            grams = read("bowl.more", name="The water", low=0.01)
            if not said_so and (question := water_question(known, bowl, grams)):
                raise Unsure(question, "bowl.more")
            add_water(library(), bowl, grams)
            work.put(**{"bowl.more": None})
            say_then_draw("bowl", f"Noted: {grams:g} g more water.")
    show_cautions([caution_at("Pour"), caution_at("Clean up")])
    small(SAID_LAST)
