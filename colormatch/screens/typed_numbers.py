"""Numbers as they are typed: the field, reading it, and the question asked where it could mean two things.

text = number_field("The scale shows", "bowl.reading", unit="g")
if st.button("Next", key="bowl.next") or sure("bowl.next"):
    with keeping("bowl.next"):
        grams = read("bowl.reading", name="The reading", unit="g")

With a piece of `Work`, given to each of them, what is half-typed and the question that is open are kept in the library.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import streamlit as st

from colormatch.arrays import whole_number_between
from colormatch.errors import InputError
from colormatch.screens.drawing import plain
from colormatch.screens.guard import guard
from colormatch.screens.state import fill_text, kept
from colormatch.screens.work import Work
from colormatch.shade import Shade
from colormatch.workshop.numbers import Choice, Question, read_number

_SURE, _ASKED = "sure", "asked"


class Unsure(Exception):
    """A typed number could mean several things; `key` is that of its field."""

    def __init__(self, question: Question, key: str) -> None:
        super().__init__(question.words)
        self.question, self.key = question, key


def number_field(
    label: str,
    key: str,
    *,
    value: str = "",
    unit: str = "",
    hint: str = "",
    help: str | None = None,
    work: Work | None = None,
) -> str:
    """A number as it is typed, with a point or a comma, from the numeric keypad; read it with `read`.

    Kept while other places are looked at; with `work`, which no `st.form` allows, in the library. hint: shown while
    the field is empty, never taken for an answer.
    """
    inner = number_key(key)
    if work is not None:
        field = work.field(key, value, key=inner)
    else:
        field = {"key": inner}
        if inner not in st.session_state:
            st.session_state[inner] = value
    words = f"{label}, {unit}" if unit else label
    return str(st.text_input(words, placeholder=hint or None, help=help, **field) or "").strip()


def number_key(key: str) -> str:
    """The session key of a number field; telling.js knows the field by the class that Streamlit makes of it.

    `signed.` at its start: a number that may be below zero, for which the numeric keypad of a phone has no key.
    """
    return kept(f"number.{key}")


def kept_number(
    work: Work, name: str, label: str, default: float, *, unit: str = "", low: float = 0.0, high: float = 100_000.0,
    whole: bool = False,
) -> None:  # fmt: skip
    """A number of the work in hand, kept as soon as it is typed; refused beside its field, the one before stays.

    whole: it is counted, not measured.
    """
    key = number_key(f"{work.what}.{name}")
    refused = f"{key}.refused"
    if refused not in st.session_state:
        fill_text(key, f"{work.get(name, default):g}")

    def changed() -> None:
        try:
            answer = read_number(st.session_state[key], name=label, unit=unit, low=low, high=high)
            if whole and not isinstance(answer, Question):
                answer = whole_number_between(answer, name=label, low=int(low), high=int(high))
        except InputError as error:
            st.session_state[refused] = str(error)
            return
        if isinstance(answer, Question):
            st.session_state[refused] = answer.words
            return
        st.session_state.pop(refused, None)
        work.put(**{name: answer})

    st.text_input(f"{label}, {unit}" if unit else label, key=key, on_change=changed)
    if refused in st.session_state:
        st.error(plain(st.session_state[refused]))


LAB = {"L*": (0.0, 100.0), "a*": (-128.0, 128.0), "b*": (-128.0, 128.0), "±": (0.0, 20.0)}


def lab_fields(place: str, start: Sequence[float], work: Work) -> None:
    """A shade in numbers: L*, a*, b* and how sure they are, side by side; read it with `read_lab`."""
    typed = {}
    for column, label, value in zip(st.columns(4), LAB, start, strict=True):
        with column:
            key = _of_lab(place, label)
            typed[key] = number_field(label, key, value=f"{round(value, 2):g}", work=work)
    if any(key in work.content for key in typed):  # one was typed: the others stay beside it, wherever they came from
        work.put(**typed)


def read_lab(place: str) -> Shade:
    """The shade in the fields of `lab_fields`."""
    lightness, a, b, sd = (
        read(_of_lab(place, label), name=label, unit="", low=low, high=high) for label, (low, high) in LAB.items()
    )
    return Shade((lightness, a, b), sd=sd)


def _of_lab(place: str, label: str) -> str:
    return f"{'signed.' if LAB[label][0] < 0 else ''}{place}.{label}"


def read(
    key: str, *, name: str, unit: str = "g", low: float = 0.0, high: float = 100_000.0, step: float | None = None
) -> float:
    """The number in a field; InputError for none or a wrong one, Unsure (see `keeping`) for one to ask about."""
    text = _typed(key)
    answer = read_number(text, name=name, unit=unit, low=low, high=high, step=step)
    if isinstance(answer, Question):
        raise Unsure(answer, key)
    return answer


def read_whole(key: str, *, name: str, low: int, high: int) -> int:
    """A number that is counted, not measured; otherwise as `read`."""
    # Half a piece is refused, not rounded.
    return whole_number_between(read(key, name=name, unit="", low=low, high=high), name=name, low=low, high=high)


def read_if_any(key: str, *, name: str, unit: str = "g", low: float = 0.0, high: float = 100_000.0) -> float | None:
    """The number in a field that may stay empty."""
    return read(key, name=name, unit=unit, low=low, high=high) if _typed(key) else None


def _typed(key: str) -> str:
    return str(st.session_state.get(number_key(key)) or "").strip()


@contextmanager
def keeping(place: str, work: Work | None = None) -> Iterator[None]:
    """A guard that also asks: the answers to a question stand beside the button, and a tap on one goes on."""
    with guard():
        try:
            yield
        except Unsure as unsure:
            _ask(place, unsure, work)


def sure(place: str, work: Work | None = None) -> bool:
    """As if the button were pressed again: a question at this place was just answered, or it is open still."""
    answered = bool(st.session_state.pop(f"{_SURE}|{place}", False))
    return answered or (work is not None and _open(place, work))


def answered(place: str) -> bool:
    """Whether the question at this place is answered by this very tap; asked before `sure`, which takes the answer."""
    return bool(st.session_state.get(f"{_SURE}|{place}"))


def _open(place: str, work: Work) -> bool:
    """Whether the question kept with the work is about what stands in its field now."""
    where, key, text = work.get(_ASKED, ("", "", ""))
    return bool(where == place and text == _typed(key))


def _ask(place: str, unsure: Unsure, work: Work | None) -> None:
    if work is not None:
        work.put(**{_ASKED: [place, unsure.key, _typed(unsure.key)]})
    st.warning(plain(unsure.question.words))
    with st.container(horizontal=True):
        for number, choice in enumerate(unsure.question.choices):
            st.button(
                plain(choice.words),
                key=f"{_SURE}-{place}-{number}",
                on_click=_chosen,
                args=(place, unsure.key, choice, work),
            )


def _chosen(place: str, key: str, choice: Choice, work: Work | None) -> None:
    text = "" if choice.value is None else f"{choice.value:.10g}"
    # One more nought, and "1.251" is no longer taken for 1251.
    text = f"{text}0" if re.fullmatch(r"\d+[.]\d{3}", text) else text
    st.session_state[number_key(key)] = text
    if work is not None:
        work.put(**{key: text, _ASKED: None})
    if text:
        st.session_state[f"{_SURE}|{place}"] = True
