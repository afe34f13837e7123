"""A sheet of tiles: many test tiles in one photograph, read in order, kept all at once."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import streamlit as st

from colormatch.difference import delta_e_2000
from colormatch.errors import InputError, UnknownNameError
from colormatch.library import Record, TileRecord, new_uid
from colormatch.palette import Palette
from colormatch.photo import Chart24, from_fractions, measure_regions, picture_facts, tile_sheet_regions
from colormatch.screens.drawing import STATES, plain, show_table, state_words
from colormatch.screens.guard import guard
from colormatch.screens.keeping import box_of, keep_photograph, measured_shade, shelve
from colormatch.screens.marking import Tool, mark_photograph, marks_on
from colormatch.screens.measuring import CHART, CORNERS, photograph_asked
from colormatch.screens.state import Measurement, Upload, in_hand, kept, start_with
from colormatch.screens.studios import library, palette

SHEET = Tool(
    "sheet",
    "Sheet corners",
    "corners",
    "Tap the four outer corners of the block of tiles, clockwise, beginning at the first tile.",
)
HOW = (
    "One line for each tile, row by row: Red iron oxide 2, Titanium white 1 (per cent of the cement); blank; "
    "- to leave one out."
)


def sheet_part() -> None:
    """Mark the block of tiles, say what is in each, measure them all, keep them all."""
    known = palette()
    upload = photograph_asked("sheet", "")
    if upload is None:
        st.info("Lay the tiles in straight rows beside a 24-patch chart and photograph them from above.")
        return
    one, two, three, four = st.columns(4)
    rows = int(one.number_input("Rows", 1, 20, key=start_with("sheet.rows", 2)))
    columns = int(two.number_input("Tiles in a row", 1, 20, key=start_with("sheet.columns", 3)))
    base = three.selectbox(
        "Cement", list(known.bases), format_func=lambda name: known.bases[name].label, key=kept("sheet.base")
    )
    state = four.selectbox("They are", list(STATES), format_func=state_words, key=start_with("sheet.state", "dry"))
    by_hand = st.checkbox("Mark the chart's corners by hand", key=start_with("sheet.by_hand", False))
    tools = [SHEET, CORNERS] if by_hand else [SHEET]
    mark_photograph("sheet", upload, tools)
    text = st.text_area("What is in them", key=start_with("sheet.lines", ""), help=HOW, placeholder=HOW)
    if st.button("Measure the tiles", type="primary", key="sheet.measure"):
        with guard(), st.spinner("Measuring"):
            _measure(upload, rows, columns, tools)
    measurement = in_hand().measured.get("sheet")
    if measurement is not None:
        with guard():
            _keep_part(measurement, make_ups(text, len(measurement.photos), known), base, state, known)


def _measure(upload: Upload, rows: int, columns: int, tools: Sequence[Tool]) -> None:
    marks = marks_on("sheet", upload)
    missing = [tool.label.lower() for tool in tools if tool.name not in marks]
    if missing:
        raise InputError(f"Not marked yet: {' and '.join(missing)}. Mark it in the picture first.")
    facts = picture_facts(upload.content)
    size = (facts.width, facts.height)
    pixels = {tool.name: from_fractions(np.reshape(marks[tool.name], (4, 2)), size) for tool in tools}
    regions = tile_sheet_regions(pixels["sheet"], rows, columns)
    photos = measure_regions(upload.content, regions=regions, reference=Chart24(pixels.get("corners")))
    in_hand().measured["sheet"] = Measurement(upload, tuple(photos), CHART)


def make_ups(text: str, count: int, known: Palette) -> list[Mapping[str, float] | None]:
    """The loads of `count` tiles from lines of text; None for a tile to leave out, {} for a blank.

    Raises InputError for a wrong number of lines or what cannot be read, UnknownNameError, LoadError.
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if len(lines) != count:
        raise InputError(f"There are {count} tiles and {len(lines)} lines; write one line for each tile. {HOW}")
    return [_make_up(line, place, known) for place, line in enumerate(lines, start=1)]


def _make_up(line: str, place: int, known: Palette) -> Mapping[str, float] | None:
    if line in ("-", "–"):
        return None
    if line.lower() == "blank":
        return {}
    names = {name.lower(): name for name in known.pigments}
    names |= {pigment.label.lower(): name for name, pigment in known.pigments.items()}
    loads: dict[str, float] = {}
    for part in line.split(","):
        found = re.fullmatch(r"(.+?)[\s=:]+(\d+(?:\.\d+)?)\s*%?", part.strip())
        if found is None:
            raise InputError(f"Line {place}, {part.strip()!r}, cannot be read; write it like Red iron oxide 2.")
        name = found[1].strip().lower()
        if name not in names:
            raise UnknownNameError("pigment", found[1].strip(), [each.label for each in known.pigments.values()])
        loads[names[name]] = float(found[2]) / 100
    known.load_vector(loads)
    return loads


def _keep_part(
    measurement: Measurement, loads: Sequence[Mapping[str, float] | None], base: str, state: str, known: Palette
) -> None:
    rows = []
    for place, (photo, make_up) in enumerate(zip(measurement.photos, loads, strict=True), start=1):
        if make_up is None:
            continue
        predicted = known.predict(make_up, base, state)
        words = ", ".join(f"{load:.2%} {known.pigments[name].label}" for name, load in make_up.items()) or "blank"
        lightness, a, b = photo.shade.lab
        rows.append(
            [str(place), words, f"{lightness:.1f}, {a:.1f}, {b:.1f} ± {photo.shade.sd:.1f}",
             f"dE00 {float(delta_e_2000(photo.shade.lab, predicted.lab)):.1f}"]
        )  # fmt: skip
    show_table(["", "Tile", "Measured L*, a*, b*", "From the prediction"], rows, numbers_from=2)
    for warning in dict.fromkeys(warning for photo in measurement.photos for warning in photo.warnings):
        st.warning(plain(warning))
    if rows and st.button(f"Keep these {len(rows)} tiles", key="sheet.keep"):
        library().save_all(_records(measurement, loads, base, state))
        del in_hand().measured["sheet"]
        st.success("Kept. Learn from all of them when the session's tiles are in.")


def _records(
    measurement: Measurement, loads: Sequence[Mapping[str, float] | None], base: str, state: str
) -> list[Record]:
    """Every tile with its shade, in an order in which they can be kept all at once."""
    photograph = keep_photograph(measurement.upload)
    shelve(base, {name for make_up in loads if make_up for name in make_up})
    records: list[Record] = []
    for photo, make_up in zip(measurement.photos, loads, strict=True):
        if make_up is None:
            continue
        tile = TileRecord(uid=new_uid(), cement_uid=base, loads=dict(make_up), cast_on=date.today())
        shade = measured_shade(
            photo.shade, state=state, photograph_uid=photograph, region=box_of(photo.outline), reference=CHART
        )
        records += [tile, replace(shade, tile_uid=tile.uid)]
    return records
