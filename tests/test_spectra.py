"""The grid, and spectra brought onto it."""

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.spectra import N_BANDS, WAVELENGTHS_NM, check_reflectance, to_grid


def test_the_grid_is_400_to_700_by_10():
    assert (WAVELENGTHS_NM[0], WAVELENGTHS_NM[-1], len(WAVELENGTHS_NM)) == (400, 700, N_BANDS)


@pytest.mark.parametrize("step", [1, 2, 5, 10, 20])
def test_a_straight_line_survives_any_step(step):
    nm = np.arange(380.0, 731.0, step)
    np.testing.assert_allclose(to_grid(nm, nm / 1000), WAVELENGTHS_NM / 1000, atol=1e-9)


def test_the_grid_itself_passes_unchanged():
    values = np.random.default_rng(1).random((4, N_BANDS))
    np.testing.assert_allclose(to_grid(WAVELENGTHS_NM, values), values, atol=1e-12)


@pytest.mark.parametrize(
    ("nm", "words"),
    [([400, 500, 450, 700], "increase"), ([450, 700], "400 to 700"), ([400], "increase")],
)
def test_bad_wavelengths_are_refused(nm, words):
    with pytest.raises(InputError, match=words):
        to_grid(nm, np.ones(len(nm)))


def test_gaps_in_the_numbers_are_refused():
    with pytest.raises(InputError, match="finite"):
        to_grid(WAVELENGTHS_NM, np.full(N_BANDS, np.nan))


def test_per_cent_is_recognised():
    with pytest.raises(InputError, match="divide by 100"):
        check_reflectance(np.full(N_BANDS, 45.0))
