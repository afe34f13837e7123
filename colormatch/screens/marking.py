"""Marking regions and chart corners on a photograph: an own small component, and numbers for those who cannot drag.

Marks are fractions 0..1 of the upright picture: a box is (x0, y0, x1, y1), corners are four points
(x, y) clockwise.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

import streamlit as st

from colormatch.errors import InputError
from colormatch.screens.guard import draw_again, guard
from colormatch.screens.state import Marks, Upload, in_hand, visit

PREVIEW_PX = 1600
_HERE = Path(__file__).parent
_component = st.components.v2.component(
    "colormatch.marking",
    html=(_HERE / "marking.html").read_text("utf-8"),
    css=(_HERE / "marking.css").read_text("utf-8"),
    js=(_HERE / "marking.js").read_text("utf-8"),
)


@dataclass(frozen=True, slots=True)
class Tool:
    """One thing to mark: its name in the marks, the word on its button, and what to do."""

    name: str
    label: str
    kind: Literal["box", "corners"]
    hint: str

    @property
    def size(self) -> int:
        """How many numbers its mark has."""
        return 4 if self.kind == "box" else 8


@st.cache_resource(max_entries=2, show_spinner="Opening the photograph")
def preview(sha256: str, _content: bytes) -> str:
    """The upright picture, at most 1600 px, as a data URL; kept for the two latest photographs."""
    from colormatch.photo import preview_image

    stream = io.BytesIO()
    preview_image(_content, longest=PREVIEW_PX).save(stream, "JPEG", quality=88)
    return "data:image/jpeg;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


def marks_on(place: str, upload: Upload) -> Marks:
    """The marks made so far on a photograph at one place of the page."""
    return in_hand().marks.get(f"{place}|{upload.sha256}", {})


@st.fragment
def mark_photograph(place: str, upload: Upload, tools: Sequence[Tool], start: Marks | None = None) -> None:
    """The photograph with its marks, and the same marks as numbers; read them with `marks_on`.

    start: marks to begin with when none were made yet.
    """
    with guard():
        key = f"{place}|{upload.sha256}"
        if start and key not in in_hand().marks:
            in_hand().marks[key] = start
        _picture(key, upload, tools)
        with st.expander("Marks as numbers"):
            _numbers(key, tools)


def _picture(key: str, upload: Upload, tools: Sequence[Tool]) -> None:
    image = preview(upload.sha256, upload.content)
    begun = _marks_at_start(key)
    data = {
        "photo": upload.sha256,
        "image": image,
        "tools": [asdict(tool) for tool in tools],
        "start": {name: list(mark) for name, mark in begun.items()},
        "revision": f"{visit()}.{in_hand().marks_typed.get(key, 0)}",
    }

    def changed() -> None:
        state = st.session_state.get(f"marking|{key}") or {}
        shown = {tool.name for tool in tools}
        others = {name: mark for name, mark in in_hand().marks.get(key, {}).items() if name not in shown}
        in_hand().marks[key] = {**others, **checked_marks(state.get("marks"), tools)}

    _component(key=f"marking|{key}", data=data, on_marks_change=changed)


def _marks_at_start(key: str) -> Marks:
    """The marks as they were when the page was turned to or numbers were typed: constant while marking."""
    stamp = (visit(), in_hand().marks_typed.get(key, 0))
    slot = f"marks at start|{key}"
    if st.session_state.get(slot, (None, None))[0] != stamp:
        st.session_state[slot] = (stamp, dict(in_hand().marks.get(key, {})))
    marks: Marks = st.session_state[slot][1]
    return marks


def _numbers(key: str, tools: Sequence[Tool]) -> None:
    marks = in_hand().marks.get(key, {})
    st.caption("In per cent of the picture's width (x, from the left) and height (y, from the top).")
    with st.form(f"numbers|{key}", border=False):
        typed = {tool.name: _row(key, tool, marks.get(tool.name)) for tool in tools}
        if not st.form_submit_button("Use these numbers"):
            return
    whole = {
        tool.name: tuple(value / 100 for value in typed[tool.name] if value is not None)
        for tool in tools
        if any(value is not None for value in typed[tool.name])
    }
    for tool in tools:
        _check_typed(tool, whole.get(tool.name))
    in_hand().marks[key] = {**marks, **dict.fromkeys(typed, ()), **whole}
    in_hand().marks[key] = {name: mark for name, mark in in_hand().marks[key].items() if mark}
    in_hand().marks_typed[key] = in_hand().marks_typed.get(key, 0) + 1
    draw_again()


def _row(key: str, tool: Tool, mark: tuple[float, ...] | None) -> list[float | None]:
    names = ["left", "top", "right", "bottom"]
    if tool.kind == "corners":
        names = [f"{axis}{number}" for number in range(1, 5) for axis in "xy"]
    st.markdown(f"**{tool.label}**")
    values: list[float | None] = []
    for first in range(0, tool.size, 4):
        for index, column in enumerate(st.columns(4), start=first):
            # A fresh key for every mark, so that the field shows the mark as it is now.
            now = None if mark is None else round(100 * mark[index], 2)
            field_key = f"mark|{key}|{tool.name}|{index}|{now}"
            values.append(column.number_input(names[index], 0.0, 100.0, now, 0.5, key=field_key, format="%.2f"))
    return values


def _check_typed(tool: Tool, mark: tuple[float, ...] | None) -> None:
    if mark is None:
        return
    if len(mark) != tool.size:
        raise InputError(f"{tool.label} has {len(mark)} of {tool.size} numbers; fill in all of them, or none.")
    if tool.kind == "box" and not (mark[0] < mark[2] and mark[1] < mark[3]):
        raise InputError(f"{tool.label}: left must be less than right, and top less than bottom.")


def checked_marks(sent: object, tools: Sequence[Tool]) -> Marks:
    """Marks from the browser, without anything that is not a mark."""
    marks: dict[str, tuple[float, ...]] = {}
    given: Mapping[str, Any] = sent if isinstance(sent, Mapping) else {}
    for tool in tools:
        mark = given.get(tool.name)
        if not isinstance(mark, (list, tuple)) or len(mark) != tool.size:
            continue
        if all(isinstance(value, (int, float)) and 0 <= value <= 1 for value in mark):
            marks[tool.name] = tuple(float(value) for value in mark)
    return marks
