"""Only what is hers: the shelf, its offer, and the forms that fill it."""

import numpy as np
import pytest

from colormatch import Shade, find_recipes, next_tiles
from colormatch.errors import InputError, LibraryError
from colormatch.library import (
    BatchRecord,
    Cement,
    CementLot,
    InUseError,
    Mould,
    PigmentLot,
    PigmentRecord,
    RecipeRecord,
    TileRecord,
    Weighing,
)
from colormatch.studio import studio_palette
from colormatch.workshop.beginning import first_steps, settled
from colormatch.workshop.materials import add_bag, add_jar, add_lot, add_mould, back_on_shelf, distinct, used_up
from colormatch.workshop.moulds import mould_chosen
from colormatch.workshop.shelf import defaults, limits, offer, set_defaults, shelf, worth_buying


def test_an_empty_shelf_says_how_to_fill_it(library):
    assert shelf(library).empty
    with pytest.raises(InputError, match="Add the bag"):
        offer(library, studio_palette(library))


def test_only_what_is_on_the_shelf_is_offered(studio):
    knowledge = studio_palette(studio)
    offered = offer(studio, knowledge)
    assert set(offered.pigments) == {"brick-red", "ochre", "soot"}
    assert list(offered.bases) == ["white-quick"]
    assert "cobalt-blue" in knowledge.pigments
    loads = {"brick-red": 0.01, "soot": 0.003}
    for state in ("dry", "demould"):
        there, here = (each.predict(loads, "white-quick", state) for each in (knowledge, offered))
        np.testing.assert_allclose(here.lab, there.lab, atol=1e-9)
        np.testing.assert_allclose(here.covariance, there.covariance, atol=1e-9)
    found = find_recipes(offered, Shade((55, 20, 22)), base="white-quick", limits=limits(studio, offered))
    assert found
    assert all(set(each.loads) <= set(offered.pigments) for each in found)
    assert all(set(tile.loads) <= set(offered.pigments) for tile in next_tiles(offered, [Shade((55, 20, 22))], 2))


def test_a_jar_used_up_leaves_the_offer_and_not_the_knowledge(studio):
    jar = studio.list(PigmentLot, pigment_uid="ochre")[0]
    used_up(studio, jar)
    knowledge = studio_palette(studio)
    assert "ochre" in knowledge.pigments
    assert "ochre" not in offer(studio, knowledge).pigments
    back_on_shelf(studio, jar)
    assert "ochre" in offer(studio, knowledge).pigments


def test_stock_holds_over_all_jars_and_an_uncounted_jar_is_plentiful(studio):
    offered = offer(studio, studio_palette(studio))
    assert limits(studio, offered).stock_g == {"brick-red": 500, "ochre": 400}
    add_lot(studio, studio.get(PigmentRecord, "ochre"), stock_g=100)
    assert limits(studio, offered).stock_g["ochre"] == 500
    add_lot(studio, studio.get(PigmentRecord, "ochre"))
    assert "ochre" not in limits(studio, offered).stock_g


def test_a_second_jar_never_overwrites_the_first(studio):
    with pytest.raises(InputError, match="ochre, second"):
        add_jar(studio, "ochre ")
    new = add_lot(studio, studio.get(PigmentRecord, "ochre"), as_new=True, stock_g=50)
    assert new.uid != "ochre"
    assert studio.get(PigmentRecord, "ochre").name == "Ochre"
    assert len(studio.list(PigmentRecord)) == 4


def test_a_jar_named_like_a_starter_is_not_that_very_powder(library):
    jar = add_jar(library, "Red iron oxide", like="red-iron-oxide")
    bag = add_bag(library, "White cement", like="white-cement")
    assert (jar.uid, bag.uid) == ("red-iron-oxide-2", "white-cement-2")
    palette = studio_palette(library)
    own, starter = (palette.predict({name: 0.02}, "white-cement").sd for name in (jar.uid, "red-iron-oxide"))
    assert own > starter


def test_her_opened_bag_is_the_default_cement(studio):
    assert defaults(studio).cement_uid == "white-quick"
    grey = add_bag(studio, "Grey", kind="portland", like="grey-cement", opened_on=np.datetime64("2026-11-02").item())
    assert defaults(studio).cement_uid == grey.uid
    assert next(iter(offer(studio, studio_palette(studio)).bases)) == grey.uid
    set_defaults(studio, cement_uid="white-quick", scale_step_g=0.01)
    assert defaults(studio).cement_uid == "white-quick"
    used_up(studio, studio.list(CementLot, cement_uid="white-quick")[0])
    assert defaults(studio).cement_uid == grey.uid


@pytest.mark.parametrize("amount", [{}, {"fill_weight_g": 0.0}, {"volume_ml": 1e8}, {"cement_g": -5.0}])
def test_a_mould_that_cannot_be_used_is_refused(library, amount):
    with pytest.raises(InputError, match=r"needs an amount|must be from 1 to 100000"):
        add_mould(library, "Tray", **amount)
    assert not library.list(Mould)


def test_a_usual_mould_in_the_bin_is_not_what_forms_start_with(studio):
    cup = add_mould(studio, "Cup", fill_weight_g=100)
    set_defaults(studio, mould_uid=cup.uid)
    studio.delete(cup)
    assert defaults(studio).mould_uid is None
    assert mould_chosen(studio, defaults(studio).mould_uid).name == "Tray"  # the only one there is


def test_a_new_bag_without_its_lot_is_not_kept(studio):
    with pytest.raises(LibraryError, match="price per kg"):
        add_lot(studio, studio.get(Cement, "white-quick"), as_new=True, price_per_kg=-1.0)
    assert studio.count(Cement) == 1


def test_what_is_worth_buying_is_named_without_grams(studio):
    offered = offer(studio, studio_palette(studio))
    found = worth_buying(studio, studio_palette(studio), [Shade((45, -5, -30))], "white-quick", limits(studio, offered))
    assert found
    assert {each.name for each in found} <= {
        "cobalt-blue",
        "ultramarine-blue",
        "titanium-white",
        "chromium-oxide-green",
    }
    assert all(" g " not in each.words for each in found)
    reached = offered.predict({"brick-red": 0.02}, "white-quick")
    assert worth_buying(studio, studio_palette(studio), [reached], "white-quick", limits(studio, offered)) == ()


@pytest.mark.parametrize("wrong", [{"kind": "fast"}, {"like": "marble"}])
def test_a_bag_of_an_unknown_kind_is_refused_with_the_kinds_there_are(library, wrong):
    with pytest.raises(InputError, match="must be one of"):
        add_bag(library, "Bag", **wrong)
    assert not library.list(Cement)


def test_the_first_day_ticks_itself_off(library):
    assert not any(step.done for step in first_steps(library))
    add_bag(library, "White")
    add_jar(library, "Red")
    add_mould(library, "Tray", volume_ml=210)
    set_defaults(library, scale_step_g=0.1)
    assert [step.name for step in first_steps(library) if not step.done] == ["tiles", "match"]
    assert not settled(library)


def test_names_are_made_distinct():
    assert distinct("Tray", []) == "Tray"
    assert distinct("Tray", ["tray"]) == "Tray, second"
    assert distinct("Tray", ["Tray", "Tray, second"]) == "Tray, third"
    assert len({distinct("Tray", ["Tray", *(f"Tray, {n}th" for n in range(11, k))]) for k in range(11, 15)}) == 1


def test_what_is_used_stays_and_its_users_are_named_in_words_never_by_ids(studio):
    recipe = studio.save(RecipeRecord(name="Rust", cement_uid="white-quick", loads={"ochre": 0.01}))
    for _ in range(2):
        studio.save(TileRecord(cement_uid="white-quick", loads={"ochre": 0.02}))
    batch = studio.save(BatchRecord(name="Rust tray, 27.11.", recipe_uid=recipe.uid))
    jar = studio.list(PigmentLot, pigment_uid="ochre")[0]
    studio.save(Weighing(batch_uid=batch.uid, pigment_lot_uid=jar.uid, weighed_g=3.0))
    with pytest.raises(InUseError, match="delete these first") as used:
        studio.delete(studio.get(PigmentRecord, "ochre"))
    assert str(used.value).startswith("The pigment 'Ochre' is used by ")
    assert "the recipe 'Rust'" in str(used.value)
    assert "2 test tiles" in str(used.value)
    with pytest.raises(InUseError, match=r"^Jar is used by the batch 'Rust tray, 27.11.'; delete"):
        studio.delete(jar)
    for error in (used.value,):
        assert not any(uid in str(error) for uid in (recipe.uid, batch.uid, jar.uid))
