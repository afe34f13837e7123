"""Amounts as typed on the command line: a load in per cent or g per kg, a weight in g or kg, a time in days."""

from __future__ import annotations

import math
import re

from ..arrays import number_between
from ..errors import InputError
from ..workshop.numbers import Question, read_number

_TYPED = re.compile(r"\s*([^a-z%]*\d(?:e[-+]?\d+)?)\s*([%a-z/]*)\s*", re.IGNORECASE)
_EXPONENT = re.compile(r"[-+]?\d+(?:[.,]\d+)?e[-+]?\d+", re.IGNORECASE)
_PER_CENT = {"": 1.0, "%": 1.0, "g/kg": 0.1}
_GRAMS = {"": 1.0, "g": 1.0, "kg": 1000.0}
_DAYS = {"": 1.0, "d": 1.0, "h": 1 / 24}
_SHARE_BELOW = 0.1  # a bare number below this many per cent is more likely a share that was meant


def per_cent(text: str, *, name: str, high: float) -> float:
    """`2`, `2%` or `20g/kg` of the dry cement, in per cent; a bare number under 0.1 is asked about."""
    value, unit = _amount(text, name, _PER_CENT)
    if unit == "" and 0 < value < _SHARE_BELOW:
        raise InputError(
            f"{name} is {text}: per cent of the dry cement, or a share? Write {value:g}% for the one, "
            f"{value * 100:g}% for the other."
        )
    return number_between(value * _PER_CENT[unit], name=name, low=0, high=high, unit="% of the dry cement")


def grams(text: str, *, name: str, high: float = 1e6) -> float:
    """`780`, `780g` or `0.78kg`, in g."""
    value, unit = _amount(text, name, _GRAMS)
    return number_between(value * _GRAMS[unit], name=name, low=0, high=high, unit="g", open_low=True)


def weights(texts: list[str]) -> tuple[list[float], list[float]]:
    """`0=412.3 1=401` or `24h=401g`: days and grams; hours typed as days and kilograms are asked about."""
    pairs = [text.partition("=") for text in texts]
    if not all(equals for _, equals, _ in pairs):
        raise InputError("Write each weight as day=grams, such as 0=412.3 1=401.0.")
    days = [_amount(day, "A day", _DAYS) for day, _, _ in pairs]
    masses = [_amount(mass, "A weight", _GRAMS) for _, _, mass in pairs]
    for value, unit in days:
        number_between(value * _DAYS[unit], name="A day", low=0, high=3650, unit="days")
    bare = [value for value, unit in days if unit == ""]
    if len(bare) > 2 and all(value % 12 == 0 for value in bare) and max(bare) > 0:
        hours, apart = " ".join(f"{value:g}h" for value in bare), " ".join(f"{value:g}d" for value in bare)
        raise InputError(
            f"The days are {', '.join(f'{v:g}' for v in bare)}: are they hours? Write {hours}; else {apart}."
        )
    light = [value for value, unit in masses if unit == ""]
    if light and max(light) < 5:
        raise InputError(
            f"The weights are {', '.join(f'{v:g}' for v in light)} g: are they kilograms? Write {light[0]:g}kg; "
            f"else {light[0]:g}g."
        )
    return [value * _DAYS[unit] for value, unit in days], [value * _GRAMS[unit] for value, unit in masses]


def one_number(read: float | Question) -> float:
    """What was typed, where it can mean one thing only; InputError that asks, where it can mean two."""
    if isinstance(read, Question):
        raise InputError(f"{read.words} Type it without a sign for thousands, with a point.")
    return read


def _amount(text: str, name: str, units: dict[str, float]) -> tuple[float, str]:
    typed = _TYPED.fullmatch(text)
    if typed is None or typed[2].lower() not in units:
        known = " or ".join(each for each in units if each)
        raise InputError(f"{name} is {text!r}; it must be a number, with {known} behind it if you like.")
    if _EXPONENT.fullmatch(typed[1]):
        return float(typed[1].replace(",", ".")), typed[2].lower()
    # Points part the decimals on a command line, as a scale of three places shows them; a comma may mean either.
    read = read_number(typed[1].removeprefix("+"), name=name, unit="", low=-math.inf, high=math.inf, step=0.001)
    return one_number(read), typed[2].lower()
