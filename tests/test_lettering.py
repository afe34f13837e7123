"""Typefaces: plain names keep the one that is always there, others get one that has their letters."""

from __future__ import annotations

import pytest

from colormatch import lettering
from colormatch.lettering import face


def boxes(text: str, bold: bool = False) -> int:
    """How many letters would be drawn as an empty box."""
    one = face(40, bold, text)
    empty = bytes(one.getmask("\uffff"))
    return sum(bytes(one.getmask(letter)) == empty for letter in text if letter != " ")


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["Mug, second", "Crème brûlée é ø ß", "Чаша Ёлка", "Ωμέγα ύψος", "L* ± 0.5 dE00 °"])
def test_latin_greek_and_cyrillic_are_drawn(text: str, bold: bool) -> None:
    assert boxes(text, bold) == 0


def test_latin_is_drawn_alike_on_every_machine() -> None:
    assert face(20).getname() == face(20, text="Mug").getname() == ("Bitstream Vera Sans", "Roman")


def test_without_any_typeface_of_the_machine_greek_and_cyrillic_are_still_drawn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(lettering, "_on_this_machine", dict)
    lettering._files.cache_clear()
    try:
        assert boxes("Чаша Ωμέγα") == 0
        assert face(20, text="\U0001f642").getname()[0] == "Bitstream Vera Sans"  # what nobody has: any will do
    finally:
        lettering._files.cache_clear()
