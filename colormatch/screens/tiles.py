"""Tiles: add what was cast and measured, learn from it, see how far to trust it, and what to cast next."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import streamlit as st

from colormatch.advice import Advice, next_tiles, starter_plan
from colormatch.learning import Report, TintLadder, describe, lot_drift, tint_ladders
from colormatch.library import TileRecord
from colormatch.palette import Palette
from colormatch.render import ladder_picture
from colormatch.screens.drawing import Chip, in_order, plain, show_chips, show_table, state_words
from colormatch.screens.guard import guard
from colormatch.screens.state import in_hand, kept, start_with
from colormatch.screens.studios import library, palette
from colormatch.screens.tile_entry import add_part
from colormatch.screens.tile_sheet import sheet_part
from colormatch.studio import learn_studio, shades_in_demand, studio_tiles

ADD, SHEET, LEARN, NEXT, ALL = "Add a tile", "Add a sheet of tiles", "Learn", "Cast next", "All tiles"
MEASURED_MOST = 12  # chips in one picture of a ladder
IN_DEMAND, WANTED, ANY = "the shades of the kept recipes", "the wanted shade", "any shade"


def page() -> None:
    st.title("Tiles")
    part = st.radio(
        "Part",
        [LEARN, NEXT, ADD, SHEET, ALL],
        horizontal=True,
        label_visibility="collapsed",
        key=start_with("tiles.part", LEARN),
    )
    if part == ADD:
        add_part()
    elif part == SHEET:
        sheet_part()
    elif part == NEXT:
        _next_part(palette())
    elif part == ALL:
        _all_part(palette())
    else:
        _learn_part()


def _learn_part() -> None:
    tiles = library().count(TileRecord)
    if tiles:
        count = "One tile is" if tiles == 1 else f"{tiles} tiles are"
        st.markdown(plain(f"{count} in the library; finished swatches with a measured shade count too."))
    else:
        st.info("No tile is in the library yet. Cast next says which to cast first; Add a tile takes it in.")
    if st.button("Learn from all of them", type="primary", key="tiles.learn"):
        with guard(), st.spinner("Learning"):
            in_hand().report = learn_studio(library())[1]
    report = in_hand().report
    if report is not None:
        _report(report, palette())
    _ladders(palette())
    _drift(palette())


def _report(report: Report, known: Palette) -> None:
    rows = [
        ["Tiles learned from", str(len(report.tiles))],
        ["Off on average", f"dE00 {report.mean_delta_e:.2f}"],
        ["Scatter from cast to cast", f"± {report.cast_sd:.2f}"],
    ]
    if report.coverage is not None:
        rows.append(["Within the band predicted from the others (nine in ten is right)", f"{report.coverage:.0%}"])
    show_table([], rows)
    titles = _titles(report, known)
    for one in report.suspects:
        st.warning(
            plain(
                f"Left aside: {titles[one.place]}, dE00 {one.delta_e:.1f} from what the others predict; {one.reason}."
            )
        )
    for warning in report.warnings:
        st.warning(plain(warning))
    st.subheader("How far to trust each pigment")
    trust = [
        [known.pigments[one.pigment].label, one.words, str(one.tiles), f"dE00 {one.delta_e:.1f}"]
        for one in report.trust
    ]
    show_table(["Pigment", "Trust", "Tiles", "To expect"], trust, numbers_from=2)
    with st.expander("Every tile"):
        show_table(
            ["Tile", "Off", "From what the others predict", ""],
            [
                [
                    title,
                    f"{each.delta_e:.2f}",
                    f"{each.left_out_delta_e:.2f}",
                    "" if each.inlier_probability >= 0.5 else "doubtful",
                ]
                for title, each in zip(titles, report.tiles, strict=True)
            ],
        )


def _titles(report: Report, known: Palette) -> list[str]:
    """What each tile is called: a swatch by its name, a test tile by what is in it."""
    tiles = [each.tile for each in report.tiles]
    return [each.name or describe(each.loads, each.base, each.state, known.label) for each in tiles]


def _ladders(known: Palette) -> None:
    ladders = [ladder for ladder in tint_ladders(known, studio_tiles(library())) if len(ladder.measured)]
    if not ladders:
        st.info("No tint ladder yet: cast a blank and a pigment alone in two or three loads.")
        return
    ladders.sort(key=lambda ladder: -len(ladder.measured))
    st.subheader("Tint ladders")
    chosen = st.selectbox(
        "Ladder", range(len(ladders)), format_func=lambda i: _ladder_words(ladders[i], known), key=kept("tiles.ladder")
    )
    ladder = ladders[chosen]
    order = np.argsort(ladder.measured_loads, kind="stable")[:MEASURED_MOST]
    picture = ladder_picture(
        ladder.measured[order],
        ladder.fitted[order],
        ladder.measured_loads[order],
        _ladder_words(ladder, known),
        curve=(ladder.loads, ladder.predicted),
    )
    st.image(picture, caption=f"dE00 {float(np.mean(ladder.delta_e)):.2f} off on average")


def _ladder_words(ladder: TintLadder, known: Palette) -> str:
    parts = (known.pigments[ladder.pigment].label, known.bases[ladder.base].label, state_words(ladder.state).lower())
    return ", ".join(parts)


def _drift(known: Palette) -> None:
    """How far a new lot, entered as a pigment of its own, lies from the old one."""
    with st.expander("Compare two lots"):
        names = list(known.pigments)
        one, two = st.columns(2)
        label = {name: pigment.label for name, pigment in known.pigments.items()}
        old = one.selectbox("The old lot", names, format_func=label.__getitem__, key=kept("tiles.old"))
        new_key = start_with("tiles.new_lot", names[-1])
        new = two.selectbox("The new lot", names, format_func=label.__getitem__, key=new_key)
        st.caption("Enter a new lot on the page Studio as a pigment that resembles the old one, and cast a tile of it.")
        if st.button("Compare", key="tiles.drift") and old != new:
            with guard():
                st.markdown(plain(lot_drift(known, old, new).text(known.label)))


def _next_part(known: Palette) -> None:
    wanted = in_hand().wanted
    with st.form("tiles.next"):
        one, two, three = st.columns(3)
        demands = [IN_DEMAND, *([WANTED] if wanted else []), ANY]
        demand = one.selectbox("To be surer of", demands, key=kept("tiles.demand"))
        base = two.selectbox(
            "Cement", list(known.bases), format_func=lambda name: known.bases[name].label, key=kept("tiles.next_base")
        )
        count = three.number_input("Tiles you are ready to cast", 1, 12, key=start_with("tiles.count", 3))
        cement = one.number_input(
            "Dry cement of one tile, g", 5.0, 5000.0, step=5.0, key=start_with("tiles.cement", 100.0)
        )
        asked = st.form_submit_button("Which to cast next", type="primary")
    if asked:
        with st.spinner("Weighing every tile that could be cast"):
            shades = (
                [wanted.shade] if demand == WANTED and wanted else shades_in_demand(library()) if demand != ANY else []
            )
            in_hand().advice = next_tiles(known, shades, int(count), base=base)
    _advice(in_hand().advice, known, cement)
    st.subheader("The first tiles of a new pigment")
    pigment = st.selectbox(
        "Pigment", list(known.pigments), format_func=lambda name: known.pigments[name].label, key=kept("tiles.new")
    )
    if st.button("Plan its first tiles", key="tiles.plan"):
        with guard(), st.spinner("Planning"):
            in_hand().plan = starter_plan(known, pigment)
    _advice(in_hand().plan, known, cement)


def _advice(advice: Sequence[Advice], known: Palette, cement_g: float) -> None:
    if not advice:
        return
    show_chips(
        [Chip(str(i), known.predict(each.loads, each.base, each.state)) for i, each in enumerate(advice, 1)],
        height_px=56,
    )
    rows = []
    for number, each in enumerate(advice, start=1):
        doses = ", ".join(f"{load * cement_g:.2f} g {known.pigments[name].label}" for name, load in each.loads.items())
        rows.append([str(number), doses or "no pigment", each.why, f"{each.before:.1f} → {each.after:.1f}"])
    show_table(["", f"In {cement_g:g} g of cement", "Why", "Doubt, dE00"], rows, numbers_from=3)


def _all_part(known: Palette) -> None:
    tiles = {each.uid: each for each in library().list(TileRecord)}
    if not tiles:
        st.info("No tile is kept yet.")
        return
    shades: dict[str, list[str]] = {}
    for tile in studio_tiles(library()):
        shades.setdefault(tile.piece, []).append(tile.state)
    rows = [
        [_tile_words(each, known), ", ".join(state_words(s).lower() for s in in_order(shades.get(uid, []))),
         f"{each.cast_on:%d.%m.%Y}" if each.cast_on else ""]
        for uid, each in tiles.items()
    ]  # fmt: skip
    show_table(["Tile", "Measured", "Cast on"], rows, numbers_from=2)
    chosen = st.selectbox(
        "Put in the bin",
        list(tiles),
        index=None,
        format_func=lambda uid: _tile_words(tiles[uid], known),
        key="tiles.bin",
    )
    if chosen and st.button("Put it in the bin", key="tiles.away"):
        with guard():
            library().delete(tiles[chosen])
            st.rerun()


def _tile_words(tile: TileRecord, known: Palette) -> str:
    base = known.bases[tile.cement_uid].label if tile.cement_uid in known.bases else tile.cement_uid
    doses = [
        f"{load:.2%} {known.pigments[name].label if name in known.pigments else name}"
        for name, load in tile.loads.items()
    ]
    return f"{base}: {' + '.join(doses) or 'blank'}"


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
