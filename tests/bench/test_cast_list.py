"""The cast list: grams a scale can show, what is left open enters the tile, one table out and in."""

import numpy as np
import pytest

import colormatch as cm
from colormatch import mixture
from colormatch.advice import Advice
from colormatch.bench.cast_list import FEW_STEPS, CastTile
from colormatch.errors import InputError, UnknownNameError
from tests.learning.trial import PHOTO_SD, WHITE

PALETTE = cm.starter_palette()
RED, BLACK = "red-iron-oxide", "carbon-black"


def advice(*mixes):
    reason = "It fixes how strongly Red no. 7 colours."
    return [Advice(loads, WHITE, "dry", 2.0, 1.0, "ladder", reason) for loads in mixes]


LISTED = cm.CastList.of(advice({}, {RED: 0.005}, {RED: 0.02, BLACK: 0.0031}), cement_g=40, scale_step_g=0.1)


def test_what_a_tile_is_for_is_told_whole_whatever_a_jar_is_called():
    assert [tile.why for tile in LISTED.tiles] == ["It fixes how strongly Red no. 7 colours."] * 3


def test_a_small_dose_is_a_pre_blend_and_the_tile_holds_what_is_weighed():
    assert [dict(tile.grams) for tile in LISTED.tiles] == [{}, {RED: 0.2}, {RED: 0.8, BLACK: 0.12}]
    assert LISTED.lines(0) == [f"40.0 g {WHITE}"]
    assert LISTED.lines(1) == [f"38.2 g {WHITE}", f"2.0 g {RED} as a pre-blend 1:9"]
    assert LISTED.lines(2)[1:] == [f"0.8 g {RED}", f"1.2 g {BLACK} as a pre-blend 1:9"]
    assert LISTED.tiles[2].mix.loads[BLACK] == pytest.approx(0.003)


def test_what_is_weighed_adds_up_to_the_tile():
    for place, tile in enumerate(LISTED.tiles):
        weighed = sum(float(line.split()[0]) for line in LISTED.lines(place))
        assert weighed == pytest.approx(tile.cement_g + sum(tile.grams.values()), abs=0.051)


def test_reading_the_scale_is_the_loads_uncertainty():
    direct, blended = LISTED.load_sd(2)[RED], LISTED.load_sd(2)[BLACK]
    assert direct == pytest.approx(0.1 * (2 / 12) ** 0.5 / 40)
    assert blended == pytest.approx(direct / 10)


@pytest.mark.parametrize("pigment", list(PALETTE.pigments))
def test_reading_a_dose_of_few_steps_moves_the_shade_by_less_than_is_seen(pigment):
    """A 40 g tile at 0.1 g; 20,000 readings of cement and dose, each anywhere within its step."""
    grams, reads = FEW_STEPS * 0.1, np.random.default_rng(0).uniform(-0.05, 0.05, (20_000, 2)).sum(axis=1)
    rows = np.zeros((len(reads), len(PALETTE.pigments)))
    rows[:, list(PALETTE.pigments).index(pigment)] = (grams + reads) / 40
    lab = mixture.lab(PALETTE.coefficients(WHITE), rows)
    middle = PALETTE.predict({pigment: grams / 40}, WHITE).lab
    assert np.mean(cm.delta_e_2000(lab, middle)) < 1.0


def test_even_a_pre_blend_may_be_too_coarse():
    assert LISTED.too_little() == ()
    little = cm.CastList.of(advice({BLACK: 0.0005}), cement_g=40, scale_step_g=0.1)
    assert little.too_little() == (BLACK,)
    assert "cast larger tiles" in little.text()


def test_the_table_that_is_written_is_read_back(tmp_path):
    measured = CastTile(WHITE, 40.0, {RED: 0.8}, "why, not", cm.Shade((51.234, 20.5, 18.25), sd=0.6), "wet", "abc")
    listed = cm.CastList((*LISTED.tiles, measured), 0.1)
    place = tmp_path / "list.csv"
    place.write_text(listed.to_csv(PALETTE.label))
    assert "Red iron oxide g" in place.read_text()
    names = {PALETTE.label(name): name for name in (*PALETTE.bases, *PALETTE.pigments)}
    back = cm.read_cast_list(place, names.__getitem__)
    assert back.tiles[:3] == LISTED.tiles
    assert back.tiles[3].shade.sd == pytest.approx(0.6)
    (tile,) = back.measured()
    assert (tile.state, tile.piece, dict(tile.load_sd)) == ("wet", "abc", back.load_sd(3))
    cm.learn(PALETTE, back.measured())


def test_a_spreadsheet_that_writes_semicolons_and_decimal_commas_is_read():
    text = LISTED.to_csv().replace(",", ";").replace("0.8", "0,8").encode()
    assert cm.read_cast_list(text).tiles[2].grams == LISTED.tiles[2].grams


def test_a_loosely_weighed_tile_teaches_less():
    shade, loads = cm.Shade((60, 15, 15), sd=PHOTO_SD), {RED: 0.005}
    sure, unsure = (cm.learn(PALETTE, [cm.Tile(WHITE, loads, shade, load_sd={RED: sd})])[0] for sd in (0.0, 0.002))
    assert unsure.predict(loads, WHITE).sd > 1.1 * sure.predict(loads, WHITE).sd


ROW = dict(zip(LISTED.to_csv().splitlines()[0].split(","), LISTED.to_csv().splitlines()[3].split(","), strict=True))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"L": "60"}, "Row 1 of the cast list: fill in all of L, a and b"),
        ({"L": "x", "a": "1", "b": "1"}, "Row 1 of the cast list: L is 'x'"),
        ({f"{RED} g": "25"}, "Row 1 of the cast list: The load of red-iron-oxide"),
        ({f"{RED} g": "nan"}, "Row 1 of the cast list: The grams of red-iron-oxide is nan"),
        ({"state": "moist"}, "Row 1 of the cast list: .*moist"),
        ({"cement_g": ""}, "Row 1 of the cast list: The cement of a tile is 0"),
        ({"scale_step_g": "0"}, "The scale's step is 0"),
    ],
)
def test_a_wrong_cell_is_named(changes, words):
    row = {**ROW, **changes}
    with pytest.raises(InputError, match=words):
        cm.read_cast_list("\n".join((",".join(row), ",".join(row.values()))).encode())


def test_nonsense_is_refused():
    with pytest.raises(InputError, match="no column 'cement_g'"):
        cm.read_cast_list(b"base\nwhite-cement\n")
    with pytest.raises(InputError, match="could not be read"):
        cm.read_cast_list("nowhere.csv")
    with pytest.raises(InputError, match="cement of a tile is 2"):
        cm.CastList.of(advice({}), cement_g=2)
    with pytest.raises(InputError, match="what next_tiles or starter_plan advise; got 'tiles'"):
        cm.CastList.of("tiles")
    with pytest.raises(UnknownNameError, match="There is no base called 'clay'"):
        cm.learn(PALETTE, cm.CastList((CastTile("clay", 50.0, {}, shade=cm.Shade((60, 1, 1), sd=1)),)).measured())
