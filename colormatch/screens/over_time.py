"""Over time: is a shade still what it was, cast after cast; and which defects come when."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import Any

import streamlit as st

from colormatch.bench.control import T2_LIMIT, ControlChart, control_chart
from colormatch.bench.defects import DEFECTS, CastRecord, count_defects, defect
from colormatch.colorimetry import lab_to_hex
from colormatch.library import BatchRecord, DefectRecord, Mould, Piece, RecipeRecord, ShadeRecord, Swatch
from colormatch.screens.blocks import answer, small
from colormatch.screens.drawing import show_table
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.plots import INK, SOFT, show_plot
from colormatch.screens.routes import link
from colormatch.screens.state import kept, start_with
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import keeping, number_field, read, sure
from colormatch.shade import Shade
from colormatch.studio import MEASURED

CIRCUMSTANCES = ("recipe", "mould", "month", "water", "weather")
SHADES, FLAWS = "Shade", "Defects"
FIRST, ASKED = "the first piece", "the wanted shade"


def page() -> None:
    with st.container(key="hand-back"):
        link("bench", "All of the bench")
    st.title("Over time")
    key = start_with("time.part", SHADES)
    part = st.segmented_control("Part", [SHADES, FLAWS], key=key, label_visibility="collapsed", width="stretch")
    if part == FLAWS:
        _flaws()
    else:
        _shades()


def _shades() -> None:
    """The measured dry shades of a recipe's pieces against the wanted shade or the first piece."""
    series = _series()
    if not series:
        st.info("No recipe has a piece that was measured dry yet. Measure one at the bench.")
        return
    recipes = {uid: library().get(RecipeRecord, uid) for uid in series}
    chosen = st.selectbox("Recipe", list(recipes), format_func=lambda uid: recipes[uid].name, key=kept("time.recipe"))
    pieces = series[chosen or next(iter(series))]
    wanted = recipes[chosen].wanted_lab if chosen else None
    against = FIRST
    if wanted:
        key = start_with("time.standard", FIRST)
        against = st.segmented_control("How far from", [FIRST, ASKED], key=key) or FIRST
    standard = Shade(wanted) if wanted and against == ASKED else pieces[0][1]
    shades, names = [shade for _, shade in pieces], [name for name, _ in pieces]
    chart = control_chart(shades, standard, names=names)
    answer(chart.words)
    says = f"{len(names)} pieces in the order they were cast, and how far each is from {against}. {chart.words}"
    show_plot(_plot(chart, shades), says)
    small(f"Above the line a piece differs from {against} by more than your casts usually do from one another.")
    rows = [
        [name, f"{off:.1f}", "beyond the line" if i in chart.out else ""]
        for i, (name, off) in enumerate(zip(names, chart.delta_e, strict=True))
    ]
    show_table(["Piece", "off, dE00", "note"], rows)


def _plot(chart: ControlChart, shades: Sequence[Shade]) -> Any:
    import altair as alt

    rows = [
        {"piece": i, "far": float(far), "name": name, "colour": str(lab_to_hex(shade.lab))}
        for i, (far, name, shade) in enumerate(zip(chart.t2, chart.names, shades, strict=True), start=1)
    ]
    data = alt.InlineData(values=rows)
    x = alt.X("piece:Q", title="piece, in the order cast", axis=alt.Axis(tickMinStep=1, format="d"))
    y = alt.Y("far:Q", title="how far")
    points = alt.Chart(data).mark_point(filled=True, size=190, stroke=INK, strokeWidth=1, opacity=1)
    shown = points.encode(
        x=x, y=y, fill=alt.Fill("colour:N", scale=None, legend=None), tooltip=[alt.Tooltip("name:N", title="piece")]
    )
    limit = alt.Chart(alt.InlineData(values=[{"far": T2_LIMIT}])).mark_rule(color=INK, strokeDash=[5, 4]).encode(y=y)
    return alt.layer(alt.Chart(data).mark_line(color=SOFT, strokeWidth=1).encode(x=x, y=y), limit, shown)


def _series() -> dict[str, list[tuple[str, Shade]]]:
    """Recipe uid -> (name, measured dry shade) of its pieces, oldest first; the longest series first."""
    pieces = {each.uid: each for each in library().list(Piece) if each.recipe_uid}
    swatches = {each.uid: each for each in library().list(Swatch) if each.recipe_uid}
    recipes = {each.uid for each in library().list(RecipeRecord)}
    found: dict[str, list[tuple[date, str, Shade]]] = {}
    for record in library().list(ShadeRecord, state="dry"):
        if record.provenance.get("kind") != MEASURED:
            continue
        piece, swatch = pieces.get(record.piece_uid or ""), swatches.get(record.swatch_uid or "")
        if piece is not None:
            cast, when = piece, piece.cast_at.date() if piece.cast_at else record.measured_on
        elif swatch is not None:
            cast, when = swatch, swatch.made_on or record.measured_on  # type: ignore[assignment]
        else:
            continue
        if cast.recipe_uid in recipes:
            found.setdefault(str(cast.recipe_uid), []).append((when or date.min, cast.name, record.shade()))
    ordered = {uid: sorted(each, key=lambda one: (one[0], one[1])) for uid, each in found.items()}
    ordered = dict(sorted(ordered.items(), key=lambda item: -len(item[1])))
    return {uid: [(name, shade) for _, name, shade in each] for uid, each in ordered.items()}


def _flaws() -> None:
    batches = {each.uid: each for each in library().list(BatchRecord) if each.stage not in ("planned", "weighing")}
    if not batches:
        st.info("No batch was cast yet.")
        return
    show_notice("flaw")
    with st.form("time.flaw", border=False):
        batch = st.selectbox("Batch", list(batches), format_func=lambda uid: batches[uid].name or uid)
        word = st.selectbox("Defect", list(DEFECTS))
        number_field("Pieces with it", "time.pieces", value="1")
        notes = st.text_input("Notes", "")
        sent = st.form_submit_button("Note the defect", type="primary", width="stretch")
    if sent or sure("time.flaw"):
        with keeping("time.flaw"):
            most = batches[batch].pieces or 1
            pieces = round(read("time.pieces", name="The number of pieces", unit="", low=1, high=most))
            seen = [DefectRecord(name=word, batch_uid=batch, seen_on=date.today(), notes=notes) for _ in range(pieces)]
            library().save_all(seen)
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
    counts = count_defects(_records(batches), word, by)
    rows = [
        [
            each.value,
            f"{each.with_defect} of {each.pieces}",
            f"{each.share:.0%} ({each.low:.0%} to {each.high:.0%})",
            "stands out" if each.stands_out else "",
        ]
        for each in counts
    ]
    show_table([by.capitalize(), "Pieces", "Share (likely range)", "Note"], rows)


def _records(batches: dict[str, BatchRecord]) -> list[CastRecord]:
    """Every batch with its defects and what was recorded of its circumstances."""
    recipes = {each.uid: each.name for each in library().list(RecipeRecord)}
    moulds = {each.uid: each.name for each in library().list(Mould)}
    water = {each.batch_uid: each.water_per_cement for each in library().list(Piece) if each.water_per_cement}
    seen = Counter((each.batch_uid, each.name) for each in library().list(DefectRecord))
    return [
        CastRecord(
            pieces=batch.pieces or 1,
            defects={word: min(seen[uid, word], batch.pieces or 1) for word in DEFECTS if seen[uid, word]},
            circumstances={
                "recipe": recipes.get(batch.recipe_uid or "", ""),
                "mould": moulds.get(batch.mould_uid or "", ""),
                "month": f"{batch.made_on:%B}" if batch.made_on else "",
                "water": f"{100 * water[uid]:.0f} g to 100 g" if uid in water else str(batch.content.get("water", "")),
                "weather": str(batch.content.get("weather", "")),
            },
        )
        for uid, batch in batches.items()
    ]


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
