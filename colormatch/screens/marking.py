"""Marking regions and chart corners on a photograph: an own small component, and numbers for those who cannot drag.

Marks are fractions 0..1 of the upright picture: a box is (x0, y0, x1, y1), corners are four points
(x, y) clockwise.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Literal

import streamlit as st

from colormatch.errors import InputError
from colormatch.screens.decoded import decoded
from colormatch.screens.guard import guard
from colormatch.screens.state import Marks, Upload, visit
from colormatch.screens.typed_numbers import number_field, read_if_any
from colormatch.screens.work import Work

PREVIEW_PX = 1600  # the longer side: fine enough to mark by, small enough to send to a phone
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
def preview(sha256: str, _upload: Upload) -> str:
    """The upright picture, at most 1600 px, as a data URL; kept for the two latest photographs."""
    from colormatch.photo import preview_image

    stream = io.BytesIO()
    preview_image(decoded(_upload), longest=PREVIEW_PX).save(stream, "JPEG", quality=88)
    return "data:image/jpeg;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


def marks_on(place: str, upload: Upload, about: str = "", start: Marks | None = None) -> Marks:
    """The marks made so far on a photograph at one place of the page; `start` while nobody has marked it."""
    return _marks(Work(place, about), upload, start)


def _marks(work: Work, upload: Upload, start: Marks | None) -> Marks:
    if work.get("marked") != upload.sha256:
        return start or {}
    return {name: tuple(mark) for name, mark in work.get("marks", {}).items()}


def mark_photograph(
    place: str,
    upload: Upload,
    tools: Sequence[Tool],
    start: Marks | None = None,
    about: str = "",
    *,
    numbers: bool = True,
) -> None:
    """The photograph with its marks, and in a fold the same marks as numbers; read them with `marks_on`.

    Each mark is kept in the library as it is made. start: marks to begin with when none were made yet. numbers: False
    where the caller draws them elsewhere by `marks_as_numbers`.
    """
    work = Work(place, about)
    marks = _marks(work, upload, start)
    _picture(work, upload, tools, marks)
    if numbers:
        with st.expander("Marks as numbers"):
            marks_as_numbers(place, upload, tools, start, about)


def marks_as_numbers(
    place: str, upload: Upload, tools: Sequence[Tool], start: Marks | None = None, about: str = ""
) -> None:
    """The marks as numbers, for those who cannot drag; call it where it is not in the way."""
    work = Work(place, about)
    with guard():
        _numbers(work, upload, tools, _marks(work, upload, start))


def begin_anew(place: str, about: str = "") -> None:
    """The next photograph here is marked from its own marks, whatever was on the screen before."""
    for key in [key for key in st.session_state if str(key).startswith(f"begun|marking|{place}|{about}|")]:
        del st.session_state[key]


def _keep(work: Work, upload: Upload, marks: Marks) -> None:
    work.put(marked=upload.sha256, marks={name: list(mark) for name, mark in marks.items()})


def _picture(work: Work, upload: Upload, tools: Sequence[Tool], marks: Marks) -> None:
    key = f"marking|{work.what}|{work.key}|{upload.sha256}"
    begun = _begun(key, marks)
    data = {
        "photo": upload.sha256,
        "image": preview(upload.sha256, upload),
        "tools": [asdict(tool) for tool in tools],
        "start": {name: list(mark) for name, mark in begun.marks.items()},
        "revision": f"{begun.visit}.{begun.number}",
    }

    def changed() -> None:
        sent = checked_marks((st.session_state.get(key) or {}).get("marks"), tools)
        shown = {tool.name for tool in tools}
        latest = {**{name: mark for name, mark in marks.items() if name not in shown}, **sent}
        st.session_state[f"begun|{key}"] = replace(begun, latest=latest)
        _keep(work, upload, latest)

    _component(key=key, data=data, on_marks_change=changed)


@dataclass(frozen=True, slots=True)
class _Begun:
    """What the component in the browser was last given, and the marks that came from it since."""

    visit: int
    number: int
    marks: Marks
    latest: Marks


def _begun(key: str, marks: Marks) -> _Begun:
    """The marks to begin with: constant while marking, so that the picture is sent once.

    They are given anew when the page is turned to, or when they were changed by other hands: by numbers, by
    undo, on another device.
    """
    slot = f"begun|{key}"
    before: _Begun | None = st.session_state.get(slot)
    if before is None or before.visit != visit() or before.latest != marks:
        number = 0 if before is None else before.number + 1
        st.session_state[slot] = _Begun(visit(), number, marks, marks)
    begun: _Begun = st.session_state[slot]
    return begun


def _numbers(work: Work, upload: Upload, tools: Sequence[Tool], marks: Marks) -> None:
    key = f"{work.what}|{work.key}|{upload.sha256}"
    st.caption("In per cent of the picture's width (x, from the left) and height (y, from the top).")
    with st.form(f"numbers|{key}", border=False):
        fields = {tool.name: _row(key, tool, marks.get(tool.name)) for tool in tools}
        if not st.form_submit_button("Use these numbers"):
            return
    typed = {
        name: [read_if_any(field, name=field.split("|")[-2], unit="%", high=100) for field in row]
        for name, row in fields.items()
    }
    whole = {
        name: tuple(value / 100 for value in row if value is not None)
        for name, row in typed.items()
        if any(value is not None for value in row)
    }
    for tool in tools:
        _check_typed(tool, whole.get(tool.name))
    _keep(work, upload, {**{name: mark for name, mark in marks.items() if name not in typed}, **whole})
    st.rerun()


def _row(key: str, tool: Tool, mark: tuple[float, ...] | None) -> list[str]:
    """The fields of one mark; their keys."""
    names = ["left", "top", "right", "bottom"]
    if tool.kind == "corners":
        names = [f"{axis}{number}" for number in range(1, 5) for axis in "xy"]
    st.markdown(f"**{tool.label}**")
    keys: list[str] = []
    for first in range(0, tool.size, 4):
        for index, column in enumerate(st.columns(4), start=first):
            # A fresh key for every mark, so that the field shows the mark as it is now.
            now = "" if mark is None else f"{round(100 * mark[index], 2):g}"
            keys.append(f"mark|{key}|{tool.name}|{tool.label}, {names[index]}|{now}")
            with column:
                number_field(names[index], keys[-1], value=now)
    return keys


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
