"""Names of pigments, cements, states: looked up, or taken as new, with a sentence when that cannot be."""

from __future__ import annotations

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
