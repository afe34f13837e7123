"""The building blocks of a screen: cards, chips, the answer first, a question before a deed, a line to undo."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from html import escape
from typing import Literal

import numpy as np
import streamlit as st
from numpy.typing import ArrayLike

from colormatch.colorimetry import lab_to_hex
from colormatch.screens.drawing import numbers, plain
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.state import kept

Lab = ArrayLike


@contextmanager
def card(key: str) -> Iterator[None]:
    """A card; what is drawn inside `with card("batch-3"):` is on it."""
    with st.container(border=True, key=f"card-{key}"):
        yield


@contextmanager
def grid(key: str) -> Iterator[None]:
    """Cards beside each other where there is room; one below the other on a phone."""
    with st.container(key=f"grid-{key}"):
        yield


def caution(sentence: str) -> None:
    """One caution within a card."""
    st.html(f'<p class="caution-line">{escape(sentence)}</p>')


def chip(lab: Lab, says: str, *, beside: Lab | None = None) -> str:
    """The HTML of a small square of a shade, or of two side by side; `says` is its text alternative."""
    left, right = lab_to_hex(lab), lab_to_hex(lab if beside is None else beside)
    look = f"background:linear-gradient(90deg, {left} 50%, {right} 50%)"
    return f'<i class="chip-dot" role="img" aria-label="{escape(says, quote=True)}" style="{look}"></i>'


def no_chip(says: str = "no shade yet") -> str:
    """The HTML of a square where no shade is known yet."""
    return f'<i class="chip-dot none" role="img" aria-label="{escape(says, quote=True)}"></i>'


def head(title: str, line: str = "", *, mark: str = "", aside: str = "") -> None:
    """The two lines of a card: what it is about, and one line more; `mark`: the HTML of a chip, a tick, a picture."""
    st.html(_head(title, line, mark, aside))


def head_and_button(
    title: str,
    line: str,
    label: str,
    key: str,
    *,
    mark: str = "",
    type: Literal["primary", "secondary", "tertiary"] = "secondary",
) -> bool:
    """A card's two lines with its one button at their right; whether it was pressed."""
    with st.container(horizontal=True, vertical_alignment="center", wrap=False, gap="small"):
        st.html(_head(title, line, mark, ""), width="stretch")
        return st.button(label, key=key, type=type)


def line_and_button(line: str, label: str, key: str) -> bool:
    """A line in small type with a button as a link at its right; whether it was pressed."""
    with st.container(key=f"hand-{key}", horizontal=True, vertical_alignment="center", wrap=False, gap="small"):
        st.html(f'<p class="small">{escape(line)}</p>', width="stretch")
        return st.button(label, key=key, type="tertiary")


def _head(title: str, line: str, mark: str, aside: str) -> str:
    small = f"<small>{escape(line)}</small>" if line else ""
    right = f"<span>{escape(aside)}</span>" if aside else ""
    return f'<div class="card-head">{mark}<div><b>{escape(title)}</b>{small}</div>{right}</div>'


def touching(chips: Sequence[tuple[str, Lab]], *, height_px: int = 110, note: str = "") -> None:
    """Shades that touch, on mid grey, each with its word below: wanted and predicted, planned and as it is."""
    colours = "".join(
        f'<i role="img" aria-label="{escape(word, quote=True)}: {escape(numbers(np.asarray(lab)))}" '
        f'style="background:{lab_to_hex(lab)};height:{height_px}px"></i>'
        for word, lab in chips
    )
    words = "".join(f"<span>{escape(word)}</span>" for word, _ in chips)
    below = f"<small>{escape(note)}</small>" if note else ""
    st.html(f'<div class="touching"><div>{colours}</div><p>{words}</p>{below}</div>')


def answer(sentence: str, more: str = "", *, numbers: str = "") -> None:
    """The answer first, in plain words; then a line more; then the numbers in small type."""
    rest = f" {escape(more)}" if more else ""
    small = f"<small>{escape(numbers)}</small>" if numbers else ""
    st.html(f'<p class="answer"><b>{escape(sentence)}</b>{rest}{small}</p>')


def amounts(rows: Sequence[tuple[str, str]], *, note: str = "") -> None:
    """What to weigh, one line each: `[("Brick red", "7.8 g"), ...]`."""
    lines = "".join(f"<tr><td>{escape(what)}</td><td>{escape(amount)}</td></tr>" for what, amount in rows)
    small = f"<small>{escape(note)}</small>" if note else ""
    st.html(f'<div class="amounts"><table><tbody>{lines}</tbody></table>{small}</div>')


def ticked(done: bool, number: int) -> str:
    """The HTML of a step's mark: its number, or a tick once it is done."""
    word = "done" if done else f"step {number}"
    return f'<i class="tick{" done" if done else ""}" role="img" aria-label="{word}">{"✓" if done else number}</i>'


def small(text: str) -> None:
    """A line in small, soft type."""
    st.html(f'<p class="small">{escape(text)}</p>')


def picture(image: bytes, says: str, *, kind: str = "image/png", width_px: int | None = None) -> None:
    """A picture with its text alternative."""
    import base64

    data = base64.b64encode(image).decode("ascii")
    width = f' style="width:{width_px}px"' if width_px else ""
    st.html(f'<img class="picture" alt="{escape(says, quote=True)}"{width} src="data:{kind};base64,{data}">')


def confirmed(label: str, key: str, *, question: str, sure: str) -> bool:
    """A button that asks before it does something: True once the second button is pressed."""
    with st.popover(label, key=f"{key}-ask"):
        st.markdown(plain(question))
        return bool(st.button(sure, key=f"{key}-sure", type="primary"))


def undo_line(place: str, label: str, undo: Callable[[], object]) -> None:
    """One tap takes the last step back and says what it undid: `undo_line("bowl", "4.7 g of ochre", ...)`."""
    show_notice(place)
    if st.button(f"Undo: {label}", type="tertiary", key=f"undo-{kept(place)}"):
        with guard():
            undo()
            say_then_draw(place, f"Undone: {label}.")
