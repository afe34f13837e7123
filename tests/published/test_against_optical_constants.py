"""Refractive indices behind the starter pigments, against their sources."""

import numpy as np
import pytest

from tests.worlds.powder import INDEX_FILES, mineral, read_columns, rutile_indices

pytestmark = pytest.mark.published(
    source="DeVore 1951 (rutile), Querry 1985 (hematite), Hagemann et al. 1975 (carbon)",
    covers=[
        "starter_palette",
    ],
)

BANDS = (5, 15, 25)  # 450, 550, 650 nm


def test_rutile_indices_are_devores():
    """J. R. DeVore, J. Opt. Soc. Am. 41 (1951) 416, at 450, 550 and 650 nm."""
    ordinary, extraordinary = rutile_indices(np.array([0.45, 0.55, 0.65]))
    np.testing.assert_allclose(ordinary, [2.8126, 2.6479, 2.5742], atol=6e-5)
    np.testing.assert_allclose(extraordinary, [3.1635, 2.9529, 2.8599], atol=6e-5)


def test_hematite_indices_are_querrys():
    """M. R. Querry, Contractor Report CRDC-CR-85034 (1985), both rays, at 450, 550 and 650 nm."""
    (_, ordinary), (_, extraordinary) = mineral("hematite")
    np.testing.assert_allclose(ordinary[list(BANDS)], [3.181 - 1.020j, 3.318 - 0.498j, 3.074 - 0.057j])
    np.testing.assert_allclose(extraordinary[list(BANDS)], [2.809 - 0.873j, 2.927 - 0.460j, 2.753 - 0.103j])


def test_hematite_index_is_near_the_mineral_handbook_at_the_red_end():
    """Mineral tables: hematite 3.150..3.220 and 2.870..2.940 in sodium light; Querry at 590 nm."""
    (_, ordinary), (_, extraordinary) = mineral("hematite")
    assert ordinary[19].real == pytest.approx(3.19, abs=0.15)
    assert extraordinary[19].real == pytest.approx(2.90, abs=0.06)


def test_carbon_indices_are_hagemanns():
    """Hagemann, Gudat & Kunz, J. Opt. Soc. Am. 65 (1975) 742, interpolated to 450, 550 and 650 nm."""
    ((_, index),) = mineral("carbon")
    expected = [1.776 - 0.686j, 1.838 - 0.715j, 1.893 - 0.750j]
    np.testing.assert_allclose(index[list(BANDS)], expected, atol=6e-4)


def test_weights_of_the_rays_add_up():
    for name in ("hematite", "rutile", "carbon"):
        assert sum(weight for weight, _ in mineral(name)) == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["hematite.csv", "carbon.csv"])
def test_tables_carry_their_citation_and_span_the_visible(name):
    path = INDEX_FILES / name
    assert path.read_text(encoding="utf-8").startswith("# refractive index of ")
    columns = read_columns(path)
    assert columns["wavelength_nm"][0] <= 400
    assert columns["wavelength_nm"][-1] >= 700
    assert np.all(np.diff(columns["wavelength_nm"]) > 0)
