"""A shade is a colour with its uncertainty, and refuses what is neither."""

import numpy as np
import pytest

from colormatch import Shade
from colormatch.errors import InputError


def test_sd_and_covariance_say_the_same():
    by_sd, by_covariance = Shade((50, 1, 2), sd=0.7), Shade((50, 1, 2), covariance=np.eye(3) * 0.49)
    assert by_sd.sd == pytest.approx(0.7)
    np.testing.assert_allclose(by_sd.covariance, by_covariance.covariance)


def test_equal_shades_are_one_key():
    one, two = Shade((50, 1, 2), sd=0.7), Shade((50, 1, 2), sd=0.7)
    assert one == two
    assert len({one, two}) == 1
    assert one != Shade((50, 1, 2), sd=0.8)


def test_without_uncertainty_it_is_exact():
    assert Shade((50, 1, 2)).sd == 0


def test_sd_is_the_root_of_the_mean_variance():
    assert Shade((50, 0, 0), covariance=np.diag([1.0, 4, 7])).sd == pytest.approx(2)


def test_its_arrays_cannot_be_written():
    with pytest.raises(ValueError, match="read-only"):
        Shade((50, 1, 2)).lab[0] = 3


def test_widened_adds_variances():
    assert Shade((50, 0, 0), sd=3).widened(16 * np.eye(3)).sd == pytest.approx(5)


@pytest.mark.parametrize(
    "bad",
    [
        {"lab": (50, 1)},
        {"lab": (np.nan, 0, 0)},
        {"lab": (150, 0, 0)},
        {"lab": (50, 900, 0)},
        {"lab": "red"},
        {"lab": (50, 0, 0), "sd": -1},
        {"lab": (50, 0, 0), "sd": np.inf},
        {"lab": (50, 0, 0), "sd": 1e300},
        {"lab": (50, 0, 0), "sd": "wide"},
        {"lab": (50, 0, 0), "sd": 1, "covariance": np.eye(3)},
        {"lab": (50, 0, 0), "covariance": np.diag([1, 1, -1])},
        {"lab": (50, 0, 0), "covariance": [[1, 2, 0], [0, 1, 0], [0, 0, 1]]},
    ],
)
def test_bad_input_is_refused_in_words(bad):
    with pytest.raises(InputError, match=r"must be|must have|is not a colour|not both"):
        Shade(**bad)


@pytest.mark.parametrize(("typed", "meant"), [((0.58, 0.17, 0.16), "shares of 1"), ((95.05, 100.0, 108.88), "XYZ")])
def test_numbers_in_other_units_are_asked_about(typed, meant):
    with pytest.warns(UserWarning, match=meant):
        Shade(typed)


@pytest.mark.parametrize("typed", [(0, 0, 0), (1.5, 0.2, 0.3), (100, 0, 0), (95, -20, 90), (20, 0, -80)])
def test_colours_are_taken_without_a_word(typed):
    assert tuple(Shade(typed).lab) == typed
