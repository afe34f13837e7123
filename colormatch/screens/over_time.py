"""Over time: is a shade still what it was, batch after batch; and which defects come when."""

from __future__ import annotations

from collections import Counter
from datetime import date

import numpy as np
import streamlit as st

from colormatch.bench.control import T2_LIMIT, control_chart
from colormatch.bench.defects import DEFECTS, CastRecord, count_defects, defect
from colormatch.library import BatchRecord, DefectRecord, Mould, RecipeRecord, ShadeRecord, Swatch
from colormatch.render import control_picture
from colormatch.screens.drawing import plain, show_table
from colormatch.screens.guard import guard
from colormatch.screens.state import kept, start_with
from colormatch.screens.studios import library
from colormatch.shade import Shade
from colormatch.studio import MEASURED

CIRCUMSTANCES = ("recipe", "mould", "month", "water", "weather")
SHADES, FLAWS = "Shade against its standard", "Defects"


def page() -> None:
    st.title("Over time")
    part = st.radio(
        "Part", [SHADES, FLAWS], horizontal=True, label_visibility="collapsed", key=start_with("time.part", SHADES)
    )
    if part == SHADES:
        _shades()
    else:
        _flaws()


def _shades() -> None:
    """The measured dry shades of a recipe's pieces against the wanted shade or the first piece."""
    series = _series()
    if not series:
        st.info("No recipe has a finished piece with a measured dry shade yet. Measure one on the page before this.")
        return
    recipes = {uid: library().get(RecipeRecord, uid) for uid in series}
    chosen = st.selectbox("Recipe", list(recipes), format_func=lambda uid: recipes[uid].name, key=kept("time.recipe"))
    pieces = series[chosen]
    wanted = recipes[chosen].wanted_lab
    standards = ["the first piece", *(["the wanted shade"] if wanted else [])]
    against = st.radio("Standard", standards, horizontal=True, key=start_with("time.standard", standards[0]))
    standard = Shade(wanted) if wanted and against == standards[-1] and len(standards) > 1 else pieces[0][1]
    shades, names = [shade for _, shade in pieces], [name for name, _ in pieces]
    chart = control_chart(shades, standard, names=names)
    st.markdown(plain(chart.words))
    st.image(
        control_picture(
            chart.t2,
            limit=T2_LIMIT,
            names=names,
            chips=np.array([shade.lab for shade in shades]),
            standard=standard.lab,
            first_out=chart.first_out,
            value_name="T² of the distance from the standard",
        ),
        caption="The limit comes from your own scatter from cast to cast",
    )
    rows = [
        [name, f"dE00 {off:.1f}", "out of control" if i in chart.out else ""]
        for i, (name, off) in enumerate(zip(names, chart.delta_e, strict=True))
    ]
    show_table(["Piece", "From the standard", ""], rows)


def _series() -> dict[str, list[tuple[str, Shade]]]:
    """Recipe uid -> (name, measured dry shade) of its pieces, oldest first."""
    swatches = {each.uid: each for each in library().list(Swatch) if each.recipe_uid}
    found: dict[str, list[tuple[date, str, Shade]]] = {}
    for record in library().list(ShadeRecord, state="dry"):
        swatch = swatches.get(record.swatch_uid or "")
        if swatch is None or swatch.recipe_uid is None or record.provenance.get("kind") != MEASURED:
            continue
        when = swatch.made_on or record.measured_on or date.min
        found.setdefault(swatch.recipe_uid, []).append((when, swatch.name, record.shade()))
    ordered = {uid: sorted(each, key=lambda one: (one[0], one[1])) for uid, each in found.items()}
    ordered = dict(sorted(ordered.items(), key=lambda item: -len(item[1])))  # the longest series first
    return {uid: [(name, shade) for _, name, shade in each] for uid, each in ordered.items()}


def _flaws() -> None:
    batches = {each.uid: each for each in library().list(BatchRecord)}
    if not batches:
        st.info("No batch is kept yet.")
        return
    with st.form("time.flaw"):
        one, two, three = st.columns(3)
        batch = one.selectbox("Batch", list(batches), format_func=lambda uid: batches[uid].name or uid)
        word = two.selectbox("Defect", list(DEFECTS))
        pieces = three.number_input("Pieces with it", 1, 1000, 1)
        notes = st.text_input("Notes", "")
        if st.form_submit_button("Note the defect", type="primary"):
            with guard():
                seen = [
                    DefectRecord(name=word, batch_uid=batch, seen_on=date.today(), notes=notes) for _ in range(pieces)
                ]
                library().save_all(seen)
                st.success("Noted.")
    word = st.selectbox("Look at", list(DEFECTS), key=kept("time.word"))
    known = defect(word)
    show_table(
        [],
        [["Looks like", known.looks_like], ["Often from", "; ".join(known.causes)],
         ["To try", "; ".join(known.remedies)]],
        numbers_from=2,
    )  # fmt: skip
    st.caption("Causes and remedies are common practice, without a source.")
    by = st.radio("Counted by", CIRCUMSTANCES, horizontal=True, key=start_with("time.by", "recipe"))
    counts = count_defects(_records(batches), word, by)
    rows = [
        [each.value, f"{each.with_defect} of {each.pieces}", f"{each.share:.0%} ({each.low:.0%} to {each.high:.0%})",
         "stands out" if each.stands_out else ""]
        for each in counts
    ]  # fmt: skip
    show_table([by.capitalize(), "Pieces", "Share, nine times in ten within", ""], rows)


def _records(batches: dict[str, BatchRecord]) -> list[CastRecord]:
    """Every batch with its defects and what was recorded of its circumstances."""
    recipes = {each.uid: each.name for each in library().list(RecipeRecord)}
    moulds = {each.uid: each.name for each in library().list(Mould)}
    seen = Counter((each.batch_uid, each.name) for each in library().list(DefectRecord))
    return [
        CastRecord(
            pieces=batch.pieces or 1,
            defects={word: min(seen[uid, word], batch.pieces or 1) for word in DEFECTS if seen[uid, word]},
            circumstances={
                "recipe": recipes.get(batch.recipe_uid or "", ""),
                "mould": moulds.get(batch.mould_uid or "", ""),
                "month": f"{batch.made_on:%B}" if batch.made_on else "",
                "water": str(batch.content.get("water", "")),
                "weather": str(batch.content.get("weather", "")),
            },
        )
        for uid, batch in batches.items()
    ]


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
