"""Bench: a batch planned, weighed, poured and followed as pieces; what was weighed is what is judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
import pytest

from colormatch.library import (
    BatchRecord,
    CementLot,
    DesignRecord,
    DiskFullError,
    Draft,
    DryingWeight,
    Library,
    Piece,
    RecipeRecord,
    ShadeRecord,
    draft,
)
from colormatch.screens.bench_drying import _moment
from colormatch.screens.drawing import plain
from colormatch.shade import Shade
from colormatch.studio import studio_palette, studio_tiles
from colormatch.weighed import mix_of
from colormatch.workshop.comparing import next_batch
from colormatch.workshop.materials import add_bag, add_jar, add_mould
from colormatch.workshop.pieces import demould, drying, keep_shade, seal, weigh_sure
from colormatch.workshop.plans import keep_plan, plan, plan_of
from colormatch.workshop.shelf import shelf
from colormatch.workshop.tile_list import added
from colormatch.workshop.weighing import begin_bowl, put_sure, zeroed
from tests.screens.driven import WANTED, labels, planned, poured, press, reading, shown
from tests.screens.tapped import lab_field

# --- planning ---------------------------------------------------------------------------------------


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


# --- the bowl ---------------------------------------------------------------------------------------


@pytest.fixture
def bowl(open_page: Callable[..., Any], rust: BatchRecord) -> Any:
    page = open_page("bowl_at_hand", library="own", address={"batch": rust.uid, "bowl": "1"})
    assert "Step 1 of 5" in shown(page)
    return press(page, "It shows 0")


def entries(library: Any, batch: BatchRecord) -> list[tuple[str, float]]:
    kept = draft(library, "bowl", f"{batch.uid}/1")
    return [(each["done"], each["grams"]) for each in kept.content["entries"]]


def test_each_reading_is_kept_the_moment_it_is_entered(bowl: Any, own_library: Any, rust: BatchRecord) -> None:
    assert "Step 2 of 5" in shown(bowl)
    page = reading(bowl, "687")
    assert entries(own_library, rust) == [("zero", 0.0), ("weighed", 687.0)]
    page = reading(page, "13,7")
    assert entries(own_library, rust)[-1] == ("weighed", 13.7)
    assert "Step 4 of 5" in shown(page)


@pytest.mark.parametrize(("text", "words"), [("", "is missing"), ("abc", "is no number"), ("-3", "below zero")])
def test_what_is_no_weight_is_refused_and_never_taken_as_planned(
    bowl: Any, own_library: Any, rust: BatchRecord, text: str, words: str
) -> None:
    page = reading(bowl, text)
    assert words in page.error[0].value
    assert entries(own_library, rust) == [("zero", 0.0)]


def test_an_untared_reading_is_asked_about(bowl: Any, own_library: Any, rust: BatchRecord) -> None:
    page = reading(reading(bowl, "687"), "700,7")
    assert "not zeroed?" in shown(page)
    assert len(entries(own_library, rust)) == 2
    page = press(page, next(label for label in labels(page) if "less what was in" in label))
    assert entries(own_library, rust)[-1] == ("weighed", 13.7)


def test_a_little_over_is_left_and_much_over_is_corrected(bowl: Any, own_library: Any, rust: BatchRecord) -> None:
    page = reading(reading(bowl, "687"), "13.9")
    assert "0.2 g of Brick red over" in shown(page)
    assert "leave it" in shown(page)
    page = press(page, "Leave it")
    assert "Ochre" in shown(page)
    page = press(press(page, "Undo the last step"), "Undo the last step")
    page = reading(page, "17.5")
    assert "3.8 g of Brick red over" in shown(page)
    page = press(page, "Correct it")
    assert "White, quick" in shown(page)  # more cement goes in


def test_an_earlier_weight_is_corrected_at_a_later_step(bowl: Any, own_library: Any, rust: BatchRecord) -> None:
    page = reading(reading(bowl, "678"), "13.7")
    field = next(each for each in page.text_input if each.label == "The scale showed, g")
    field.set_value("687")
    page = next(each for each in page.button if each.label == "Correct this weight").click().run()
    assert entries(own_library, rust)[1] == ("weighed", 687.0)
    assert not page.error


def test_undo_says_what_it_undid(bowl: Any, own_library: Any, rust: BatchRecord) -> None:
    page = press(reading(bowl, "687"), "Undo the last step")
    assert "687 g" in page.success[0].value
    assert entries(own_library, rust) == [("zero", 0.0)]


def test_a_bowl_poured_is_pieces_with_what_was_weighed(bowl: Any, own_library: Any, rust: BatchRecord) -> None:
    page = reading(bowl, "687")
    while "Poured into the mould" not in labels(page):
        page = press(page, next(label for label in labels(page) if label.startswith("Exactly")))
    page = next(each for each in page.text_input if each.label == "Weather").set_value("damp").run()
    press(page, "Poured into the mould")
    pieces = own_library.list(Piece, batch_uid=rust.uid)
    assert len(pieces) == 2
    assert all(mix_of(own_library, each).source == "weighed" for each in pieces)
    assert pieces[0].conditions["weather"] == "damp"
    assert draft(own_library, "bowl", f"{rust.uid}/1") is None


def test_two_bowls_one_after_the_other(open_page: Callable[..., Any], own_library: Any, rust: BatchRecord) -> None:
    two = planned(own_library, "Pot", [{"Brick red": 0.02}, {"Ochre": 0.01}])
    page = press(open_page("bowl_at_hand", library="own", address={"batch": two.uid}), "It shows 0")
    assert "Bowl 1 of 2" in shown(page)
    while "Weigh bowl 2" not in labels(page):
        page = press(page, next(label for label in labels(page) if label.startswith("Exactly")))
    page = open_page("bowl_at_hand", library="own", address={"batch": two.uid, "bowl": "2"})
    assert "Bowl 2 of 2" in shown(page)


# --- pieces -----------------------------------------------------------------------------------------


def view(open_page: Callable[..., Any], piece: Piece, name: str) -> Any:
    page = open_page("bench", library="own", address={"piece": piece.uid})
    control = next(each for each in page.button_group if name in each.options)
    return control.set_value(name).run()


def typed_shade(page: Any, lab: np.ndarray, place: str) -> Any:
    for another in [each for each in page.button if each.key == f"{place}.another"]:
        another.click().run()
    for name, value in zip(("L*", "a*", "b*"), lab, strict=True):
        lab_field(page, name).set_value(f"{value:.1f}")
    lab_field(page, "±").set_value("0,8")
    return press(page, "Take this shade")


def test_a_fresh_piece_is_judged_by_what_was_weighed(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    """Twice the red was weighed and left: as weighed it is on track, as planned it is not."""
    piece = demould(own_library, poured(own_library, rust, more=1.6)[0])
    known, deed = studio_palette(own_library), mix_of(own_library, piece)
    page = view(open_page, piece, "At demould")
    expected = known.predict(deed.mix.loads, deed.mix.base, "demould").lab
    page = typed_shade(page, expected, "demould")
    assert "Nothing speaks against it" in shown(page)  # no tile yet: too little is known to say "on track"
    page = typed_shade(page, expected + np.array([25, -20, 30]), "demould")
    assert "Not as predicted" in shown(page)
    press(page, "Keep this shade")
    assert not [each for each in own_library.list(Draft) if each.what == "demould"]  # done: nothing left to go on with
    (tile,) = studio_tiles(own_library)
    assert tile.state == "demould"
    assert tile.piece.startswith(piece.uid)
    assert dict(tile.loads) == pytest.approx(dict(deed.mix.loads))


def test_the_verdict_on_drying_is_that_of_the_library_call(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    piece = demould(own_library, poured(own_library, rust)[0], at=datetime.now(UTC) - timedelta(days=9))
    for day in range(8):
        grams = round(400 + 24 * float(np.exp(-day / 2)), 1) if day != 3 else 42.0
        weigh_sure(own_library, piece, grams, at=datetime.now(UTC) - timedelta(days=8.5 - day))
    page = view(open_page, piece, "Drying")
    found = drying(own_library, piece)
    assert found.outliers == (3,)
    assert found.words in " ".join(each.value for each in page.html)
    assert "Left out: 42 g on day 3" in " ".join(each.value for each in page.html)


def test_a_weight_is_noted_undone_and_refused(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    piece = demould(own_library, poured(own_library, rust)[0])
    page = view(open_page, piece, "Drying")
    page = press(page, "Note this weight")
    assert "is missing" in page.error[0].value
    page = reading(page, "411,3", "Note this weight")
    assert [each.mass_g for each in own_library.list(DryingWeight)] == [411.3]
    press(page, "Undo: 411.3 g")
    assert own_library.list(DryingWeight) == []
    for minute in range(3):  # a slow machine may turn to the next minute
        weigh_sure(own_library, piece, 411.3, at=datetime.now(UTC) + timedelta(minutes=minute))
    page = reading(view(open_page, piece, "Drying"), "411,2", "Note this weight")
    assert "noted at that minute already" in page.error[0].value.replace("\\", "")


def test_weights_that_cannot_be_followed_still_can_be_taken_out(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    """As an import or an earlier version may have left them."""
    piece = demould(own_library, poured(own_library, rust)[0])
    for _ in range(2):
        when = datetime(2026, 3, 2, 9, tzinfo=UTC)
        own_library.save(DryingWeight(batch_uid=rust.uid, piece_uid=piece.uid, weighed_at=when, mass_g=411.0))
    page = view(open_page, piece, "Drying")
    assert page.error
    next(each for each in page.selectbox if each.label == "Noted by mistake").select_index(0).run()
    press(page, "Put this weight in the bin")
    assert len(own_library.list(DryingWeight)) == 1


def test_a_dry_piece_is_kept_and_the_next_batch_corrected_from_the_weighings(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    piece = demould(own_library, poured(own_library, rust, more=1.6)[0])
    page = typed_shade(view(open_page, piece, "Dry"), np.array([46.0, 20.0, 15.0]), "finished")
    page = press(page, "Keep this shade")
    (shade,) = own_library.list(ShadeRecord, piece_uid=piece.uid, state="dry")
    assert shade.lab == pytest.approx((46.0, 20.0, 15.0))
    page = press(page, "Correct the recipe")
    expected = next_batch(own_library, studio_palette(own_library), own_library.get(Piece, piece.uid))
    assert dict(expected.last.loads) == pytest.approx(dict(mix_of(own_library, piece).mix.loads))
    for load in expected.recipe.loads.values():
        assert f"{100 * load:.2f} %" in shown(page)
    press(page, "Plan it")
    assert len(own_library.list(BatchRecord, stage="planned")) == 1


def test_measured_again_the_next_batch_is_corrected_anew(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    piece = demould(own_library, poured(own_library, rust)[0])
    keep_shade(own_library, piece, Shade((46, 20, 15), sd=0.5), state="dry")
    page = press(view(open_page, piece, "Dry"), "Correct the recipe")
    assert "Plan it" in labels(page)
    keep_shade(own_library, own_library.get(Piece, piece.uid), Shade((60, 10, 15), sd=0.5), state="dry")
    assert "Plan it" not in labels(page.run())  # what stood there was corrected from the shade before


def test_the_shade_of_one_piece_is_not_kept_for_another(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    first, second = (demould(own_library, each) for each in poured(own_library, rust))
    page = typed_shade(view(open_page, first, "Dry"), np.array([46.0, 20.0, 15.0]), "finished")
    assert "Keep this shade" in labels(page)
    assert "Keep this shade" not in labels(view(open_page, second, "Dry"))


def test_a_piece_of_two_tones_is_learned_as_the_tone_that_was_measured(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    two = planned(own_library, "Pot", [{"Brick red": 0.02}, {"Ochre": 0.01}])
    piece = demould(own_library, poured(own_library, two)[0])
    page = view(open_page, piece, "Dry")
    next(each for each in page.button_group if ".tone." in str(each.key)).set_value("2").run()
    page = typed_shade(page, np.array([70.0, 8.0, 30.0]), "finished")
    press(page, "Keep this shade")
    (tile,) = studio_tiles(own_library)
    ochre = next(each.uid for each in shelf(own_library).pigments if each.name == "Ochre")
    assert set(tile.loads) == {ochre}


def test_two_casts_are_compared_condition_by_condition(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    first, second = (demould(own_library, each) for each in poured(own_library, rust))
    own_library.update(Piece, second.uid, lambda each: replace(each, conditions={**each.conditions, "weather": "hot"}))
    keep_shade(own_library, first, Shade((50, 18, 14), sd=0.5), state="dry")
    keep_shade(own_library, own_library.get(Piece, second.uid), Shade((56, 15, 12), sd=0.5), state="dry")
    page = view(open_page, first, "Compared")
    assert "hot" in shown(page)
    assert second.name in shown(page)


def test_sealing_selling_and_taking_it_back(open_page: Callable[..., Any], own_library: Any, rust: BatchRecord) -> None:
    piece = demould(own_library, poured(own_library, rust)[0])
    page = view(open_page, piece, "Drying")
    page = next(each for each in page.text_input if each.label == "Sealer").set_value("wax").run()
    page = press(page, "Sealed")
    assert own_library.get(Piece, piece.uid).sealer == "wax"
    page = press(page, "Sold")
    assert own_library.get(Piece, piece.uid).sold_on is not None
    page = press(page, "Undo: sold")
    assert own_library.get(Piece, piece.uid).sold_on is None
    assert "sold" in page.success[0].value


def test_the_weather_is_corrected_for_all_pieces_until_one_is_measured(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    first, second = poured(own_library, rust)
    page = open_page("bench", library="own", address={"piece": first.uid})
    next(each for each in page.text_input if each.label == "Weather").set_value("hot and dry")
    next(each for each in page.text_input if each.label == "Room, °C").set_value("27,5")
    press(page, "Correct what was noted")
    assert "for every piece" in page.success[0].value
    for piece in (first, second):
        now = own_library.get(Piece, piece.uid)
        assert (now.conditions["weather"], now.temperature_c) == ("hot and dry", 27.5)
    now = own_library.get(Piece, first.uid)
    own_library.save(replace(now, conditions={**now.conditions, "locked": True}))
    bag = own_library.list(CementLot)[0]
    own_library.save(replace(bag, price_per_kg=1.2))
    page = open_page("bench", library="own", address={"piece": first.uid})
    assert "Correct what was noted" not in labels(page)
    assert "Materials" in shown(page)
    assert "not counted: no price" in shown(page)
    assert "not changed any more" in shown(page)


def test_half_a_piece_is_refused_not_rounded(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    page = open_page("bench", library="own", address={"batch": rust.uid})
    page.text_input(key=f"kept|own|number.batch.{rust.uid}.pieces").set_value("2,5")
    page = press(page, "Work it out again")
    assert "must be a whole number from 1 to 500" in page.error[0].value.replace("\\", "")
    assert own_library.list(BatchRecord) == [rust]


def test_a_weight_of_today_without_an_hour_is_of_now() -> None:
    assert _moment(date.today(), None) is None  # noon may be still to come
    yesterday = date.today() - timedelta(days=1)
    assert _moment(yesterday, None) == datetime.combine(yesterday, time(12)).astimezone()
    assert _moment(None, time(8, 30)) == datetime.combine(date.today(), time(8, 30)).astimezone()


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


def test_of_two_jars_the_one_it_is_weighed_from_is_kept(bowl: Any, own_library: Any, rust: BatchRecord) -> None:
    cement = shelf(own_library).cements[0]
    assert "Weighed from" not in [each.label for each in bowl.selectbox]
    own_library.save(CementLot(cement_uid=cement.uid, lot="B 7"))
    second = shelf(own_library).cements[0].lots[1]
    bowl.run()
    choice = next(each for each in bowl.selectbox if each.label == "Weighed from")
    assert any("B 7" in option for option in choice.options)
    choice.set_value(second.uid).run()
    assert not bowl.error
    assert begin_bowl(own_library, rust).lots == {cement.uid: second.uid}


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


def test_a_piece_with_a_second_sealer_is_kept_as_its_own(
    open_page: Callable[..., Any], own_library: Any, rust: BatchRecord
) -> None:
    first, second = (demould(own_library, each) for each in poured(own_library, rust))
    first, second = seal(own_library, first, "Water repellent"), seal(own_library, second, "Beeswax")
    keep_shade(own_library, first, Shade((50, 16, 20), sd=0.7), state="sealed")
    page = view(open_page, second, "Dry")
    page = next(each for each in page.button_group if "Sealed" in each.options).set_value("Sealed").run()
    page = press(typed_shade(page, np.array([42.0, 21.0, 24.0]), "finished"), "Keep this shade")
    assert "sealed with beeswax" in page.success[0].value
    (kept,) = own_library.list(ShadeRecord, piece_uid=second.uid)
    assert kept.state == "sealed:beeswax"
    assert studio_palette(own_library).states[-1] == "sealed:beeswax"
