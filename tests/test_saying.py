"""Shades and differences in words: the words follow the eye's own measure, and say which way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.difference import delta_e_2000
from colormatch.errors import InputError
from colormatch.saying import compared, seen, shade_name, verdict

RUST = (52.8, 11.7, 13.7)
_lab = st.tuples(st.floats(1, 99), st.floats(-60, 60), st.floats(-60, 60))


@pytest.mark.parametrize(
    ("moved", "words"),
    [
        ((0.2, 0, 0), "as wanted"),
        ((1.5, 0, 0), "a little lighter"),
        ((0, 0, 2.6), "a little yellower"),
        ((-1.2, 0, -2.0), "a little darker and less yellow"),
        ((5, 0, 0), "clearly lighter"),
        ((0, -3.4, 0), "less red"),
        ((20, 0, 0), "far lighter"),
    ],
)
def test_which_way_and_how_much(moved: tuple[float, ...], words: str) -> None:
    assert compared(np.add(RUST, moved), RUST) == words


def test_less_of_its_own_colour_is_called_so() -> None:
    assert compared((50, 0, -25), (50, 0, -30)).endswith("less blue")
    assert compared((50, -15, 0), (50, -20, 0)).endswith("less green")


@given(_lab, _lab)
def test_opposite_moves_never_share_a_lightness_word(one: tuple[float, ...], other: tuple[float, ...]) -> None:
    there, back = compared(one, other), compared(other, one)
    for word in ("lighter", "darker"):
        assert not (word in there and word in back)


@given(st.lists(st.floats(0, 40), min_size=2, max_size=6))
def test_a_larger_difference_never_sounds_smaller(sizes: list[float]) -> None:
    order = ["hardly to be told apart", "passes for the same on mottled cement", "seen side by side",
             "seen at a glance", "plainly another shade"]  # fmt: skip
    places = [order.index(seen(size)) for size in sorted(sizes)]
    assert places == sorted(places)


@given(_lab, _lab)
def test_the_verdict_is_what_its_two_halves_say(one: tuple[float, ...], other: tuple[float, ...]) -> None:
    said = verdict(one, other)
    assert seen(float(delta_e_2000(one, other))) in said
    assert said.lower().startswith(compared(one, other))


@pytest.mark.parametrize(
    ("lab", "name"),
    [
        (RUST, "reddish brown"),
        ((30, 20, 18), "dark reddish brown"),
        ((95, 0, 1), "near white"),
        ((12, 0, 0), "near black"),
        ((60, 0, 2), "grey"),
        ((60, -6, -6), "bluish grey"),
        ((40, 5, -40), "dark blue"),
        ((70, 10, 60), "strong yellow"),
    ],
)
def test_names_of_shades(lab: tuple[float, ...], name: str) -> None:
    assert shade_name(lab) == name


@given(_lab)
def test_every_shade_has_a_name(lab: tuple[float, ...]) -> None:
    assert shade_name(lab).strip() == shade_name(lab) != ""


def test_no_colour_is_no_words() -> None:
    with pytest.raises(InputError, match="must be finite numbers"):
        compared((50, float("nan"), 0), RUST)
