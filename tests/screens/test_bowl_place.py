"""The bowl on the page: each reading kept, refused or asked about; poured, it is pieces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from colormatch.library import (
    BatchRecord,
    Cement,
    CementLot,
    Piece,
    draft,
)
from colormatch.weighed import mix_of
from colormatch.workshop.shelf import shelf
from colormatch.workshop.weighing import begin_bowl
from tests.screens.driven import labels, planned, press, reading, shown


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


@pytest.mark.parametrize(("kind", "said"), [("quick-setting", False), ("portland", True)])
def test_at_the_water_a_portland_says_that_it_takes_more(bowl: Any, own_library: Any, kind: str, said: bool) -> None:
    cement = own_library.list(Cement)[0]
    own_library.save(replace(cement, kind=kind))
    page = bowl
    for _ in range(3):
        page = press(page, next(label for label in labels(page) if label.startswith("Exactly")))
    assert "thick pourable mix" in shown(page)
    assert ("Portland takes more" in shown(page)) == said


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
