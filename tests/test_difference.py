"""Laws of the colour differences; the published pairs are in tests/published."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.difference import delta_e_1976, delta_e_2000, metamerism_index
from colormatch.errors import InputError

labs = st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100))


@given(labs, labs)
def test_symmetric_and_never_negative(one, two):
    there, back = delta_e_2000(one, two), delta_e_2000(two, one)
    assert there >= 0
    assert there == pytest.approx(float(back), abs=1e-9)


@given(labs)
def test_no_difference_from_itself(one):
    assert delta_e_2000(one, one) == 0


def test_broadcasts_one_against_many():
    many = np.array([[50.0, 0, 0], [60, 10, 10]])
    assert delta_e_2000(many[0], many).shape == (2,)
    assert delta_e_1976(many[0], many)[1] == pytest.approx(np.sqrt(300))


def test_a_colour_needs_three_numbers():
    with pytest.raises(InputError, match="last axis"):
        delta_e_2000([1, 2], [1, 2, 3])


def test_no_metamerism_when_the_shift_is_the_same_under_both_lights():
    standard, sample = np.array([50.0, 10, 10]), np.array([51.0, 11, 9])
    shift = np.array([1.0, 3, 4])
    index = metamerism_index(standard, standard + shift, sample, sample + shift)
    assert index == pytest.approx(0, abs=1e-9)
