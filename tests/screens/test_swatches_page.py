"""Swatches: found as chips; each at its own address with its life, corrected, matched, paired and shared."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest
from streamlit.util import calc_hash

from colormatch.colorimetry import reflectance_to_lab
from colormatch.difference import delta_e_2000
from colormatch.lamps import lamp
from colormatch.library import (
    BatchRecord,
    Cement,
    DesignRecord,
    Piece,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
    draft,
)
from colormatch.saying import compared
from colormatch.screens.drawing import stamp_words
from colormatch.screens.state import Wanted
from colormatch.screens.swatches import LIKE_COLOUR, LIKE_WANTED, MOST
from colormatch.shade import Shade
from colormatch.studio import studio_palette
from colormatch.workshop.lives import times_cast
from tests.screens.tapped import lab_field, titles

KEPT, TYPED = "kept|own|swatches.", "kept|own|typed.swatches."
LABS = {"Fog": (70, 0, 0), "Rust": (50, 20, 20), "Moss": (55, -12, 20)}


@pytest.fixture
def three(own_library: Any) -> list[Swatch]:
    """Three swatches with a dry shade each."""
    kept = []
    for number, (name, lab) in enumerate(LABS.items()):
        swatch = own_library.save(Swatch(name=name, made_on=date(2026, 1, 1 + number), tags=(name.lower(), "all")))
        own_library.save(ShadeRecord.of(Shade(lab, sd=0.5), swatch_uid=swatch.uid, state="dry"))
        kept.append(swatch)
    return kept


@pytest.fixture
def far_east(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A clock nine hours ahead of UTC."""
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "UTC-9")
        time.tzset()
        yield
    time.tzset()


@pytest.fixture
def rust(own_library: Any) -> Swatch:
    """A swatch with its recipe, on a shelf that holds it."""
    own_library.save(Cement(uid="white-cement", name="White", tone="white-cement"))
    for name in ("red-iron-oxide", "titanium-white", "black-iron-oxide"):
        own_library.save(PigmentRecord(uid=name, name=name, like=name))
    loads = {"red-iron-oxide": 0.018}
    own_library.save(
        RecipeRecord(uid="r", name="Rust", cement_uid="white-cement", loads=loads, wanted_lab=(50, 18, 14))
    )
    return own_library.save(Swatch(uid="s", name="Rust", recipe_uid="r", cement_uid="white-cement"))


@pytest.fixture
def cast_twice(rust: Swatch, own_library: Any) -> Swatch:
    """Two casts a month apart, the second with another bag, wetter, and lighter when dry."""
    for number, (bag, water, lab) in enumerate([("bag 1", 0.25, (50, 18, 14)), ("bag 2", 0.29, (53, 18, 14))], start=1):
        moment = datetime(2026, number, 2, 9, tzinfo=UTC)
        own_library.save(
            BatchRecord(uid=f"b{number}", name=f"Trays {number}", recipe_uid="r", made_on=moment.date(), stage="cast")
        )
        piece = own_library.save(
            Piece(
                uid=f"p{number}", name=f"Tray {number}", batch_uid=f"b{number}", swatch_uid="s", cast_at=moment,
                demoulded_at=moment.replace(hour=15), water_per_cement=water, conditions={"bag": bag},
            )
        )  # fmt: skip
        own_library.save(
            ShadeRecord.of(
                Shade(lab, sd=0.4), piece_uid=piece.uid, swatch_uid="s", state="dry",
                measured_on=date(2026, number, 20), provenance={"kind": "measured"},
            )
        )  # fmt: skip
    return rust


def opened(open_page: Callable[..., Any], uid: str) -> Any:
    """The place of one swatch, by its address."""
    page = open_page("swatches", library="own")
    page.query_params["swatch"] = uid
    return page.run()


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


def shown(page: Any) -> list[str]:
    """The names on the chips, in their order."""
    return titles(page, "Swatches")


# -- finding -----------------------------------------------------------------------------------------------------


def test_found_by_words_and_by_tag(open_page: Callable[..., Any], three: list[Swatch]) -> None:
    page = open_page("swatches", library="own")
    assert sorted(shown(page)) == ["Fog", "Moss", "Rust"]
    page.text_input(key=f"{TYPED}words").set_value("rus").run()
    assert shown(page) == ["Rust"]
    page.text_input(key=f"{TYPED}words").set_value("")
    page.selectbox(key=f"{KEPT}tag").set_value("moss").run()
    assert shown(page) == ["Moss"]


def test_a_word_typed_to_find_is_there_again_and_is_never_wiped(
    open_page: Callable[..., Any], three: list[Swatch]
) -> None:
    page = open_page("swatches", library="own")
    page.text_input(key=f"{TYPED}words").set_value("rus").run()
    page.run()  # the change of another field
    assert not page.text_input(key=f"{TYPED}words").proto.set_value
    for place in ("bench", "bench", "swatches"):
        page._page_hash = calc_hash(place)
        page.run()
    assert page.text_input(key=f"{TYPED}words").value == "rus"
    assert shown(page) == ["Rust"]


@pytest.mark.parametrize("order", [LIKE_WANTED, LIKE_COLOUR])
def test_nearest_comes_first(open_page: Callable[..., Any], three: list[Swatch], order: str) -> None:
    page = open_page("swatches", library="own", wanted=Wanted(Shade((52, -9, 18)), "typed"))
    page.selectbox(key=f"{KEPT}order").set_value(order).run()
    if order == LIKE_COLOUR:
        page.text_input(key=f"{TYPED}colour").set_value("#7a8264").run()
    off = {name: float(delta_e_2000(np.array(lab, float), np.array([52, -9, 18.0]))) for name, lab in LABS.items()}
    assert shown(page) == sorted(off, key=off.__getitem__)


def test_an_address_of_a_swatch_that_is_gone_says_so(open_page: Callable[..., Any], own_library: Any) -> None:
    page = opened(open_page, "nowhere")
    assert not page.exception
    assert "no swatch at this address" in page.info[0].value


# -- its life ----------------------------------------------------------------------------------------------------


def test_its_shade_is_predicted_until_it_is_measured(
    open_page: Callable[..., Any], rust: Swatch, own_library: Any
) -> None:
    page = opened(open_page, rust.uid)
    assert page.title[0].value == "Rust"
    predicted = studio_palette(own_library).predict({"red-iron-oxide": 0.018}, "white-cement", "dry").lab
    text = " ".join(each.value for each in page.html)
    assert f"L* {predicted[0]:.1f}" in text
    assert "predicted" in text
    assert "not cast yet" in text


def test_what_it_turns_to_by_lamplight_is_said(open_page: Callable[..., Any], rust: Swatch, own_library: Any) -> None:
    page = opened(open_page, rust.uid)
    body = studio_palette(own_library).reflectance({"red-iron-oxide": 0.018}, base="white-cement")
    far = float(lamp("A").inconstancy(body))
    words = compared(lamp("A").as_in_daylight(body), reflectance_to_lab(body))
    assert any(f"{words} ({far:.1f})" in each.value for each in page.html)


def test_a_piece_without_a_batch_counts_as_a_cast_on_its_card_too(
    open_page: Callable[..., Any], rust: Swatch, own_library: Any
) -> None:
    """So do the pieces of a design that has it as one tone; what is only planned does not."""
    own_library.save(DesignRecord(uid="d", name="Two tones", recipes=["r"]))
    for uid, stage in (("b1", "cast"), ("b2", "planned")):
        own_library.save(BatchRecord(uid=uid, name=uid, design_uid="d", made_on=date(2026, 3, 1), stage=stage))
    own_library.save(
        Piece(uid="p", name="The first", swatch_uid="s", recipe_uid="r", cast_at=datetime(2026, 2, 2, 9, tzinfo=UTC))
    )
    text = " ".join(each.value for each in opened(open_page, rust.uid).html)
    assert "cast 2 times, last on 01.03.2026" in text
    assert "The first" in text
    assert times_cast(own_library) == {rust.uid: 2}


def test_casts_are_compared_condition_by_condition(open_page: Callable[..., Any], cast_twice: Swatch) -> None:
    page = opened(open_page, cast_twice.uid)
    assert not page.error
    text = " ".join(each.value for each in page.html)
    assert "cast 2 times, last on 02.02.2026" in text
    assert "measured on 2 pieces" in text
    assert "Lighter than the first" in text
    assert "bag: bag 2, was bag 1" in text
    assert "water: 29.0 % of the cement, was 25.0 % of the cement" in text
    first = next(each.value for each in page.html if "01.2026, Trays 1" in each.value)
    assert "Different" not in first


def test_the_mean_of_the_pieces_is_its_shade(open_page: Callable[..., Any], cast_twice: Swatch) -> None:
    page = opened(open_page, cast_twice.uid)
    assert any("L* 51.5" in each.value for each in page.html)


def test_a_shade_measured_too_early_is_called_so(open_page: Callable[..., Any], rust: Swatch, own_library: Any) -> None:
    own_library.save(
        ShadeRecord.of(
            Shade((50, 18, 14), sd=0.4), swatch_uid="s", state="dry", measured_on=date(2026, 1, 3),
            final_from=date(2026, 1, 12), provenance={"kind": "measured"},
        )
    )  # fmt: skip
    page = opened(open_page, rust.uid)
    assert any("to be judged from 12.01.2026 on" in each.value for each in page.html)


# -- what one can do ---------------------------------------------------------------------------------------------


def test_a_change_is_kept_with_the_earlier_version(
    open_page: Callable[..., Any], three: list[Swatch], own_library: Any
) -> None:
    page = opened(open_page, three[0].uid)
    next(each for each in page.text_input if each.label == "Name").set_value("Sea fog").run()
    page.button(key="swatch.edit").click().run()
    assert own_library.get(Swatch, three[0].uid).name == "Sea fog"
    page.button(key="swatch.restore").click().run()
    assert own_library.get(Swatch, three[0].uid).name == "Fog"


def test_a_name_half_typed_is_there_in_the_next_session(open_page: Callable[..., Any], three: list[Swatch]) -> None:
    next(each for each in opened(open_page, three[0].uid).text_input if each.label == "Name").set_value("Sea").run()
    again = opened(open_page, three[0].uid)
    assert next(each for each in again.text_input if each.label == "Name").value == "Sea"


def test_a_name_that_another_swatch_has_is_refused(
    open_page: Callable[..., Any], three: list[Swatch], own_library: Any
) -> None:
    page = opened(open_page, three[0].uid)
    next(each for each in page.text_input if each.label == "Name").set_value("rust").run()
    page.button(key="swatch.edit").click().run()
    assert any("is kept already" in each.value for each in page.error)
    assert own_library.get(Swatch, three[0].uid).name == "Fog"


def test_hours_and_days_are_those_of_her_clock(
    open_page: Callable[..., Any], rust: Swatch, own_library: Any, far_east: None
) -> None:
    batch = own_library.save(BatchRecord(name="Late", recipe_uid="r", stage="cast", made_on=date(2026, 3, 2)))
    late = datetime(2026, 3, 1, 20, 30, tzinfo=UTC)  # already the second of March there
    own_library.save(Piece(name="Late", batch_uid=batch.uid, recipe_uid="r", cast_at=late))
    assert stamp_words("2026-03-01T20:30:00+00:00") == "02.03.2026, 05:30"
    page = opened(open_page, rust.uid)
    assert any("cast 02.03." in each.value for each in page.html)


def test_more_than_are_drawn_are_told_of(open_page: Callable[..., Any], own_library: Any) -> None:
    own_library.save_all([Swatch(name=f"Shade {number}") for number in range(MOST + 5)])
    page = open_page("swatches", library="own")
    assert any(f"The first {MOST} are shown" in each.value for each in page.html)


def test_into_the_bin(open_page: Callable[..., Any], three: list[Swatch], own_library: Any) -> None:
    page = opened(open_page, three[1].uid)
    page.button(key="swatch.bin").click().run()
    assert own_library.find_one(Swatch, three[1].uid) is None
    assert any("Rust is in the bin" in each.value for each in page.success)


def test_a_measured_shade_is_added(open_page: Callable[..., Any], three: list[Swatch], own_library: Any) -> None:
    page = opened(open_page, three[0].uid)
    next(each for each in page.selectbox if each.label == "The piece is").set_value("sealed")
    for label, value in {"L*": 60.0, "a*": 1.0, "b*": -1.0}.items():
        lab_field(page, label).set_value(f"{value:g}")
    press(page, "Keep this shade")
    (added,) = own_library.list(ShadeRecord, swatch_uid=three[0].uid, state="sealed")
    assert added.lab == (60.0, 1.0, -1.0)
    assert added.provenance["kind"] == "measured"


def test_matched_again(open_page: Callable[..., Any], three: list[Swatch], own_library: Any) -> None:
    page = opened(open_page, three[2].uid)
    page.button(key="swatch.match").click().run()
    assert page.title[0].value == "Match"
    assert draft(own_library, "match").content["given"]["lab"] == list(LABS["Moss"])


def test_paired(open_page: Callable[..., Any], rust: Swatch, own_library: Any) -> None:
    page = opened(open_page, rust.uid)
    page.button(key="swatch.pair").click().run()
    assert page.title[0].value == "Two tones"
    assert draft(own_library, "design").content["first"]["loads"] == {"red-iron-oxide": 0.018}


def test_hostile_names_are_shown_as_they_stand(open_page: Callable[..., Any], own_library: Any) -> None:
    name = "Brick <img src=x onerror=alert(1)> *red* ![x](http://example.invalid/x.png)"
    swatch = own_library.save(Swatch(name=name))
    own_library.save(ShadeRecord.of(Shade((50, 10, 10)), swatch_uid=swatch.uid))
    page = opened(open_page, swatch.uid)
    assert not page.exception
    assert page.title[0].value.replace("\\", "") == name
    assert "![" not in page.title[0].value
    assert not any("<img src=x" in each.value for each in page.html)


def test_a_batch_only_planned_is_no_cast_on_the_wall(
    open_page: Callable[..., Any], cast_twice: Swatch, own_library: Any
) -> None:
    own_library.save(BatchRecord(uid="b3", name="Trays 3", recipe_uid="r", stage="planned"))
    page = open_page("swatches", library="own")
    assert any('"cast 2 times"' in each.proto.json for each in page.get("bidi_component"))
