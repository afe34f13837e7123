"""Spectra from files: samples of our own making, good ones read, broken ones refused in a sentence."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import InputError
from colormatch.science import colour_science
from colormatch.spectra import WAVELENGTHS_NM, check_reflectance
from colormatch.spectrum_files import read_spectra

NM = np.arange(380.0, 731.0, 10.0)
VALUES = 0.2 + 0.1 * np.sin(NM / 60)
ON_GRID = 0.2 + 0.1 * np.sin(WAVELENGTHS_NM / 60)


def written(folder, text, name="sample.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def columns(step=10, factor=1.0, separator=",", mark="."):
    nm = np.arange(380.0, 731.0, step)
    rows = [f"wavelength nm{separator}tile 1{separator}tile 2"]
    for at, value in zip(nm, factor * (0.2 + 0.1 * np.sin(nm / 60)), strict=True):
        rows.append(separator.join(f"{x:.6f}".replace(".", mark) for x in (at, value, value / 2)))
    return "\n".join(rows)


def exported(rows=("1 tile-1", "2 tile-2")):
    """A text export as spectrophotometers write it, made up here."""
    fields = " ".join(f"nm{at:.0f}" for at in NM)
    data = "\n".join(f"{row} " + " ".join(f"{value:.5f}" for value in VALUES) for row in rows)
    return f"BEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME {fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{data}\nEND_DATA\n"


@pytest.mark.parametrize("step", [1, 5, 10, 20])
@pytest.mark.parametrize(("separator", "mark"), [(",", "."), (";", ","), ("\t", ".")])
@pytest.mark.parametrize("factor", [1.0, 100.0])
def test_columns_of_any_step_separator_and_unit(tmp_path, step, separator, mark, factor):
    found = read_spectra(written(tmp_path, columns(step, factor, separator, mark)))
    assert list(found) == ["tile 1", "tile 2"]
    np.testing.assert_allclose(found["tile 1"], ON_GRID, atol=2e-3)
    np.testing.assert_allclose(found["tile 2"], ON_GRID / 2, atol=2e-3)


def test_rows_under_a_heading_of_wavelengths(tmp_path):
    text = "name;" + ";".join(f"{at:.0f} nm" for at in NM) + "\n"
    text += "pot;" + ";".join(f"{v:.5f}".replace(".", ",") for v in VALUES) + "\n"
    np.testing.assert_allclose(read_spectra(written(tmp_path, text))["pot"], ON_GRID, atol=1e-4)


def test_a_text_export_of_an_instrument(tmp_path):
    found = read_spectra(written(tmp_path, exported(), "export.txt"))
    assert list(found) == ["tile-1", "tile-2"]
    np.testing.assert_allclose(found["tile-1"], ON_GRID, atol=1e-4)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no spectrum"),
        ("a,b\nc,d\n", "holds no spectrum"),
        ("500,0.2\n510,0.3\n", "must cover 400 to 700"),
        (columns().replace("0.2", "x.2", 1), "a number is missing"),
        (exported().replace(" 0.10000", "", 1), "broken or cut short"),
        (exported()[:-40], "broken or cut short"),
        (columns(factor=-1.0), "lies between 0 and 1"),
    ],
)
def test_a_broken_file_is_refused_in_a_sentence(tmp_path, text, said):
    with pytest.raises(InputError, match=said) as caught:
        read_spectra(written(tmp_path, text))
    assert "sample.csv" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_what_is_no_file_is_refused(tmp_path):
    with pytest.raises(InputError, match="is no file of spectra"):
        read_spectra(tmp_path / "none.csv")


def test_a_spectral_distribution_is_taken_wherever_a_spectrum_is():
    colour = colour_science()
    spectrum = colour.SpectralDistribution(dict(zip(NM, VALUES, strict=True)))
    np.testing.assert_allclose(check_reflectance(spectrum), ON_GRID, atol=1e-4)


def test_the_palette_gives_one_back():
    palette = cm.starter_palette()
    spectrum = palette.spectrum({"red-iron-oxide": 0.02}, "white-cement")
    np.testing.assert_allclose(spectrum.values, palette.reflectance({"red-iron-oxide": 0.02}, "white-cement"))
    assert spectrum.name == "white-cement + 2.00% red-iron-oxide, dry"
    np.testing.assert_allclose(check_reflectance(spectrum), spectrum.values)
