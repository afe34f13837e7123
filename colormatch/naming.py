"""Names of pigments, cements, states: looked up, taken as new, or shown on one line; a sentence when that cannot be."""

from __future__ import annotations

import unicodedata
from collections.abc import Container, Mapping
from typing import TypeVar

from .errors import InputError, UnknownNameError

LONGEST_NAME = 200  # letters; longer than any label, short enough to be shown; a judgement

Record = TypeVar("Record")


def look_up(records: Mapping[str, Record], name: object, kind: str) -> Record:
    """The record of that name; raises UnknownNameError with the known names for anything else."""
    if not isinstance(name, str) or name not in records:
        raise UnknownNameError(kind, name, records)
    return records[name]


def new_name(name: object, taken: Container[str], kind: str) -> str:
    """A name that may be given to something new: one line of text, not taken; raises InputError."""
    if not isinstance(name, str) or not name.strip():
        raise InputError(f"A {kind} needs a name; got {name!r}.")
    if len(name) > LONGEST_NAME or not name.isprintable():
        raise InputError(
            f"The name of a {kind} must be one line of at most {LONGEST_NAME} characters; got {name[:40]!r}..."
        )
    if name in taken:
        raise InputError(f"There is a {kind} called {name!r} already; choose another name.")
    return name


def one_line(text: str, longest: int = 44) -> str:
    """A text fit to be shown: one line, no control or direction characters, at most two marks on a letter; cut."""
    kept, marks = list[str](), 0
    for letter in unicodedata.normalize("NFC", text[: 20 * longest]):
        kind = unicodedata.category(letter)
        marks = marks + 1 if kind == "Mn" else 0
        if kind[0] == "C" and letter != "\u200d":  # which joins the parts of one sign
            letter = " " if letter in "\t\n\r" else ""
        if marks <= 2:
            kept.append(letter)
    line = " ".join("".join(kept).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"
