"""Numbers as they are typed: comma or point, and a question where it could mean two things."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..arrays import number_between
from ..bench.batch import MOST_G
from ..errors import InputError

_THOUSANDS = re.compile(r"\d{1,3}(?:[ ']\d{3})+(?:[.,]\d+)?|\d{1,3}(?:\.\d{3})+,\d+|\d{1,3}(?:,\d{3})+\.\d+")
_GROUPED = re.compile(r"\d{1,3}(?:([.,])\d{3})(?:\1\d{3})+")
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_DECIMAL = re.compile(r"\d+(?:[.,]\d*)?|[.,]\d+")
_THIRD_PLACE_G = 0.005  # a scale of finer steps shows three places: "1.250" is then what it shows


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question; value None: type it again."""

    words: str
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """What was typed could mean several things: nothing is kept until one is chosen."""

    words: str
    choices: tuple[Choice, ...]


def read_number(
    text: str, *, name: str, unit: str = "g", low: float = 0.0, high: float = MOST_G, step: float | None = None
) -> float | Question:
    """A typed number within low..high, `4,7` or `4.7 g`, `-3,2` where low is below zero.

    A Question for `1,250`; InputError for anything else.

    step: what the scale shows; from three places on, `1.250` is no question.
    """
    plain = re.sub(r"[\s\u00a0\u2009\u202f]+", " ", str(text)).strip().removesuffix(unit).strip()
    if not plain:
        raise InputError(
            f"{name} is missing: type the number{f' in {unit}' if unit else ''}, such as {_example(unit)}."
        )
    if _TWO_WAYS.fullmatch(plain) and not (step is not None and step < _THIRD_PLACE_G and "." in plain):
        small, large = float(plain.replace(",", ".")), float(re.sub("[.,]", "", plain))
        within = [value for value in (small, large) if low <= value <= high]
        if len(within) == 2:
            either, other = (f"{value:g} {unit}".strip() for value in within)
            choices = (Choice(either, small), Choice(other, large), _AGAIN)
            return Question(f"{plain}: is that {either} or {other}?", choices)
        if within:
            return within[0]
    if below := low < 0 and re.match(r"[-\u2212]\s*", plain):
        plain = plain[below.end() :]
    value = _number(plain, text, name, unit)
    return number_between(-value if below else value, name=name, low=low, high=high, unit=unit)


_AGAIN = Choice("type it again")


def _example(unit: str) -> str:
    return "4,7" if unit else "3"  # what has no unit is mostly counted


def _number(plain: str, text: str, name: str, unit: str) -> float:
    if _THOUSANDS.fullmatch(plain):
        whole, _, rest = re.sub(r"[ ']", "", plain).replace(",", ".").rpartition(".")
        return float(f"{whole.replace('.', '')}.{rest}") if re.search(r"[.,]", plain) else float(rest)
    if _GROUPED.fullmatch(plain):
        return float(re.sub("[.,]", "", plain))
    if _DECIMAL.fullmatch(plain):
        return float(plain.replace(",", "."))
    if re.fullmatch(r"[-\u2212]\s*[\d.,]+", plain):
        again = "Zero the scale and read it again." if unit == "g" else "Type it without the minus."
        raise InputError(f"{name} is {text!r}: it cannot be below zero. {again}")
    what = f"what the scale shows in {unit}" if unit == "g" else f"it in {unit}" if unit else "it"
    raise InputError(f"{name} is {text!r}, which is no number. Type {what}, such as {_example(unit)}.")
