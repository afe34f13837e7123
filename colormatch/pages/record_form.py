"""A form for one record of the library, drawn from what the library knows of its fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any, TypeVar, cast

import streamlit as st

from colormatch.library import Record
from colormatch.library.fields import Spec, specs
from colormatch.pages.guard import guard
from colormatch.pages.studios import library

R = TypeVar("R", bound=Record)
_LARGEST = 1e9


def record_form(record: R, words: Mapping[str, str], *, fixed: Mapping[str, Any] | None = None) -> None:
    """A form over the fields named in `words` (field -> label); kept on its button. fixed: fields set besides.

    Raises nothing: what the library refuses is shown as it stands, and what was typed stays.
    """
    known = specs(type(record))
    key = f"{record.KIND}|{record.uid}|{record.version}"
    with st.form(f"form|{key}", border=False):
        columns = st.columns(3)
        typed: dict[str, Any] = {}
        for place, (name, label) in enumerate(words.items()):
            column = st if known[name].limit > 1000 else columns[place % 3]
            typed[name] = _field(column, label, getattr(record, name), known[name], f"{key}|{name}")
        if st.form_submit_button("Keep", type="primary"):
            with guard():
                library().save(replace(record, **typed, **(fixed or {})))
                st.rerun()


def _field(column: Any, label: str, value: Any, spec: Spec, key: str) -> Any:
    if spec.form in ("number", "whole"):
        low = -_LARGEST if spec.low is None else spec.low
        high = _LARGEST if spec.high is None else spec.high
        typed = column.number_input(
            label, float(low), float(high), None if value is None else float(value), key=key, format="%g"
        )
        return int(typed) if spec.form == "whole" and typed is not None else typed
    if spec.form == "day":
        return cast("date | None", column.date_input(label, value, format="DD.MM.YYYY", key=key))
    if spec.limit > 1000:
        return str(column.text_area(label, value, key=key, height=68))
    return str(column.text_input(label, value or "", key=key)).strip()
