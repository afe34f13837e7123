"""A form for one record of the library, drawn from what the library knows of its fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, cast

import streamlit as st

from colormatch.errors import InputError
from colormatch.library import Record
from colormatch.library.fields import Day, Field, Number, Text, Whole, specs
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.state import in_hand, kept, put
from colormatch.screens.studios import library

NEW = "a new one"
_LARGEST = 1e9


@dataclass(frozen=True, slots=True)
class Words:
    """How the fields of a kind of record are asked for.

    labels: field -> label, in the order they are drawn. choices: field -> (value -> word), for a field with few
    values. in_per_cent: fields kept as shares and asked for in per cent.
    """

    labels: Mapping[str, str]
    choices: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    in_per_cent: frozenset[str] = frozenset()


def pick(label: str, records: Mapping[str, Record], place: str) -> str:
    """Choose one of the records, or a new one (""); what was kept last at this place is chosen by itself."""
    if place in in_hand().to_choose:
        put(place, in_hand().to_choose.pop(place))

    def words(uid: str) -> str:
        return NEW if uid not in records else _name(records[uid])

    return str(st.selectbox(label, ["", *records], format_func=words, key=kept(place)))


def record_form(record: Record, words: Words, place: str) -> None:
    """A form over the fields in `words`, kept on its button; and the bin for a record that is there.

    place: that of the `pick` it belongs to. Raises nothing: what the library refuses is shown as it stands, and
    what was typed stays.
    """
    known = specs(type(record))
    key = f"{place}|{record.uid}|{record.version}"
    with st.form(f"form|{key}", border=False):
        columns = st.columns(3)
        typed: dict[str, Any] = {}
        for number, name in enumerate(words.labels):
            if number and number % 3 == 0:  # row by row, so that the order is the same on a phone
                columns = st.columns(3)
            column = st if _is_long(known[name]) else columns[number % 3]
            typed[name] = _field(column, name, getattr(record, name), known[name], words, f"{key}|{name}")
        asked = st.form_submit_button("Keep", type="primary")
    show_notice(place)
    if asked:
        with guard():
            _check_name(record, typed)
            saved = library().save(replace(record, **typed))
            in_hand().to_choose[place] = saved.uid
            say_then_draw(place, f"Kept: {_name(saved)}.")
    if record.version and st.button("Put it in the bin", key=f"{key}|away"):
        with guard():
            library().delete(record)
            in_hand().to_choose[place] = ""
            say_then_draw(place, f"In the bin: {_name(record)}. The page Swatches takes it out again.")


def _name(record: Record) -> str:
    return str(getattr(record, "name", "") or getattr(record, "lot", "") or "without a name")


def _check_name(record: Record, typed: Mapping[str, Any]) -> None:
    """Refuse a second record of one name: nobody could tell the two apart in a list."""
    name = str(typed.get("name", "")).casefold()
    for other in library().list(type(record)) if name else ():
        if other.uid != record.uid and _name(other).casefold() == name:
            raise InputError(
                f"{_name(other)!r} is there already. Choose it in the list above to change it, or give this one "
                "another name."
            )


def _field(column: Any, name: str, value: Any, spec: Field, words: Words, key: str) -> Any:
    label = words.labels[name]
    if name in words.choices:
        known = words.choices[name]
        options = [*known, *([value] if value and value not in known else [])]
        return column.selectbox(
            label, options, options.index(value or ""), format_func=lambda each: known.get(each, each), key=key
        )
    if isinstance(spec, Number):
        return _number(column, label, value, spec, key, 100.0 if name in words.in_per_cent else 1.0)
    if isinstance(spec, Day):
        return cast("date | None", column.date_input(label, value, format="DD.MM.YYYY", key=key))
    if _is_long(spec):
        return str(column.text_area(label, value, key=key, height=68))
    return str(column.text_input(label, value or "", key=key)).strip()


def _is_long(spec: Field) -> bool:
    return isinstance(spec, Text) and spec.limit > 1000


def _number(column: Any, label: str, value: float | None, spec: Number, key: str, per_one: float) -> float | None:
    low = -_LARGEST if spec.low is None else spec.low * per_one
    high = _LARGEST if spec.high is None else spec.high * per_one
    shown = None if value is None else round(value * per_one, 9)
    typed = column.number_input(label, float(low), float(high), shown, key=key, format="%g")
    if typed is None:
        return None
    return int(typed) if isinstance(spec, Whole) else round(float(typed) / per_one, 12)
