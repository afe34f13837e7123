"""Numbers as they are typed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import InputError
from colormatch.workshop.numbers import Question, read_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("4,7", 4.7), ("4.7", 4.7), (" 4,7 g", 4.7), ("4", 4.0), (",5", 0.5), ("12.", 12.0), ("0,250", 0.25),
        ("0.125", 0.125),
        ("1 250", 1250.0), ("1 250,5", 1250.5), ("1'250.5", 1250.5), ("1.250,5", 1250.5), ("1,250.5", 1250.5),
        ("1250,5", 1250.5), ("10.000.000", None), ("1250", 1250.0), ("4\u00a0g", 4.0),
    ],
)  # fmt: skip
def test_a_number_is_read_with_comma_or_point(text, value):
    if value is None:
        with pytest.raises(InputError, match="is 10000000 g; it must be from 0 to"):  # as it was typed, no 1e+07
            read_number(text, name="The weight")
    else:
        assert read_number(text, name="The weight") == value


@pytest.mark.parametrize("text", ["1,250", "1.250", "12,345", "999.999"])
def test_three_places_behind_are_asked_about(text):
    asked = read_number(text, name="The weight", high=1_000_000)
    assert isinstance(asked, Question)
    small, large, again = asked.choices
    assert large.value == 1000 * small.value
    assert again.value is None


def test_a_question_with_one_possible_answer_is_not_asked():
    assert read_number("1,250", name="The weight", high=100) == 1.25
    assert read_number("1.250", name="The weight", step=0.001) == 1.25


@pytest.mark.parametrize("text", ["abc", "", "  ", "4,7,2", "1,2.3.4", "4 7", "nan", "inf", "1e3", "½", "4;7"])
def test_what_is_no_number_is_refused_never_taken_as_the_planned_weight(text):
    with pytest.raises(InputError, match="such as 4,7"):
        read_number(text, name="The weight")


def test_below_zero_says_to_zero_the_scale():
    with pytest.raises(InputError, match="Zero the scale"):
        read_number("-3,2", name="The weight")


@given(st.decimals(min_value=0, max_value=99_999, places=2), st.sampled_from(",."))
def test_what_a_scale_of_two_places_shows_is_what_is_kept(value, sign):
    assert read_number(str(value).replace(".", sign), name="The weight") == float(value)
