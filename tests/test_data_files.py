"""The shipped data: form, provenance, and agreement with the sources it was made from."""

import importlib.util
import re
from pathlib import Path

import numpy as np
import pytest

import colormatch.data
from colormatch.colorimetry import reflectance_to_lab
from colormatch.data import read_records, read_table
from colormatch.kubelka_munk import reflectance_from_ks

ROOT = Path(__file__).resolve().parents[1]
DATA = Path(colormatch.data.__file__).parent
FILES = sorted(path.name for path in DATA.iterdir() if path.suffix in {".csv", ".toml"})
PIGMENTS = (
    "red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "brown-iron-oxide", "titanium-white",
    "chromium-oxide-green", "cobalt-blue", "ultramarine-blue", "carbon-black",
)  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_first_line_says_title_source_version_date(name):
    first = (DATA / name).read_text(encoding="utf-8").splitlines()[0]
    title, source, version, date = first.removeprefix("# ").rsplit(" - ", 3)
    assert first.startswith("# ")
    assert all((title, source, version))
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", date)


@pytest.mark.parametrize("name", FILES)
def test_the_readme_has_a_paragraph_on_every_file(name):
    assert f"\n`{name}`: " in (DATA / "README.md").read_text(encoding="utf-8")


def test_tables_are_read_once_and_cannot_be_changed():
    assert read_table("chart24.csv") is read_table("chart24.csv")
    records = read_records("starter_pigments.toml")
    with pytest.raises(TypeError, match="does not support item assignment"):
        records["red-iron-oxide"]["max_load"] = 0.5
    with pytest.raises(FileNotFoundError, match=r"no-such-table.csv"):
        read_table("no-such-table.csv")


@pytest.mark.published
@pytest.mark.parametrize(
    ("illuminant", "x", "z", "tolerance"),
    [
        # ASTM E308 table 5, 2 degree observer (from memory)
        ("D65", 95.047, 108.883, 0.001),
        ("A", 109.850, 35.585, 0.001),
        ("D50", 96.422, 82.521, 0.001),
        ("F11", 100.962, 64.350, 0.005),
        # from the chromaticity of CIE 15:2018 in colour-science, four digits of xy
        ("LED-B3", 100.886, 67.714, 0.02),
    ],
)
def test_white_points(illuminant, x, z, tolerance):
    columns = (f"{illuminant} {axis}" for axis in "XYZ")
    white = read_table("illuminant_weights.csv").numbers(*columns).sum(axis=0)
    np.testing.assert_allclose(white, [x, 100.0, z], atol=tolerance)


def smooth_curve(wavelength_nm, centre, width, low, high):
    """A pigment-like edge, constant outside 400..700 nm as the weights assume."""
    return low + (high - low) / (1 + np.exp((centre - np.clip(wavelength_nm, 400, 700)) / width))


@pytest.mark.published
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(
    ("illuminant", "source", "tolerance"),
    [
        ("D65", "D65", 0.03),
        ("A", "A", 0.03),
        ("D50", "D50", 0.03),
        ("F11", "FL11", 0.06),  # its lines fall between bands, so the interpolation shows
        ("LED-B3", "LED-B3", 0.03),
    ],
)
def test_weights_agree_with_the_1_nm_sum_of_colour_science(illuminant, source, tolerance):
    """CIELAB of smooth curves from 31 bands, against colour-science summing the same curves at 1 nm."""
    import colour

    rng = np.random.default_rng(3)
    shape = colour.SpectralShape(360, 780, 1)
    fine, bands = np.arange(360.0, 781.0), np.arange(400.0, 701.0, 10.0)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]

    def xyz(values):
        spectrum = colour.SpectralDistribution(values, fine)
        light = colour.SDS_ILLUMINANTS[source]
        return colour.sd_to_XYZ(spectrum, observer, light, method="Integration", shape=shape)

    white_xy = colour.XYZ_to_xy(xyz(np.ones(fine.size)))
    for parameters in rng.uniform([430, 12, 0.03, 0.3], [650, 40, 0.2, 0.9], (6, 4)):
        expected = colour.XYZ_to_Lab(xyz(smooth_curve(fine, *parameters)) / 100, white_xy)
        found = reflectance_to_lab(smooth_curve(bands, *parameters), illuminant=illuminant)
        np.testing.assert_allclose(found, expected, atol=tolerance)


@pytest.mark.published
def test_chart_patches_are_those_of_iso_17321():
    """Lab for D50 and 2 degrees of the ISO 17321-1 patches, from colour-science at 1 nm, two decimals."""
    chart = read_table("chart24.csv")
    patches = dict(zip(chart.column("patch"), chart.numbers(), strict=True))
    assert chart.numbers().shape == (24, 31)
    for name, expected in {
        "dark skin": (37.82, 15.47, 16.47),
        "light skin": (66.73, 17.38, 18.18),
        "blue": (29.18, 17.03, -52.06),
        "green": (55.31, -39.93, 33.15),
        "red": (42.56, 56.06, 28.46),
        "yellow": (82.36, 3.73, 78.97),
        "white 9.5": (95.47, -0.19, 0.65),
        "neutral 5": (52.18, 0.00, -0.09),
        "black 2": (21.40, -0.17, -0.95),
    }.items():
        # 0.35: the source runs 380..780 nm, the grid 400..700 nm; saturated patches still rise at the ends
        np.testing.assert_allclose(reflectance_to_lab(patches[name], illuminant="D50"), expected, atol=0.35)


def test_starter_pigments_have_the_public_names_in_order():
    assert tuple(read_records("starter_pigments.toml")) == PIGMENTS
    assert tuple(read_records("starter_bases.toml")) == ("white-cement", "grey-cement")


@pytest.mark.parametrize("name", PIGMENTS)
def test_starter_pigment_is_complete(name):
    record = read_records("starter_pigments.toml")[name]
    k, s = np.array(record["k"]), np.array(record["s"])
    assert k.shape == s.shape == (31,)
    assert np.all(k > 0)
    assert np.all(s > 0)
    assert record["source"].startswith("from memory" if record["from_memory"] else "Mie theory")
    assert record["prior_sd_log"] == (0.7 if record["from_memory"] else 0.35)
    assert 1.5 < record["density_g_cm3"] < 6
    assert re.fullmatch(r"P[A-Za-z]{1,2}\d+", record["colour_index"])


@pytest.mark.published
def test_maximum_loads():
    """ASTM C979 clause 1.4: at most 10 % of the cement; masonry guidance: carbon black 2 %."""
    records = read_records("starter_pigments.toml")
    assert all(0 < record["max_load"] <= 0.10 for record in records.values())
    assert records["carbon-black"]["max_load"] == 0.02


def colour_of(pigment, load, base="white-cement"):
    paste, record = read_records("starter_bases.toml")[base], read_records("starter_pigments.toml")[pigment]
    k, s = np.array(record["k"]), np.array(record["s"])
    q = (np.array(paste["k"]) + load * k) / (paste["scatter"] + load * s)
    return reflectance_to_lab(reflectance_from_ks(q))


@pytest.mark.parametrize(
    ("pigment", "load", "low", "high"),
    [
        # common practice, no source: what these casts usually look like
        ("red-iron-oxide", 0.02, (45, 15, 10), (58, 28, 24)),
        ("yellow-iron-oxide", 0.05, (66, 2, 30), (80, 14, 50)),
        ("black-iron-oxide", 0.03, (33, -2, -4), (46, 3, 5)),
        ("brown-iron-oxide", 0.03, (40, 5, 8), (58, 18, 22)),
        ("chromium-oxide-green", 0.05, (55, -22, 6), (70, -8, 20)),
        ("cobalt-blue", 0.05, (55, -6, -38), (70, 6, -20)),
        ("ultramarine-blue", 0.05, (45, 2, -50), (62, 18, -30)),
        ("carbon-black", 0.02, (25, -2, -4), (42, 2, 4)),
    ],
)
def test_starter_colour_on_white_is_plausible(pigment, load, low, high):
    lab = colour_of(pigment, load)
    assert np.all(lab > low)
    assert np.all(lab < high)


def test_bases_are_white_and_grey():
    """L* of paste 88..95 and 55..70, b* 2..8: trade knowledge from memory, no published table was found."""
    white, grey = colour_of("red-iron-oxide", 0.0), colour_of("red-iron-oxide", 0.0, "grey-cement")
    assert 88 < white[0] < 95
    assert 55 < grey[0] < 70
    assert 2 < white[2] < 8
    assert 2 < grey[2] < 8


def test_titanium_white_lightens_grey_cement():
    lightness = [colour_of("titanium-white", load, "grey-cement")[0] for load in (0, 0.01, 0.02, 0.05)]
    assert np.all(np.diff(lightness) > 1.5)


def test_the_shipped_pigments_are_what_the_script_makes():
    path = ROOT / ".builders" / "starter_pigments.py"
    spec = importlib.util.spec_from_file_location("starter_pigments", path)
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    for made, file in ((script.pigments(), "starter_pigments.toml"), (script.bases(), "starter_bases.toml")):
        shipped = read_records(file)
        assert list(made) == list(shipped)
        for name, record in made.items():
            for key in {"k", "s"} & set(record):
                np.testing.assert_allclose(shipped[name][key], record[key], rtol=1e-4)
