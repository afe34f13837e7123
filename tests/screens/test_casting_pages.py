"""Demould and drying, over time: what they show is what the library calls say."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from colormatch.bench.drying import follow_drying
from colormatch.library import (
    BatchRecord,
    Cement,
    DefectRecord,
    DesignRecord,
    DryingWeight,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
)
from colormatch.recipes import Limits, correct_next_batch
from colormatch.shade import Shade
from colormatch.starter import starter_palette
from colormatch.studio import believed_palette

LOADS = {"red-iron-oxide": 0.018}


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


@pytest.fixture
def cast(own_library: Any) -> BatchRecord:
    """A batch of one recipe in an own library."""
    own_library.save(Cement(uid="white-cement", name="White cement", tone="white-cement"))
    own_library.save(PigmentRecord(uid="red-iron-oxide", name="Red iron oxide", like="red-iron-oxide"))
    own_library.save(
        RecipeRecord(uid="rust", name="Rust", cement_uid="white-cement", loads=LOADS, wanted_lab=(50.0, 18.0, 14.0))
    )
    return own_library.save(BatchRecord(uid="b1", name="Cups", recipe_uid="rust", made_on=date(2026, 3, 1), pieces=4))


# --- demould and drying -----------------------------------------------------------------------------


def fresh(page: Any, lab: np.ndarray, place: str) -> Any:
    for another in [each for each in page.button if each.key == f"{place}.another"]:
        another.click().run()
    for name, value in zip(("L*", "a*", "b*"), lab, strict=True):
        page.number_input(key=f"kept|own|{place}.{name}").set_value(round(float(value), 1))
    page.number_input(key=f"kept|own|{place}.±").set_value(0.8)
    return press(page, "Take this shade")


def test_a_piece_as_foretold_is_on_track_and_a_wrong_one_is_not(
    open_page: Callable[..., Any], own_library: Any, cast: Any
) -> None:
    foretold = starter_palette().predict(LOADS, "white-cement", "demould").lab
    page = open_page("drying", library="own")
    page.radio(key="kept|own|drying.part").set_value("At demould").run()
    fresh(page, foretold, "demould")
    assert page.subheader[-1].value == "On track"
    fresh(page, foretold + np.array([25.0, -20.0, 30.0]), "demould")
    assert page.subheader[-1].value == "Off track"
    shown = " ".join(each.value for each in (*page.markdown, *page.html)).replace("\\", "")
    assert not any(name in shown for name in starter_palette().pigments)  # what the jar says, not the palette's name


def test_a_measured_fresh_piece_is_kept_for_learning(
    open_page: Callable[..., Any], own_library: Any, cast: Any
) -> None:
    from colormatch.studio import studio_tiles

    page = open_page("drying", library="own")
    page.radio(key="kept|own|drying.part").set_value("At demould").run()
    fresh(page, np.array([42.0, 15.0, 12.0]), "demould")
    page.text_input(key="kept|own|demould.name").set_value("Cup 1").run()
    page.button(key="demould.keep").click().run()
    assert not page.error
    (tile,) = studio_tiles(own_library)
    assert tile.state == "demould"
    assert dict(tile.loads) == LOADS


def test_the_page_judges_as_the_library_call(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    """A published-style curve: mass = 1000 + 60 exp(-t / 2 days)."""
    days = np.arange(7.0)
    grams = np.round(1000 + 60 * np.exp(-days / 2), 1)
    start = datetime(2026, 3, 2, 9, tzinfo=UTC)
    for day, mass in zip(days, grams, strict=True):
        when = start + timedelta(days=float(day))
        own_library.save(DryingWeight(batch_uid="b1", piece="cup 1", weighed_at=when, mass_g=float(mass)))
    page = open_page("drying", library="own")
    expected = follow_drying(days.tolist(), grams.tolist(), scale_step_g=0.1)
    shown = " ".join(each.value for each in page.markdown).replace("\\", "")
    assert expected.words in shown


def test_a_weight_is_noted_and_an_empty_one_refused(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    page = open_page("drying", library="own")
    press(page, "Note this weight")
    assert "Type the weight" in page.error[0].value
    next(each for each in page.number_input if each.label == "The scale shows, g").set_value(411.3)
    press(page, "Note this weight")
    (weight,) = own_library.list(DryingWeight)
    assert weight.mass_g == pytest.approx(411.3)


def test_the_next_batch_is_corrected(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    page = open_page("drying", library="own")
    page.radio(key="kept|own|drying.part").set_value("Dry and measured").run()
    fresh(page, np.array([60.0, 10.0, 9.0]), "finished")
    page.button(key="finished.mend").click().run()
    assert not page.error
    (mended,) = page.session_state["in hand|own"].mended.values()
    limits = Limits(cement_g=780.0)
    measured, wanted = Shade((60, 10, 9), sd=0.8), Shade((50, 18, 14))
    expected = correct_next_batch(believed_palette(own_library), LOADS, measured, wanted, "white-cement", limits)
    assert dict(mended.grams) == dict(expected.grams)
    assert mended.loads != LOADS


def weigh(page: Any, grams: float) -> Any:
    next(each for each in page.number_input if each.label == "The scale shows, g").set_value(grams)
    return press(page, "Note this weight")


def test_two_weights_at_one_minute_are_refused_and_a_wrong_one_can_be_taken_out(
    open_page: Callable[..., Any], own_library: Any, cast: Any
) -> None:
    moment = datetime.now().astimezone().replace(second=0, microsecond=0)
    own_library.save(DryingWeight(batch_uid="b1", piece="cup 1", weighed_at=moment, mass_g=4113.0))
    page = open_page("drying", library="own")
    hour = next(each for each in page.time_input if each.label == "at")
    hour.set_value(moment.time().replace(tzinfo=None))
    next(each for each in page.date_input if each.label == "Weighed on").set_value(moment.date())
    weigh(page, 411.3)
    assert "4113 g is noted at that minute already" in page.error[0].value.replace("\\", "")
    assert len(own_library.list(DryingWeight)) == 1
    chosen = next(each for each in page.selectbox if each.label == "Noted by mistake")
    chosen.select_index(0).run()
    press(page, "Put this weight in the bin")
    assert own_library.list(DryingWeight) == []
    weigh(page, 411.3)
    assert [each.mass_g for each in own_library.list(DryingWeight)] == [411.3]


def test_weights_that_cannot_be_followed_still_can_be_taken_out(
    open_page: Callable[..., Any], own_library: Any, cast: Any
) -> None:
    """As an import or an earlier version may have left them."""
    for _ in range(2):
        when = datetime(2026, 3, 2, 9, tzinfo=UTC)
        own_library.save(DryingWeight(batch_uid="b1", piece="cup 1", weighed_at=when, mass_g=411.0))
    page = open_page("drying", library="own")
    assert page.error
    next(each for each in page.selectbox if each.label == "Noted by mistake").select_index(0).run()
    press(page, "Put this weight in the bin")
    assert len(own_library.list(DryingWeight)) == 1
    assert not page.error


def test_a_weight_that_is_still_to_come_is_refused(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    page = open_page("drying", library="own")
    day = next(each for each in page.date_input if each.label == "Weighed on")
    day.set_value(date.today() + timedelta(days=2))
    weigh(page, 411.3)
    assert "still to come" in page.error[0].value
    assert own_library.list(DryingWeight) == []


def test_the_shade_of_one_piece_is_not_kept_for_another(
    open_page: Callable[..., Any], own_library: Any, cast: Any
) -> None:
    own_library.save(BatchRecord(uid="b2", name="Bowls", recipe_uid="rust", made_on=date(2026, 2, 1), pieces=1))
    page = open_page("drying", library="own")
    page.radio(key="kept|own|drying.part").set_value("Dry and measured").run()
    fresh(page, np.array([60.0, 10.0, 9.0]), "finished")
    page.button(key="finished.mend").click().run()
    page.selectbox(key="kept|own|drying.batch").set_value("b2").run()
    assert not any(each.key == "finished.keep" for each in page.button)
    assert not any(each.key == "finished.take" for each in page.button)


def test_a_piece_of_a_design_is_learned_as_the_tone_that_was_measured(
    open_page: Callable[..., Any], own_library: Any, cast: Any
) -> None:
    own_library.save(RecipeRecord(uid="bare", name="Bare", cement_uid="white-cement", loads={}))
    own_library.save(DesignRecord(uid="d", name="Dawn", recipes=("bare", "rust")))
    own_library.save(BatchRecord(uid="b3", name="Dawn cups", design_uid="d", made_on=date(2026, 4, 1)))
    page = open_page("drying", library="own")
    page.radio(key="kept|own|drying.part").set_value("Dry and measured").run()
    page.selectbox(key="kept|own|drying.batch").set_value("b3").run()
    page.selectbox(key="kept|own|drying.tone").set_value("Rust").run()
    fresh(page, np.array([60.0, 10.0, 9.0]), "finished")
    page.text_input(key="kept|own|finished.name").set_value("Dawn 1").run()
    page.button(key="finished.keep").click().run()
    (piece,) = own_library.list(Swatch)
    assert piece.recipe_uid == "rust"
    page.button(key="finished.keep").click().run()
    assert "kept already" in page.error[0].value
    assert len(own_library.list(Swatch)) == 1


# --- over time --------------------------------------------------------------------------------------


def test_a_batch_far_off_is_named(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    for number, lightness in enumerate([50.0, 50.3, 49.8, 50.1, 62.0]):
        swatch = own_library.save(Swatch(name=f"Cup {number}", recipe_uid="rust", made_on=date(2026, 3, 1 + number)))
        shade = ShadeRecord.of(
            Shade((lightness, 18, 14)), swatch_uid=swatch.uid, state="dry", provenance={"kind": "measured"}
        )
        own_library.save(shade)
    page = open_page("over_time", library="own")
    assert "Cup 4" in " ".join(each.value for each in page.markdown)
    assert "out of control" in " ".join(each.value for each in page.html)


def test_a_defect_is_noted_and_counted(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    page = open_page("over_time", library="own")
    page.radio(key="kept|own|time.part").set_value("Defects").run()
    next(each for each in page.selectbox if each.label == "Defect").set_value("bubbles")
    next(each for each in page.number_input if each.label == "Pieces with it").set_value(2)
    press(page, "Note the defect")
    assert len(own_library.list(DefectRecord, batch_uid="b1")) == 2
    page.selectbox(key="kept|own|time.word").set_value("bubbles").run()
    assert "2 of 4" in " ".join(each.value for each in page.html)
