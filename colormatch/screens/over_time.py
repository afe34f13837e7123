"""Over time: is a shade still what it was, cast after cast; and which defects come when."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt
import streamlit as st

from colormatch.bench.control import ControlChart, control_chart
from colormatch.bench.defects import DEFECTS, count_defects, defect
from colormatch.colorimetry import lab_to_hex
from colormatch.library import BatchRecord
from colormatch.loads import per_cent
from colormatch.screens.blocks import answer, small
from colormatch.screens.drawing import show_table
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.plots import INK, SOFT, rows, show_plot
from colormatch.screens.routes import by_address, link
from colormatch.screens.state import kept, start_with
from colormatch.screens.studios import library, palette
from colormatch.screens.typed_numbers import keeping, number_field, read_whole, sure
from colormatch.screens.work import Work
from colormatch.shade import Shade
from colormatch.workshop.over_time import CIRCUMSTANCES, cast_records, dry_series, note_defect

SHADES, FLAWS = "Shade", "Defects"
FIRST, ASKED = "the first piece", "the wanted shade"


def page() -> None:
    with st.container(key="hand-back"):
        link("bench", "All of the bench")
    st.title("Over time")
    part = st.segmented_control("Part", [SHADES, FLAWS], required=True, label_visibility="collapsed", width="stretch",
                                **by_address("part", SHADES, (SHADES, FLAWS)))  # fmt: skip
    if part == FLAWS:
        _flaws()
    else:
        _shades()


def _shades() -> None:
    """The measured dry shades of a recipe's pieces against the wanted shade or the first piece."""
    series = {each.recipe.uid: each for each in dry_series(library())}
    if not series:
        st.info("No recipe has a piece that was measured dry yet. Measure one at the bench.")
        return
    named = {uid: each.recipe.name for uid, each in series.items()}
    chosen = st.selectbox("Recipe", list(named), format_func=named.__getitem__, key=kept("time.recipe"))
    own = series[chosen or next(iter(series))]
    wanted = own.recipe.wanted_lab if chosen else None
    against: str | None = FIRST
    if wanted:
        key = start_with("time.standard", FIRST)
        against = st.segmented_control("How far from", [FIRST, ASKED], key=key, required=True)
    standard = Shade(wanted) if wanted and against == ASKED else own.shades[0]
    shades, names = own.shades, own.names
    chart = control_chart(shades, standard, names=names, cast_sd=palette().cast_sd)
    answer(chart.words)
    says = f"{len(names)} pieces in the order they were cast, and how far each is from {against}. {chart.words}"
    show_plot(_plot(chart, shades), says)
    small(f"Above the line a piece differs from {against}, or the last ones do, by more than your casts usually do.")
    if own.too_early:
        small(f"Left out until measured again: {own.too_early} measured before they had dried.")
    rows = [
        [name, f"{off:.1f}{', beyond the line' if i in chart.out else ''}"]
        for i, (name, off) in enumerate(zip(names, chart.delta_e, strict=True))
    ]
    show_table(["Piece", "off, dE00"], rows)


def _plot(chart: ControlChart, shades: Sequence[Shade]) -> Any:
    values = [
        {"piece": i, "far": float(far), "name": name, "colour": str(lab_to_hex(shade.lab))}
        for i, (far, name, shade) in enumerate(zip(chart.of_limit, chart.names, shades, strict=True), start=1)
    ]
    data = rows(values)
    x = alt.X("piece:Q", title="piece, in the order cast", axis=alt.Axis(tickMinStep=1, format="d"))
    y = alt.Y("far:Q", title="how far, 1: the limit")
    points = alt.Chart(data).mark_point(filled=True, size=190, stroke=INK, strokeWidth=1, opacity=1)
    shown = points.encode(
        x=x, y=y, fill=alt.Fill("colour:N", scale=None, legend=None), tooltip=[alt.Tooltip("name:N", title="piece")]
    )
    limit = alt.Chart(rows([{"far": 1.0}])).mark_rule(color=INK, strokeDash=[5, 4]).encode(y=y)
    return alt.layer(alt.Chart(data).mark_line(color=SOFT, strokeWidth=1).encode(x=x, y=y), limit, shown)


def _flaws() -> None:
    batches = {each.uid: each for each in library().list(BatchRecord) if each.stage not in ("planned", "weighing")}
    if not batches:
        st.info("No batch was cast yet.")
        return
    show_notice("flaw")
    work = Work("form defect")
    work.say()
    batch = st.selectbox("Batch", list(batches), format_func=lambda uid: batches[uid].name or uid,
                         **work.field("batch", next(iter(batches)), among=batches))  # fmt: skip
    word = st.selectbox("Defect", list(DEFECTS), **work.field("defect", next(iter(DEFECTS)), among=DEFECTS))
    number_field("Pieces with it", "time.pieces", value="1", work=work)
    notes = st.text_input("Notes", **work.field("notes", ""))
    sent = st.button("Note the defect", type="primary", width="stretch", key="time.flaw.note")
    if sent or sure("time.flaw", work):
        with keeping("time.flaw", work):
            most = batches[batch].pieces or 1
            pieces = read_whole("time.pieces", name="The number of pieces", low=1, high=most)
            note_defect(library(), batches[batch], word, pieces, notes)
            work.drop()
            say_then_draw("flaw", f"Noted: {word}, {pieces} of {batches[batch].name}.")
    word = st.selectbox("Look at", list(DEFECTS), key=kept("time.word"))
    known = defect(word)
    small(f"It looks like this: {known.looks_like}")
    with st.expander("What it often comes from, and what to try"):
        for cause in known.causes:
            small(f"From: {cause}")
        for remedy in known.remedies:
            small(f"Try: {remedy}")
        small("Common practice, without a source.")
    by = st.selectbox("Counted by", CIRCUMSTANCES, key=start_with("time.by", "recipe"))
    counts = count_defects(cast_records(library()), word, by)
    rows = [
        [
            each.value,
            f"{each.with_defect} of {each.pieces}",
            f"{per_cent(each.share, 0)} ({per_cent(each.low, 0)} to {per_cent(each.high, 0)})",
            "stands out" if each.stands_out else "",
        ]
        for each in counts
    ]
    show_table([by.capitalize(), "Pieces", "Share (likely range)", "Note"], rows)


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
