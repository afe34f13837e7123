"""Tiles from tables, the report as a table, curves as numbers."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import InputError, UnknownNameError

TABLE = {
    "base": ["white-cement", "white-cement"],
    "state": ["", "wet"],
    "piece": ["a", "a"],
    "L": [62.0, 48.5],
    "a": [14.0, 16],
    "b": [11.0, 12],
    "sd": [0.5, ""],
    "red-iron-oxide": [0.02, "0.02"],
    "titanium-white": ["", 0],
}
CSV = """base,state,L,a,b,red-iron-oxide
white-cement,,62,14,11,0.02

white-cement,wet,48.5,16,12,0.02
"""


def test_a_table_becomes_tiles():
    dry, wet = cm.Tile.from_table(TABLE)
    assert dict(dry.loads) == {"red-iron-oxide": 0.02}
    assert (dry.state, wet.state, wet.piece) == ("dry", "wet", "a")
    assert dry.shade.sd == pytest.approx(0.5)
    assert wet.shade.sd == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"L": [62, "light"]}, "Row 2 of the tiles: L is 'light'"),
        ({"L": [62, float("nan")]}, "Row 2 of the tiles: L is empty"),
        ({"base": ["white-cement", None]}, "Row 2 of the tiles: base is empty"),
        ({"red-iron-oxide": [2, 0]}, "Row 1 of the tiles: The load of red-iron-oxide is 2"),
        ({"state": ["moist", ""]}, "Row 1 of the tiles: .*moist"),
        ({"sd": [0.5, 0]}, "Row 2 of the tiles: sd is 0, but no measurement is exact"),
        ({"a": [1]}, "not equally long"),
    ],
)
def test_a_wrong_cell_is_named_with_its_row(changes, words):
    with pytest.raises(InputError, match=words):
        cm.Tile.from_table({**TABLE, **changes})


def test_a_missing_column_is_named():
    with pytest.raises(InputError, match="no column 'b'"):
        cm.Tile.from_table({name: column for name, column in TABLE.items() if name != "b"})


def test_a_file_of_tiles_is_learned_and_its_report_is_a_table(tmp_path):
    (tmp_path / "tiles.csv").write_text(CSV)
    tiles = cm.read_tiles(tmp_path / "tiles.csv")
    _, report = cm.learn(cm.starter_palette(), tiles)
    table = report.to_table()
    assert {len(column) for column in table.values()} == {2}
    assert table["measured L"] == [62.0, 48.5]
    assert table["dE00"] == pytest.approx(list(report.delta_e))


def test_a_spreadsheet_with_decimal_commas_is_read(tmp_path):
    (tmp_path / "tiles.csv").write_text("base;L;a;b;red-iron-oxide\nwhite-cement;62,5;14;11;0,02\n")
    (tile,) = cm.read_tiles(tmp_path / "tiles.csv")
    assert tile.shade.lab[0] == 62.5
    assert dict(tile.loads) == {"red-iron-oxide": 0.02}


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "no column 'base'"),
        ("base,L,a,b\nwhite-cement,1,2\n", "3 cells, but there are 4 columns"),
        ("base,L,a,b,L\nwhite-cement,1,2,3,4\n", "two columns called 'L'"),
        ("\xff\xfe", "could not be read"),
    ],
)
def test_a_file_that_is_none_is_refused(tmp_path, content, words):
    (tmp_path / "tiles.csv").write_bytes(content.encode("latin-1"))
    with pytest.raises(InputError, match=words):
        cm.read_tiles(tmp_path / "tiles.csv")


def test_curves_are_those_the_palette_predicts_with():
    palette = cm.starter_palette()
    red, grey = palette.curves("red-iron-oxide"), palette.curves("grey-cement")
    loads, q = {"red-iron-oxide": 0.03}, (grey.k + 0.03 * red.k) / (grey.s + 0.03 * red.s)
    np.testing.assert_allclose(palette.reflectance(loads, "grey-cement"), 1 + q - np.sqrt(q * q + 2 * q))
    drawn = np.random.default_rng(0).multivariate_normal(palette.mean, palette.covariance, 4000, method="eigh")
    logs = [np.log(palette.with_posterior(x, palette.covariance).curves("red-iron-oxide").k) for x in drawn[:400]]
    np.testing.assert_allclose(np.std(logs, axis=0), red.k_sd / red.k, rtol=0.2)
    assert palette.curves("white-cement").s_sd == pytest.approx(0)
    with pytest.raises(UnknownNameError, match="There is no pigment or base called 'beetroot'"):
        palette.curves("beetroot")


def test_any_cement_is_learned_from_a_blank_and_a_ladder():
    """A dark, warm cement nothing like the starters, told by what was cast in it."""
    truth = cm.starter_palette().with_base("bag", like="grey-cement")
    mean = truth.mean.copy()
    mean[truth.layout.base("bag")] += np.r_[np.linspace(0.8, 0.2, 7), 0.3]
    truth = truth.with_posterior(mean, truth.covariance)
    ladder = [{}, *({name: x} for name in ("red-iron-oxide", "titanium-white") for x in (0.01, 0.04))]
    tiles = [cm.Tile("bag", loads, cm.Shade(truth.predict(loads, "bag").lab, sd=0.3)) for loads in ladder]
    learned, _ = cm.learn(cm.starter_palette().with_base("bag", like=None), tiles)
    loads = {"red-iron-oxide": 0.02, "titanium-white": 0.02}
    assert cm.delta_e_2000(learned.predict(loads, "bag").lab, truth.predict(loads, "bag").lab) < 1.0
