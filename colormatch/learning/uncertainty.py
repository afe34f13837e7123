"""Uncertainty in words a maker uses."""

from __future__ import annotations

# CIEDE2000 to expect, and how far to trust it; common practice, no source.
_WORDS = ((1.0, "sure"), (2.0, "good"), (4.0, "rough"), (float("inf"), "a guess"))


def trust_in_words(delta_e: float) -> str:
    """Below 1 dE00 "sure", below 2 "good", below 4 "rough", else "a guess"."""
    return next(word for limit, word in _WORDS if delta_e < limit)
