"""CIEDE2000 test data: Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21-30, table 1, all 34 pairs."""

from pathlib import Path

import numpy as np
import pytest

from colormatch.difference import delta_e_2000

ROWS = np.loadtxt(Path(__file__).with_name("sharma2005.csv"), delimiter=",", comments="#")

pytestmark = pytest.mark.published(
    source="Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21-30, table 1; row 14 from the paper",
    covers=[
        "delta_e_2000",
    ],
)


def test_no_row_was_dropped():
    assert ROWS.shape == (34, 8)
    np.testing.assert_array_equal(ROWS[:, 0], np.arange(1, 35))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"pair{int(row[0])}")
def test_pair(row):
    one, two, expected = row[1:4], row[4:7], row[7]
    assert delta_e_2000(one, two) == pytest.approx(expected, abs=5e-5)
    assert delta_e_2000(two, one) == pytest.approx(expected, abs=5e-5)


def test_pair_14_does_not_hang_on_rounding():
    """The hue difference of pair 14 is 180 degrees but for rounding; both sides of it must agree."""
    one, two = np.array([50, -0.001, 2.49]), np.array([50, 0.001, -2.49])
    for nudge in (-1e-15, 0, 1e-15):
        assert delta_e_2000(one + nudge, two) == pytest.approx(4.8045, abs=5e-5)
