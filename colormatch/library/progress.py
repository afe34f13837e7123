"""How far long work is: a function that is told the share done, 0..1. What it raises ends the work, all undone."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float], object]


def quiet(share: float) -> None:
    """Nobody listens."""


def part(progress: Progress, start: float, end: float) -> Progress:
    """The progress of a part of the work, from `start` to `end` of the whole."""
    return lambda share: progress(start + share * (end - start))
