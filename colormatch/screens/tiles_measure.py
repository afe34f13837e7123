"""Measuring tiles: one photograph of all that are on the list, each measured chip beside the predicted one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from math import ceil, sqrt
from typing import Any

import numpy as np
import streamlit as st

from colormatch.colorimetry import lab_to_hex
from colormatch.difference import delta_e_2000
from colormatch.errors import InputError
from colormatch.library import TileRecord
from colormatch.palette import Palette
from colormatch.photo import CameraProfile, Reference, from_fractions, tile_sheet_regions
from colormatch.photo.measure import measure_picture
from colormatch.saying import capital, shade_name, than_predicted
from colormatch.screens.blocks import answer, small
from colormatch.screens.cameras import known_camera
from colormatch.screens.decoded import decoded
from colormatch.screens.device import device
from colormatch.screens.drawing import STATES, plain, state_words
from colormatch.screens.guard import guard
from colormatch.screens.keeping import box_of, keep_photograph
from colormatch.screens.long_work import begin, ended
from colormatch.screens.looked_at import looked_at
from colormatch.screens.marking import Tool, mark_photograph, marks_on
from colormatch.screens.measuring import (
    BOARD,
    CARD,
    CARD_REFLECTANCE,
    CHART,
    CORNERS,
    GREY,
    NO_BOARD,
    NOTHING,
    REFERENCES,
    WHITE,
    another,
    forget_answer,
    reference_of,
)
from colormatch.screens.photographing import photograph_asked
from colormatch.screens.routes import by_address, onward
from colormatch.screens.state import Measurement, Upload, in_hand
from colormatch.screens.studios import library
from colormatch.screens.tile_board import board_part
from colormatch.screens.tiles_list import doses
from colormatch.screens.tiles_one import one_part
from colormatch.screens.tiles_sure import learn_now
from colormatch.screens.work import Work
from colormatch.workshop.charts import chart_words, own_chart
from colormatch.workshop.tile_board import own_board
from colormatch.workshop.tile_list import TileList, keep_measured

SHEET = Tool(
    "sheet",
    "Sheet corners",
    "corners",
    "Tap the four outer corners of the block of tiles, clockwise, beginning at the first tile.",
)
BESIDE = {name: REFERENCES[name] for name in (CHART, BOARD, GREY, WHITE)} | {
    NOTHING: "this camera's earlier charts alone; a guess without any"
}
_SHEET = "sheet"  # what the work in hand is called
ALL_OF_THEM, ONE = "All on the list", "One tile"


def measure_part(listed: TileList | None, known: Palette) -> None:
    """All tiles of the list at once; or one, with a spectrum or numbers too."""
    if listed is None or not listed.tiles:
        if library().count(TileRecord):
            onward("match", "Match a shade")
        small("There is no list of tiles to measure; one tile can be measured on its own.")
        one_part(known)
        return
    way = st.segmented_control("Which", [ALL_OF_THEM, ONE], required=True, label_visibility="collapsed",
                               **by_address("which", ALL_OF_THEM, (ALL_OF_THEM, ONE)))  # fmt: skip
    if way == ONE:
        one_part(known)
    else:
        _sheet(listed, known)


def _sheet(listed: TileList, known: Palette) -> None:
    count = len(listed.tiles)
    answer(
        "One photograph of all tiles.",
        "Lay them in straight rows in the order of the list, beside the chart, in soft, even light.",
    )
    upload = photograph_asked(_SHEET, "")
    if upload is None:
        return
    work = Work(_SHEET)
    work.say()
    in_a_row = list(range(1, min(count, 8) + 1))
    columns = st.segmented_control("Tiles in a row", in_a_row, required=True,
                                   **work.field("columns", ceil(sqrt(count)), among=in_a_row))  # fmt: skip
    reference = st.selectbox("Beside them", list(BESIDE), **work.field("reference", CHART, among=BESIDE))
    small(f"{capital(BESIDE[reference])}.")
    tools = [SHEET]
    if reference in CARD_REFLECTANCE:
        tools.append(CARD)
    if reference == BOARD:
        board_part(_SHEET, upload)
    if reference == CHART and st.toggle("Mark the chart's corners by hand", **work.field("by_hand", False)):
        tools.append(CORNERS)
    _look(upload, reference, tools)
    mark_photograph(_SHEET, upload, tools)
    another(work)
    asked = repr((upload.sha256, columns, reference, sorted(marks_on(_SHEET, upload).items())))
    with guard():
        if (found := ended(_SHEET)) is not None:
            in_hand().measured[_SHEET] = found
            work.put(measured=asked)
    done = work.get("measured") == asked
    state = st.selectbox("They are", list(STATES), format_func=state_words, **work.field("state", "dry", among=STATES))
    pressed = st.button(
        "Measure the tiles", type="secondary" if done else "primary", width="stretch", key="sheet.measure"
    )
    lost = done and _SHEET not in in_hand().measured  # measured before a reload, or on another device
    if pressed or lost:
        with guard():
            work.put(measured=None)
            _measure(upload, ceil(count / columns), columns, tools, count, reference)
    measurement = in_hand().measured.get(_SHEET)
    if done and measurement is not None and len(measurement.photos) == count:
        _measured(measurement, listed, state, known, work)


def _measure(upload: Upload, rows: int, columns: int, tools: Sequence[Tool], count: int, reference: str) -> None:
    marks = marks_on(_SHEET, upload)
    if reference == BOARD and own_board(library()) is None:
        raise InputError(NO_BOARD)
    missing = [tool.label.lower() for tool in tools if tool.name not in marks]
    if missing:
        raise InputError(f"Not marked yet: {' and '.join(missing)}. Mark it in the picture first.")
    given, profile, size = _telling(upload, reference, tools)
    corners = from_fractions(np.reshape(marks["sheet"], (4, 2)), size)
    regions = tile_sheet_regions(corners, rows, columns)[:count]

    def work(progress: Callable[[float], None]) -> Measurement:
        picture = decoded(upload)
        progress(0.4)  # what decoding takes of the time, about: a judgement
        photos = measure_picture(picture, regions=regions, reference=given, profile=profile)
        return Measurement(upload, tuple(photos), reference)

    begin(_SHEET, "Measuring the tiles", work)


def _look(upload: Upload, reference: str, tools: Sequence[Tool]) -> None:
    """Say at once what is wrong with the photograph, as soon as it is marked what tells its colours."""
    marks = marks_on(_SHEET, upload)
    there = {tool.name: marks.get(tool.name) for tool in tools if tool is not SHEET}
    if None in there.values() or (reference == BOARD and own_board(library()) is None):
        return
    given, profile, _ = _telling(upload, reference, tools)
    looked_at(upload, given, (reference, there, chart_words(library())), profile)


def _telling(
    upload: Upload, reference: str, tools: Sequence[Tool]
) -> tuple[Reference | None, CameraProfile | None, tuple[int, int]]:
    """What tells the colours: the reference as marked, what earlier charts taught of the camera; the picture's size."""
    marks, facts = marks_on(_SHEET, upload), decoded(upload).facts
    size = (facts.width, facts.height)
    used = {tool.name: marks[tool.name] for tool in tools if tool.name in marks}
    given = reference_of(reference, used, size, own_chart(library()), board=own_board(library()))
    return given, None if reference == CHART else known_camera(facts.model), size


def _measured(measurement: Measurement, listed: TileList, state: str, known: Palette, work: Work) -> None:
    """Measured beside predicted for each tile; those that are wrong are left out; then keep, and learn."""
    rows = []
    for place, photo in enumerate(measurement.photos):
        mix = listed.mix(place)
        predicted = known.predict(mix.loads, mix.base, state if state in known.states else "dry")
        far = float(delta_e_2000(photo.shade.lab, predicted.lab))
        words = than_predicted(photo.shade.lab, predicted.lab)
        rows.append(
            f'<li><i role="img" aria-label="measured: {escape(shade_name(photo.shade.lab))}" '
            f'style="background:{lab_to_hex(photo.shade.lab)}"></i>'
            f'<i role="img" aria-label="predicted: {escape(shade_name(predicted.lab))}" '
            f'style="background:{lab_to_hex(predicted.lab)}"></i>'
            f"<div><b>{place + 1}. {escape(doses(listed, place, known))}</b>"
            f"<small>{escape(words)} ({far:.1f})</small></div></li>"
        )
    small("Measured on the left, predicted on the right.")
    st.html(f'<ol class="tiles-list">{"".join(rows)}</ol>')
    said: dict[str, list[str]] = {}
    for place, photo in enumerate(measurement.photos, start=1):
        for warning in photo.warnings:
            said.setdefault(warning, []).append(str(place))
    for warning, places in said.items():
        every = len(places) == len(measurement.photos)
        st.warning(plain(warning if every else f"Tile {' and '.join(places)}: {warning}"))
    numbers = list(range(1, len(measurement.photos) + 1))
    away = st.pills("Leave out", numbers, selection_mode="multi", **work.field("away", [], among=numbers))
    left = [number for number in numbers if number not in (away or [])]
    tiles = f"{len(left)} tile{'' if len(left) == 1 else 's'}"
    if left and st.button(f"Keep {tiles} and learn", type="primary", width="stretch", key="sheet.keep"):
        with guard():
            shades = [
                photo.shade if number in left else None
                for number, photo in zip(numbers, measurement.photos, strict=True)
            ]
            noted: list[dict[str, Any]] = [
                {"region": list(box_of(each.outline)), "reference": measurement.reference}
                for each in measurement.photos
            ]
            photograph = keep_photograph(measurement.upload)
            keep_measured(
                library(), listed, shades, state=state, photograph_uid=photograph, provenance=noted, device=device()
            )
            forget_answer(_SHEET)
            learn_now(f"{tiles} {'is' if len(left) == 1 else 'are'} kept.")
