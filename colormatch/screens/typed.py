"""Numbers typed into a form: read once, and a sentence where they could mean two things."""

from __future__ import annotations

from colormatch.errors import InputError
from colormatch.workshop.numbers import Question, read_number


def number_typed(
    text: str, *, name: str, unit: str = "", low: float = 0.0, high: float = 100_000.0, step: float | None = None
) -> float:
    """The number in a field; raises InputError for no number, one out of range, and one that could mean two."""
    read = read_number(text, name=name, unit=unit, low=low, high=high, step=step)
    if isinstance(read, Question):
        raise InputError(
            f"{name}: {read.words} Type it without the thousands, or with one more figure behind the comma."
        )
    return read


def number_if_typed(text: str, *, name: str, unit: str = "", low: float = 0.0, high: float = 100.0) -> float | None:
    """The same; None for an empty field."""
    return number_typed(text, name=name, unit=unit, low=low, high=high) if text.strip() else None
