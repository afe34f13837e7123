"""A piece on the page: judged by what was weighed, dried, measured, compared, sealed and sold."""

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
    Draft,
    DryingWeight,
    Piece,
    ShadeRecord,
)
from colormatch.screens.bench_drying import _moment
from colormatch.shade import Shade
from colormatch.studio import studio_palette, studio_tiles
from colormatch.weighed import mix_of
from colormatch.workshop.comparing import next_batch
from colormatch.workshop.pieces import demould, drying, keep_shade, seal, weigh_sure
from colormatch.workshop.shelf import shelf
from tests.screens.driven import labels, planned, poured, press, reading, shown
from tests.screens.tapped import lab_field


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


def test_of_weights_noted_together_the_latest_is_undone_and_sealing_comes_first(open_page: Callable[..., Any]) -> None:
    page = open_page("bench", address={"piece": "moss-planters-1", "view": "Drying"})
    assert "Undo: 590.9 g" in labels(page)
    assert labels(page).index("Sealed") < labels(page).index("Note this weight")


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
    now = weigh_sure(own_library, piece, 400)
    weigh_sure(own_library, piece, 402, at=datetime.now(UTC) - timedelta(hours=1))  # noted last, of an hour ago
    press(view(open_page, piece, "Drying"), "Undo: 402 g")
    assert own_library.list(DryingWeight) == [now]
    own_library.delete(now)
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


def test_a_weight_of_today_without_an_hour_is_of_now() -> None:
    assert _moment(date.today(), None) is None  # noon may be still to come
    yesterday = date.today() - timedelta(days=1)
    assert _moment(yesterday, None) == datetime.combine(yesterday, time(12)).astimezone()
    assert _moment(None, time(8, 30)) == datetime.combine(date.today(), time(8, 30)).astimezone()


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
