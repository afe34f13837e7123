"""Laws of the boundary terms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import InputError
from colormatch.surface import (
    external_diffuse_reflectance,
    film,
    internal_diffuse_reflectance,
    normal_reflectance,
    saunderson,
    saunderson_inverse,
)

inside = st.floats(0.001, 0.999)


@given(inside, st.floats(0, 0.1), st.floats(0, 0.9), st.booleans())
def test_saunderson_inverts(r, k1, k2, included):
    there = saunderson(r, k1, k2, specular_included=included)
    assert saunderson_inverse(there, k1, k2, specular_included=included) == pytest.approx(r, abs=1e-9)


def test_saunderson_fixed_points():
    assert saunderson(0.37, 0, 0) == pytest.approx(0.37)
    assert saunderson(1.0, 0.04, 0.6) == pytest.approx(1.0)
    assert saunderson(1.0, 0.04, 0.6, specular_included=False) == pytest.approx(0.96)
    assert saunderson(0.0, 0.04, 0.6) == pytest.approx(0.04)
    assert saunderson(0.1, 0.04, 0.4) == pytest.approx(0.1)


def test_a_reading_below_the_surface_reflection_is_refused():
    with pytest.raises(InputError, match="specular part"):
        saunderson_inverse(0.02, 0.04, 0.6)


@given(inside, st.floats(1.1, 1.6))
def test_a_film_always_darkens_and_more_so_with_a_higher_index(r, n):
    assert film(r, n + 0.1) < film(r, n) < r


@given(st.floats(1.0001, 4))
def test_boundaries_send_back_a_share_between_nought_and_one(n):
    for share in (normal_reflectance(n), external_diffuse_reflectance(n), internal_diffuse_reflectance(n)):
        assert 0 <= share < 1


def test_no_boundary_as_the_index_nears_one():
    assert external_diffuse_reflectance(1 + 1e-6) == pytest.approx(0, abs=1e-4)


@pytest.mark.parametrize("n", [1.0, 0.5, 5.0, np.nan])
def test_an_impossible_index_is_refused(n):
    with pytest.raises(InputError, match="index"):
        normal_reflectance(n)
