"""What is in a bowl: one gate, one limit."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import InputError, LoadError
from colormatch.loads import ASTM_C979_MAXIMUM, Mix, check_totals, per_cent


@given(st.dictionaries(st.sampled_from("abcdef"), st.floats(0, ASTM_C979_MAXIMUM), max_size=6))
def test_a_mix_is_made_exactly_when_its_pigments_stay_within_ten_per_cent(loads):
    if math.fsum(loads.values()) <= ASTM_C979_MAXIMUM:
        mix = Mix.of("white-cement", loads)
        assert mix.loads == loads
        assert mix.total == math.fsum(loads.values())
    elif math.fsum(loads.values()) > ASTM_C979_MAXIMUM + 1e-8:
        with pytest.raises(LoadError, match="add up to"):
            Mix.of("white-cement", loads)


@pytest.mark.parametrize(
    ("load", "words"),
    [
        (-0.01, "must be from 0 to 0.1"),
        (0.11, "2 % is 0.02"),
        (float("nan"), "must be from 0"),
        (True, "must be a number"),
        ("0.02", "must be a number"),
    ],
)
def test_a_load_that_cannot_be_is_refused_with_its_name(load, words):
    with pytest.raises(LoadError, match=words) as refused:
        Mix.of("white-cement", {"red": load})
    assert "red" in str(refused.value)


@pytest.mark.parametrize(
    ("base", "loads"),
    [
        ("", {}),
        (None, {}),
        (3, {}),
        ("white-cement", None),
        ("white-cement", {3: 0.1}),
        ("white-cement", [("red", 0.1)]),
    ],
)
def test_what_is_no_mix_is_refused_in_words(base, loads):
    with pytest.raises(InputError, match="of a mix must be"):
        Mix.of(base, loads)


def test_totals_of_many_rows_stop_at_the_fullest():
    check_totals(np.array([[0.05, 0.05], [0.0, 0.0]]))
    with pytest.raises(LoadError, match=r"11 %"):
        check_totals(np.array([[0.01, 0.0], [0.05, 0.06]]))


@pytest.mark.parametrize(
    ("share", "places", "words"),
    [
        (0.05, 2, "5 %"),
        (0.0125, 2, "1.25 %"),
        (0.025, 2, "2.5 %"),
        (0.1, 0, "10 %"),
        (0.0, 2, "0 %"),
        (0.996, 0, "100 %"),
    ],
)
def test_per_cents_are_written_one_way(share, places, words):
    assert per_cent(share, places) == words
