"""Shades and differences said in the words of a workshop: what the eye will see, before any number."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .arrays import finite_array
from .colorimetry import lab_to_lch
from .difference import JUST_SEEN, delta_e_2000

# Where one step of wording gives way to the next, CIEDE2000. On mottled cement at arm's length below 2 two
# areas pass for one, above 4 they are plainly two; the steps between are common practice, no source.
ALIKE, READS_AS_ONE, READS_AS_TWO, _PLAIN = 0.5, 2.0, 4.0, 8.0
_NAMED = 0.5  # share of the largest part of a difference from which a second part is named
_COLOURED = 6.0  # a* or b* from which a shade is called by that colour, so that less of it is "less red"
GREY, _TINGED, _STRONG = 5.0, 14.0, 45.0  # C*ab: under it no hue to speak of, a grey with a tinge; a strong colour
# Hue angle in CIELAB up to which a colour has a name; from memory of plain usage.
_HUES = (
    (20, "pink"), (50, "red"), (72, "orange"), (100, "yellow"), (130, "yellow-green"), (185, "green"),
    (240, "blue-green"), (290, "blue"), (325, "violet"), (361, "pink"),
)  # fmt: skip
_TINGES = {"pink": "pinkish", "red": "reddish", "orange": "brownish", "yellow": "yellowish", "green": "greenish",
           "yellow-green": "greenish", "blue-green": "bluish", "blue": "bluish", "violet": "violet"}  # fmt: skip


def seen(delta_e: float) -> str:
    """What a difference of that CIEDE2000 looks like: `hardly to be told apart`."""
    steps = (
        (JUST_SEEN, "hardly to be told apart"),
        (READS_AS_ONE, "passes for the same on mottled cement"),
        (READS_AS_TWO, "seen side by side"),
        (_PLAIN, "seen at a glance"),
    )
    return next((words for most, words in steps if delta_e < most), "plainly another shade")


def compared(lab: ArrayLike, wanted: ArrayLike) -> str:
    """How one CIELAB shade (3,) stands to the one wanted: `a little lighter and yellower`; at most two parts."""
    got, aim = finite_array(lab, name="The shade", shape=(3,)), finite_array(wanted, name="The wanted", shape=(3,))
    far = float(delta_e_2000(got, aim))
    if far < ALIKE:
        return "as wanted"
    chroma = 1 + 0.045 * float(np.hypot(aim[1], aim[2]))  # CIEDE2000 weighs strong colours less
    steps = (got - aim) / np.array([1.0, chroma, chroma])
    order = np.argsort(-np.abs(steps), kind="stable")[:2]
    named = [int(axis) for axis in order if abs(steps[axis]) >= _NAMED * np.abs(steps).max()]
    amounts = ((JUST_SEEN, "a touch "), (READS_AS_ONE, "a little "), (READS_AS_TWO, ""), (_PLAIN, "clearly "))
    amount = next((words for most, words in amounts if far < most), "far ")
    return amount + " and ".join(_direction(axis, steps[axis], aim[axis]) for axis in named)


def than_predicted(lab: ArrayLike, predicted: ArrayLike) -> str:
    """`a little lighter than predicted`; `as predicted` where the two CIELAB shades (3,) are hardly told apart."""
    alike = float(delta_e_2000(lab, predicted)) < ALIKE
    return "as predicted" if alike else f"{compared(lab, predicted)} than predicted"


def verdict(lab: ArrayLike, wanted: ArrayLike) -> str:
    """The two together: `A little lighter and yellower than wanted: passes for the same on mottled cement.`"""
    far = float(delta_e_2000(lab, wanted))
    if far < ALIKE:
        return "As wanted: hardly to be told apart."
    return f"{compared(lab, wanted).capitalize()} than wanted: {seen(far)}."


def shade_name(lab: ArrayLike) -> str:
    """A CIELAB shade (3,) in plain words, `dark reddish brown`: for those who do not see it."""
    lightness, chroma, angle = (float(x) for x in lab_to_lch(finite_array(lab, name="The shade", shape=(3,))))
    # L* at which words change: common usage, no source
    tone = "very dark" if lightness < 25 else "dark" if lightness < 45 else "pale" if lightness > 80 else ""
    if chroma < GREY:
        plain = "near white" if lightness > 90 else "near black" if lightness < 20 else f"{tone} grey"
        return plain.strip()
    hue = next(name for most, name in _HUES if angle < most)
    if chroma < _TINGED:
        return f"{tone} {_TINGES[hue]} grey".strip()
    brown = hue in ("red", "orange", "yellow") and lightness < 62 and chroma < _STRONG
    if brown:
        hue = {"red": "reddish brown", "orange": "brown", "yellow": "yellowish brown"}[hue]
    return " ".join(filter(None, (tone, "strong" if chroma > _STRONG and not brown else "", hue)))


def capital(words: str) -> str:
    """Words with a capital at their head, the rest as it is."""
    return words[:1].upper() + words[1:]


def _direction(axis: int, step: float, aim: float) -> str:
    if axis == 0:
        return "lighter" if step > 0 else "darker"
    more, less = (("redder", "greener"), ("yellower", "bluer"))[axis - 1]
    own = (("red", "green"), ("yellow", "blue"))[axis - 1]
    if step < 0 and aim > _COLOURED:
        return f"less {own[0]}"
    if step > 0 and aim < -_COLOURED:
        return f"less {own[1]}"
    return more if step > 0 else less
