"""The bridge: what the library holds becomes a palette, and what was learned is kept."""

import numpy as np
import pytest

from colormatch import Shade
from colormatch.errors import InputError, LearningError
from colormatch.learning import Tile, learn
from colormatch.library import (
    BatchRecord,
    Cement,
    CementLot,
    LearnedPalette,
    PigmentLot,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
    TileRecord,
    Weighing,
    open_library,
)
from colormatch.studio import (
    learn_studio,
    left_out,
    newest_learned,
    prior_palette,
    shades_in_demand,
    studio_palette,
    studio_tiles,
)

MEASURED = {"kind": "measured"}


@pytest.fixture
def library(tmp_path):
    with open_library(tmp_path / "studio") as opened:
        opened.save(Cement(uid="white-cement", name="White cement"))
        opened.save(PigmentRecord(uid="red-iron-oxide", name="Brick red", maximum_load=0.06))
        yield opened


def add_tile(library, load, lab, state="dry", **provenance):
    tile = library.save(TileRecord(cement_uid="white-cement", loads={"red-iron-oxide": load} if load else {}))
    shade = Shade(lab, sd=0.7)
    library.save(ShadeRecord.of(shade, tile_uid=tile.uid, state=state, provenance=provenance or MEASURED))
    return tile


def test_an_empty_studio_believes_the_starter_palette(library):
    palette = studio_palette(library)
    assert palette.tiles_learned == 0
    assert palette.pigments["red-iron-oxide"].label == "Brick red"
    assert palette.pigments["red-iron-oxide"].maximum_load == 0.06
    with pytest.raises(LearningError, match="There are no tiles to learn from"):
        learn_studio(library)


def test_a_cement_that_names_no_other_may_be_any(library):
    library.save_all([Cement(uid="own", name="Bag"), Cement(uid="pale", name="Pale bag", tone="white-cement")])
    palette = prior_palette(library)
    assert palette.predict({}, "own").sd > 2 * palette.predict({}, "pale").sd
    for lab in ((90, 0, 4), (45, 1, 5)):
        learned, _ = learn(palette, [Tile("own", {}, Shade(lab, sd=0.7))])
        assert np.linalg.norm(learned.predict({}, "own").lab - lab) < 1.5


def test_prices_come_from_the_newest_lot(library):
    for day, price in (("2026-01-05", 5.0), ("2026-03-05", 6.5)):
        library.save(PigmentLot(pigment_uid="red-iron-oxide", bought_on=np.datetime64(day).item(), price_per_kg=price))
    assert studio_palette(library).pigments["red-iron-oxide"].price_per_kg == 6.5


def test_only_measured_shades_teach(library):
    add_tile(library, 0.02, (54, 19, 17))
    add_tile(library, 0.02, (10, 0, 0), kind="predicted")
    assert len(studio_tiles(library)) == 1


def test_wet_and_dry_shades_of_a_tile_are_of_one_piece(library):
    made = add_tile(library, 0.02, (54, 19, 17))
    library.save(ShadeRecord.of(Shade((45, 21, 19), sd=0.7), tile_uid=made.uid, state="wet", provenance=MEASURED))
    assert {(tile.piece, tile.state) for tile in studio_tiles(library)} == {(made.uid, "dry"), (made.uid, "wet")}


def test_learning_is_kept_numbered_and_used(library):
    for load, lab in ((0, (92, 0, 3)), (0.01, (64, 16, 15)), (0.03, (52, 21, 19))):
        add_tile(library, load, lab)
    learn_studio(library)
    learn_studio(library)
    assert [each.number for each in library.list(LearnedPalette)] == [1]  # nothing new, no new version
    add_tile(library, 0.03, (52.4, 20.6, 19))
    learned, _ = learn_studio(library)
    assert sorted(each.number for each in library.list(LearnedPalette)) == [1, 2]
    assert len(newest_learned(library).tiles) == 4
    shade = studio_palette(library).predict({"red-iron-oxide": 0.03}, "white-cement")
    np.testing.assert_array_equal(shade.lab, learned.predict({"red-iron-oxide": 0.03}, "white-cement").lab)
    before = prior_palette(library).predict({"red-iron-oxide": 0.03}, "white-cement")
    assert np.linalg.norm(shade.lab - (52, 21, 19)) < np.linalg.norm(before.lab - (52, 21, 19))
    assert shade.sd < before.sd


@pytest.mark.parametrize("payload", [b"", b"junk", b"\xff\xfe", b"[]", b"[" * 100_000, b'{"format": 1}'])
def test_a_learned_palette_that_is_damaged_is_said_to_be(library, payload):
    library.save(LearnedPalette(number=1, payload=payload))
    with pytest.raises(InputError, match="from the tiles"):
        studio_palette(library)


def test_what_came_to_the_shelf_later_joins_the_learned_palette(library):
    add_tile(library, 0.02, (54, 19, 17))
    learn_studio(library)
    library.save(PigmentRecord(uid="jar-7", name="Jar 7"))
    library.save(PigmentRecord(uid="brick-lot-2", name="Brick red, second bag", like="red-iron-oxide"))
    library.save(Cement(uid="bag-2", name="White, second bag", tone="white-cement"))
    palette = studio_palette(library)
    assert palette.predict({"jar-7": 0.02}, "white-cement").sd > 8
    old, new = (palette.predict({name: 0.02}, "bag-2").lab for name in ("red-iron-oxide", "brick-lot-2"))
    np.testing.assert_allclose(old, new, atol=1e-9)


def test_a_finished_piece_is_one_more_tile_by_what_was_really_weighed(library):
    cement, red = (
        library.save(CementLot(cement_uid="white-cement")),
        library.save(PigmentLot(pigment_uid="red-iron-oxide")),
    )
    recipe = library.save(RecipeRecord(name="Brick", cement_uid="white-cement", loads={"red-iron-oxide": 0.02}))
    batch = library.save(BatchRecord(recipe_uid=recipe.uid))
    weighings = (
        Weighing(batch_uid=batch.uid, cement_lot_uid=cement.uid, planned_g=500, weighed_g=500),
        Weighing(batch_uid=batch.uid, pigment_lot_uid=red.uid, planned_g=10, weighed_g=11.5),
        Weighing(batch_uid=batch.uid, material="red-iron-oxide", planned_g=0, weighed_g=1.0),
        Weighing(batch_uid=batch.uid, material="water", planned_g=125, weighed_g=120),
    )
    library.save_all(weighings)
    swatch = library.save(Swatch(name="Brick cup", recipe_uid=recipe.uid, batch_uid=batch.uid))
    library.save(ShadeRecord.of(Shade((53, 20, 18), sd=0.8), swatch_uid=swatch.uid, provenance=MEASURED))
    (tile,) = studio_tiles(library)
    assert tile.loads["red-iron-oxide"] == pytest.approx(0.025)


def test_shades_in_demand_are_the_targets_of_recipes(library):
    library.save(RecipeRecord(name="Sage", cement_uid="white-cement", loads={}, wanted_lab=(70, -8, 10)))
    assert [tuple(shade.lab) for shade in shades_in_demand(library)] == [(70, -8, 10)]


def test_one_record_that_an_older_version_took_locks_nobody_out(tmp_path):
    """A load of 1.0, an unknown state, a spectrum of one value: named and left out; what is sound is learned from."""
    with open_library(tmp_path / "studio") as library:
        library.save(Cement(uid="white-cement", name="White"))
        library.save(PigmentRecord(uid="red-iron-oxide", name="Red"))
        for uid, load in (("sound", 0.02), ("heavy", 0.03), ("moist", 0.02), ("single", 0.02)):
            library.save(TileRecord(uid=uid, cement_uid="white-cement", loads={"red-iron-oxide": load}))
            measured = {"provenance": {"kind": "measured"}, "lab": (55, 20, 12)}
            library.save(ShadeRecord(uid=f"shade-{uid}", tile_uid=uid, **measured))
        with library.database.writing() as connection:
            for statement in (
                "UPDATE tiles_loads SET amount = 1.0 WHERE owner_uid = 'heavy'",
                "UPDATE shades SET state = 'moist' WHERE uid = 'shade-moist'",
                "UPDATE shades SET wavelength_nm = '[550.0]', reflectance = '[0.5]' WHERE uid = 'shade-single'",
            ):
                connection.exec_driver_sql(statement)
        assert [tile.piece for tile in studio_tiles(library)] == ["sound"]
        assert {record.uid: why for record, why in left_out(library)}.keys() == {
            "shade-heavy", "shade-moist", "shade-single",
        }  # fmt: skip
        learned, _ = learn_studio(library, keep=False)
        assert learned.tiles_learned == 1
        assert studio_palette(library).tiles_learned == 1
        named = "\n".join(library.check())
        assert all(uid in named for uid in ("tile heavy", "shade-moist", "shade-single"))
        for record, _ in left_out(library):
            library.delete(record)
        library.delete(library.get(TileRecord, "heavy"))
        assert left_out(library) == library.check() == []
