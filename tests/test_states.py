"""Dry, wet, sealed, and the way between."""

import numpy as np
import pytest

from colormatch.errors import InputError, UnknownNameError
from colormatch.states import (
    DRY,
    StateFactors,
    drying_share,
    film_slope,
    in_order,
    state_kind,
    state_words,
    through_film,
)


def test_dry_has_no_film():
    r = np.linspace(0, 1, 5)
    np.testing.assert_array_equal(through_film(r, DRY), r)


def test_a_whole_film_is_darker_than_half_a_film():
    r = np.linspace(0.05, 0.95, 19)
    half, whole = (through_film(r, StateFactors(1, 1, cover, 1.333)) for cover in (0.5, 1.0))
    assert np.all(whole < half)
    assert np.all(half < r)


def test_sealed_is_darker_than_wet_for_a_whole_film():
    r = np.linspace(0.05, 0.95, 19)
    sealed, wet = (through_film(r, StateFactors(1, 1, 1, n)) for n in (1.49, 1.333))
    assert np.all(sealed < wet)


def test_the_film_slope_is_the_derivative():
    factors, r, step = StateFactors(1, 1, 0.7, 1.4), np.linspace(0.1, 0.9, 9), 1e-6
    numeric = (through_film(r + step, factors) - through_film(r - step, factors)) / (2 * step)
    np.testing.assert_allclose(film_slope(r, factors), numeric, rtol=1e-6)


def test_drying_meets_both_ends_and_never_turns_back():
    share = drying_share(np.linspace(1, 0, 50))
    assert share[0] == pytest.approx(0)
    assert share[-1] == pytest.approx(1)
    assert np.all(np.diff(share) > 0)


@pytest.mark.parametrize("saturation", [-0.1, 1.1, np.nan])
def test_an_impossible_saturation_is_refused(saturation):
    with pytest.raises(InputError, match="saturation"):
        drying_share(saturation)


def test_a_sealer_has_its_own_state():
    assert state_kind("sealed:beeswax") == "sealed"
    for unknown in ("damp", "wet:rain", "", 3, "sealed:", "sealed: ", "sealed:two\nlines"):
        with pytest.raises(UnknownNameError, match="demould"):
            state_kind(unknown)


def test_states_in_order_and_in_words():
    given = ["sealed:wax", "dry", "damp", "sealed", "demould", "wet"]
    assert in_order(given) == ["demould", "wet", "dry", "sealed", "sealed:wax", "damp"]
    assert [state_words(each) for each in ("demould", "dry", "sealed:wax")] == ["at demould", "dry", "sealed with wax"]


def test_a_film_found_from_the_tiles_sends_back_a_white_body_less_what_its_outside_reflects():
    """All light that passes the outside comes out of a white body in the end, whatever is thrown back inside."""
    for inner in (0.2, 0.6):
        found = StateFactors(pore_base=1.0, pore_pigment=1.0, cover=1.0, index=1.5, inner=inner)
        gain, p = found.film
        assert p == inner
        assert gain / (1 - p) == pytest.approx(1 - 0.04)
