"""What the marking component sends is checked before it is used."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import InputError
from colormatch.screens.marking import Tool, _check_typed, checked_marks

BOX = Tool("region", "Shade", "box", "")
CORNERS = Tool("corners", "Corners", "corners", "")


def test_whole_marks_pass_as_they_are() -> None:
    sent = {"region": [0.1, 0.2, 0.3, 0.4], "corners": [0, 0, 1, 0, 1, 1, 0, 1]}
    assert checked_marks(sent, [BOX, CORNERS]) == {
        "region": (0.1, 0.2, 0.3, 0.4),
        "corners": (0, 0, 1, 0, 1, 1, 0, 1),
    }


_anything = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=9) | st.dictionaries(st.sampled_from(["region", "x"]), inner, max_size=3),
    max_leaves=12,
)


@given(_anything)
def test_nothing_but_marks_gets_through(sent: object) -> None:
    for name, mark in checked_marks(sent, [BOX, CORNERS]).items():
        assert name in ("region", "corners")
        assert len(mark) == (4 if name == "region" else 8)
        assert all(0 <= value <= 1 for value in mark)


def test_typed_marks_must_be_whole_and_the_right_way_round() -> None:
    with pytest.raises(InputError, match="2 of 8"):
        _check_typed(CORNERS, (0.1, 0.2))
    with pytest.raises(InputError, match="left must be less than right"):
        _check_typed(BOX, (0.5, 0.2, 0.4, 0.6))
