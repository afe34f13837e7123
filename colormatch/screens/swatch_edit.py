"""A swatch corrected: its name, tags and notes, a shade measured elsewhere, an earlier version; or put in the bin."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from colormatch.library import Swatch
from colormatch.screens.drawing import STATES, show_table, stamp_words, state_words
from colormatch.screens.guard import guard, say_then_draw
from colormatch.screens.keeping import measured_shade, new_name, tags_of
from colormatch.screens.routes import turn_to
from colormatch.screens.state import in_hand
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import keeping, lab_fields, read_lab, sure
from colormatch.screens.work import Work
from colormatch.shade import Shade


def edit(swatch: Swatch) -> None:
    """Name, tags, notes; half-typed they are kept as work in hand."""
    with st.expander("Edit name, tags, notes"):
        work = Work("form swatch", swatch.uid, title=swatch.name)
        name = st.text_input("Name", **work.field("name", swatch.name))
        tags = st.text_input("Tags, separated by commas", **work.field("tags", ", ".join(swatch.tags)))
        notes = st.text_area("Notes", **work.field("notes", swatch.notes))
        with st.container(horizontal=True):
            if st.button("Keep the change", key="swatch.edit"):
                with guard():
                    library().save(replace(swatch, name=new_name(name, swatch.uid), tags=tags_of(tags), notes=notes))
                    work.drop()
                    say_then_draw("swatch", "The change is kept.")
            if st.button("Put it in the bin", type="tertiary", key="swatch.bin"):
                with guard():
                    library().delete(swatch)
                    in_hand().notices["swatches"] = f"{swatch.name} is in the bin; it can be restored in the studio."
                    turn_to("swatches")
        _history(swatch)


def _history(swatch: Swatch) -> None:
    versions = library().history(swatch)
    earlier = [each.number for each in versions[:-1]]
    if not earlier:
        return
    rows = [[str(each.number), stamp_words(each.saved_at), each.record.name, ", ".join(each.record.tags)]
            for each in versions if isinstance(each.record, Swatch)]  # fmt: skip
    show_table(["Version", "Kept at", "Name", "Tags"], rows, numbers_from=4)
    number = st.selectbox("Restore version", earlier, index=len(earlier) - 1, key=f"swatch.version|{swatch.uid}")
    if st.button("Restore it", key="swatch.restore"):
        with guard():
            library().revert(swatch, number)
            say_then_draw("swatch", f"Version {number} is the present one again.")


def add_shade(swatch: Swatch) -> None:
    """A shade measured on a finished piece; with a recipe behind it, the next learning counts it."""
    with st.expander("Add a measured shade"):
        measured, work = in_hand().asked.get("match"), Work("form measured", swatch.uid)
        work.say()
        state = st.selectbox("The piece is", list(STATES), format_func=state_words,
                             **work.field("state", "dry", among=STATES))  # fmt: skip
        start = measured[0].shade if measured else Shade((60.0, 0.0, 0.0), sd=1.0)
        if measured:
            st.caption("Filled in from the photograph measured last at Match.")
        place = f"swatch.{swatch.uid}"
        lab_fields(place, [*(float(x) for x in start.lab), max(start.sd, 0.1)], work)
        sent = st.button("Keep this shade", key=f"{place}.shade")
    if sent or sure(place, work):
        with keeping(place, work):
            library().save(measured_shade(read_lab(place), state=state, swatch_uid=swatch.uid))
            work.drop()
            say_then_draw("swatch", f"Kept: its shade {state_words(state).lower()}, measured.")
