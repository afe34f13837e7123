"""Bench: a batch planned, found again, and planned anew."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from colormatch.library import (
    BatchRecord,
    CementLot,
    DesignRecord,
    DiskFullError,
    Library,
    Piece,
    RecipeRecord,
)
from colormatch.screens.drawing import plain
from colormatch.shade import Shade
from colormatch.studio import studio_palette
from colormatch.weighed import mix_of
from colormatch.workshop.comparing import next_batch
from colormatch.workshop.materials import add_bag, add_jar, add_mould
from colormatch.workshop.pieces import demould, keep_shade
from colormatch.workshop.plans import keep_plan, plan, plan_of
from colormatch.workshop.shelf import shelf
from colormatch.workshop.tile_list import added
from colormatch.workshop.weighing import begin_bowl, put_sure, zeroed
from tests.screens.driven import WANTED, labels, planned, poured, press, reading, shown


def test_an_empty_bench_says_where_batches_come_from(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("bench", library="own")
    assert "Nothing is planned or cast yet" in shown(page)
    assert "No recipe is kept yet" in open_page("bench", library="own", address={"cast": "all"}).info[0].value


def test_a_batch_has_its_sheet_its_code_and_its_address(open_page: Callable[..., Any], rust: BatchRecord) -> None:
    page = open_page("bench", library="own", address={"batch": rust.uid})
    assert rust.code in shown(page)
    for words in ("White, quick", "Brick red", "Ochre", "Water", "up to"):
        assert words in shown(page)
    assert "Weigh it" in labels(page)
    lost = open_page("bench", library="own", address={"batch": "gone"})
    assert "not in this library" in lost.info[0].value


def test_a_code_typed_finds_its_batch(open_page: Callable[..., Any], rust: BatchRecord) -> None:
    page = open_page("bench", library="own", typed={"typed.bench.find": rust.code.lower()})
    page = press(page, "Find")
    assert page.title[0].value.replace("\\", "") == rust.name
    page = press(open_page("bench", library="own", typed={"typed.bench.find": "ZZZZZZ"}), "Find")
    assert "has that code or name" in page.warning[0].value


def test_another_amount_is_another_sheet_and_text_is_refused(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    page = open_page("bench", library="own", address={"batch": rust.uid})
    page.text_input(key=f"kept|own|number.batch.{rust.uid}.pieces").set_value("three")
    page = press(page, "Work it out again")
    assert "is no number" in page.error[0].value
    page.text_input(key=f"kept|own|number.batch.{rust.uid}.pieces").set_value("4")
    press(page, "Work it out again")
    (batch,) = own_library.list(BatchRecord)
    assert (batch.pieces, batch.stage) == (4, "planned")
    assert batch.cement_g == pytest.approx(2 * rust.cement_g, rel=0.01)


def test_names_stand_as_they_were_typed_on_buttons_fields_and_links(
    open_page: Callable[..., Any], own_library: Any
) -> None:
    odd = "Red *A* [x](y) $1$ 2_3_"
    add_bag(own_library, "White, quick", kind="quick-setting", like="white-cement")
    add_jar(own_library, odd, like="red-iron-oxide")
    add_mould(own_library, "Tray", fill_weight_g=400)
    batch = planned(own_library, f"{odd} tray", [{odd: 0.02}, {odd: 0.04}], pieces=2)
    added(own_library, None, "white-quick", {shelf(own_library).pigments[0].uid: 2.0})
    bowl = zeroed(own_library, begin_bowl(own_library, batch))
    put_sure(own_library, put_sure(own_library, bowl, bowl.step.grams), 1.0)
    pages = [
        reading(open_page("bowl_at_hand", library="own", address={"batch": batch.uid}), "90"),
        open_page("tiles", library="own"),
        open_page("start", library="own", typed={"typed.start.find": "red"}),
        open_page("bench", library="own", address={"find": "tray"}),
    ]
    poured(own_library, planned(own_library, "Duo", [{odd: 0.02}, {}]))
    piece = own_library.list(Piece)[0]
    pages.append(open_page("bench", library="own", address={"piece": piece.uid, "view": "Dry"}))
    seen = [
        words
        for page in pages
        for each in (*page.button, *page.text_input, *page.selectbox, *page.button_group, *page.expander, *page.title)
        for words in (getattr(each, "label", None) or getattr(each, "value", ""),)
        if "A" in str(words) and "Red" in str(words)
    ]
    assert len(seen) > 3
    assert [words for words in seen if plain("*A* [x](y) $1$ 2_3_") not in words] == []


def test_two_bowls_are_gone_on_with_where_they_were_left(
    open_page: Callable[..., Any], rust: Any, own_library: Any
) -> None:
    batch = planned(own_library, "Duo", [{"Brick red": 0.02}, {"Ochre": 0.02}])
    for number in (1, 2):
        page = open_page("bowl_at_hand", library="own", address={"batch": batch.uid})
        assert f"Bowl {number} of 2" in shown(page)
        bowl = zeroed(own_library, begin_bowl(own_library, batch, number))
        while not bowl.state.done:
            bowl = put_sure(own_library, bowl, bowl.step.grams)
    page = open_page("bowl_at_hand", library="own", address={"batch": batch.uid})
    assert "Poured into the mould" in labels(page)


def test_half_a_piece_is_refused_not_rounded(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    page = open_page("bench", library="own", address={"batch": rust.uid})
    page.text_input(key=f"kept|own|number.batch.{rust.uid}.pieces").set_value("2,5")
    page = press(page, "Work it out again")
    assert "must be a whole number from 1 to 500" in page.error[0].value.replace("\\", "")
    assert own_library.list(BatchRecord) == [rust]


def test_a_planned_batch_is_planned_again_in_another_bag(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    grey = add_bag(own_library, "Grey", kind="portland", like="grey-cement")
    page = open_page("bench", library="own", address={"batch": rust.uid})
    next(each for each in page.selectbox if each.label == "Bag").set_value(grey.uid).run()
    assert "changes with the cement" in shown(page)
    press(page, "Work it out again")
    (batch,) = own_library.list(BatchRecord, stage="planned")
    assert batch.name == rust.name
    assert {each["base"] for each in batch.planned["bowls"]} == {grey.uid}
    assert batch.planned["bowls"][0]["loads"] == rust.planned["bowls"][0]["loads"]
    asked = own_library.get(RecipeRecord, batch.recipe_uid)
    assert (asked.cement_uid, asked.wanted_lab) == (grey.uid, tuple(WANTED.lab))  # still cast for the same shade


def test_a_sheet_worked_out_again_keeps_waste_and_water_that_were_asked_for(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    for label, typed in (("Waste, %", "25"), ("Water to 100 g of cement, g", "33")):
        page = open_page("bench", library="own", address={"batch": rust.uid})
        next(each for each in page.text_input if each.label == label).set_value(typed)
        press(page, "Work it out again")
    (batch,) = own_library.list(BatchRecord)
    assert (batch.uid, batch.name, batch.planned["waste"], batch.planned["water_per_cement"]) == (
        rust.uid, rust.name, 0.25, 0.33,
    )  # fmt: skip
    assert batch.code != rust.code  # another sheet, another code
    page = open_page("bench", library="own", address={"batch": rust.uid})
    next(each for each in page.selectbox if each.label == "Mould").set_value("by dry cement").run()
    assert not [each for each in page.text_input if each.label == "Waste, %"]  # the cement given is all there is
    press(page, "Work it out again")
    assert own_library.get(BatchRecord, rust.uid).planned["waste"] == 0


def test_a_sheet_that_cannot_be_kept_again_leaves_the_batch_as_it_was(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise DiskFullError("The disk is full.")

    page = open_page("bench", library="own", address={"batch": rust.uid})
    page.text_input(key=f"kept|own|number.batch.{rust.uid}.pieces").set_value("4")
    monkeypatch.setattr(Library, "save_all", full)
    press(page, "Work it out again")
    assert own_library.list(BatchRecord) == [rust]


def test_the_bag_of_a_batch_cast_already_is_corrected(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    piece = poured(own_library, rust)[0]
    grey = add_bag(own_library, "Grey", like="grey-cement", stock_g=9_000)
    page = open_page("bench", library="own", address={"batch": rust.uid})
    bag = next(each for each in page.selectbox if each.label == "White, quick")
    (grey_bag,) = own_library.list(CementLot, cement_uid=grey.uid)
    page = bag.set_value(grey_bag.uid).run()
    assert "Noted: from Grey: Bag 1" in page.success[0].value.replace("\\", "")
    assert mix_of(own_library, piece).mix.base == grey.uid
    assert next(each for each in page.selectbox if each.label == "Grey").value == grey_bag.uid


def test_of_a_piece_of_two_tones_both_are_planned_one_of_them_corrected(own_library: Any, rust: BatchRecord) -> None:
    two, wanted = planned(own_library, "Pot", [{"Brick red": 0.02}, {"Ochre": 0.01}]), [(50, 22, 16), (75, 6, 32)]
    design = own_library.get(DesignRecord, two.design_uid)
    for uid, lab in zip(design.recipes, wanted, strict=True):
        own_library.save(replace(own_library.get(RecipeRecord, uid), wanted_lab=lab))
    piece = demould(own_library, poured(own_library, two, more=1.5)[0])
    keep_shade(own_library, piece, Shade((42, 24, 18), sd=0.5), state="dry", bowl="1")
    known = studio_palette(own_library)
    found = next_batch(own_library, known, own_library.get(Piece, piece.uid), bowl="1")
    red, ochre = found.casting.tones
    before = plan_of(two).casting.tones
    assert dict(red.mix.loads) == pytest.approx(dict(found.recipe.loads))
    assert dict(ochre.mix.loads) == pytest.approx(dict(before[1].mix.loads))
    assert (red.share, ochre.share) == pytest.approx((before[0].share, before[1].share))
    batch = keep_plan(own_library, known, plan(own_library, known, found.casting))
    assert len(batch.planned["bowls"]) == 2
    kept = own_library.get(DesignRecord, batch.design_uid)
    assert [own_library.get(RecipeRecord, uid).wanted_lab for uid in kept.recipes] == wanted


def test_a_measured_dry_shade_stands_instead_of_the_prediction(open_page: Callable[..., Any]) -> None:
    page = open_page("bench", address={"piece": "moss-planters-1", "view": "Drying"})
    text = " ".join(each.value for each in page.html)
    assert "dry, measured" in text
    assert "predicted on the way" not in text
