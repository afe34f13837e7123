"""Today: what needs her, most urgent first; the first day in a new library; finding anything again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.bench.batch import Tone
from colormatch.library import BatchRecord, Library, Mould, save_draft
from colormatch.loads import Mix
from colormatch.screens.needs import words_on_button
from colormatch.shade import Shade
from colormatch.studio import studio_palette
from colormatch.workshop.materials import add_bag, add_jar, add_mould
from colormatch.workshop.plans import Casting, keep_plan, plan
from colormatch.workshop.shelf import set_defaults
from colormatch.workshop.today import today
from colormatch.workshop.weighing import begin_bowl, put_sure, zeroed
from tests.screens.driven import labels


def shown(page: Any) -> str:
    return " ".join(each.value for each in page.html)


@pytest.fixture
def settled(own_library: Library) -> Library:
    """A studio whose first day is over, with one batch planned."""
    add_bag(own_library, "White", kind="quick-setting", like="white-cement")
    add_jar(own_library, "Brick red", like="red-iron-oxide")
    mould = add_mould(own_library, "Tray", fill_weight_g=400.0)
    set_defaults(own_library, scale_step_g=0.1)
    known = studio_palette(own_library)
    casting = Casting("Rust", (Tone("Rust", Mix.of("white", {"brick-red": 0.02})),), wanted=Shade((55, 20, 18)))
    keep_plan(own_library, known, plan(own_library, known, casting, mould_uid=mould.uid))
    return own_library


def test_a_new_library_begins_with_the_first_day(open_page: Callable[..., Any], own_library: Library) -> None:
    page = open_page("start", library="own")
    assert page.title[0].value == "First batch in six steps"
    assert any(each.label == "Name on the bag" for each in page.text_input)  # the first step is open in its place
    assert "step 1" in shown(page)
    assert "No time for tiles?" in shown(page)


def test_the_list_ticks_itself_off_and_opens_the_next(open_page: Callable[..., Any], own_library: Library) -> None:
    add_bag(own_library, "White")
    add_jar(own_library, "Brick red")
    page = open_page("start", library="own")
    assert shown(page).count('aria-label="done"') == 2
    assert any(each.label == "Name of the mould" for each in page.text_input)
    next(each for each in page.button if each.label == "add another").click().run()
    assert any(each.label == "Name on the bag" for each in page.text_input)


def test_what_is_planned_waits_with_its_button(open_page: Callable[..., Any], settled: Library) -> None:
    page = open_page("start", library="own")
    assert page.title[0].value == "One thing today"
    assert "is planned" in shown(page)
    assert [each.label for each in page.button if each.proto.type == "primary"] == ["Weigh it"]
    assert 'aria-label="Rust' in shown(page)


def test_a_bowl_left_half_done_comes_first(open_page: Callable[..., Any], settled: Library) -> None:
    (batch,) = settled.list(BatchRecord)
    weighing = zeroed(settled, begin_bowl(settled, batch))
    put_sure(settled, weighing, weighing.step.grams)
    page = open_page("start", library="own")
    assert [each.label for each in page.button if each.proto.type == "primary"] == ["Continue weighing"]
    assert "left at step" in shown(page)


def test_what_was_begun_comes_before_the_steps_of_the_first_day(
    open_page: Callable[..., Any], own_library: Library, rust: BatchRecord
) -> None:
    weighing = zeroed(own_library, begin_bowl(own_library, rust))
    put_sure(own_library, weighing, weighing.step.grams)
    buttons = labels(open_page("start", library="own"))
    assert buttons.index("Continue weighing") < buttons.index("add another")


def test_every_kind_of_need_has_its_button(settled: Library) -> None:
    for need in today(settled):
        assert words_on_button(need)


def test_photographed_tiles_half_done_lead_back_to_them(open_page: Callable[..., Any], settled: Library) -> None:
    save_draft(settled, "sheet", content={"columns": 2})
    (need,) = [each for each in today(settled) if each.kind == "draft"]
    assert need.words == "The photographed tiles: go on"
    page = open_page("start", library="own")
    page.button(key=f"need-draft-{need.uid}-go").click().run()
    assert page.title[0].value == "Tiles"


def test_a_match_is_offered_until_a_batch_of_it_was_planned(settled: Library) -> None:
    matching = save_draft(settled, "match", content={"photograph": "a"})
    assert [each.words for each in today(settled) if each.kind == "draft"] == ["A shade to match: go on"]
    known, mould = studio_palette(settled), settled.list(Mould)[0]
    casting = Casting("Sand", (Tone("Sand", Mix.of("white", {"brick-red": 0.01})),), wanted=Shade((70, 10, 12)))
    keep_plan(settled, known, plan(settled, known, casting, mould_uid=mould.uid))
    assert not [each for each in today(settled) if each.kind == "draft"]
    save_draft(settled, "match", content={"photograph": "b"}, seen=matching)  # she goes on with another
    assert [each for each in today(settled) if each.kind == "draft"]


def test_a_design_that_was_only_looked_at_is_no_work(open_page: Callable[..., Any]) -> None:
    before = open_page("start").title[0].value
    open_page("two_tones", address={"design": "tide-line-tray"})
    assert open_page("start").title[0].value == before


def test_casting_again_turns_to_the_bench(open_page: Callable[..., Any], settled: Library) -> None:
    page = open_page("start", library="own")
    page.button(key="start.again").click().run()
    assert page.title[0].value == "Cast again"


def test_found_by_the_code_on_its_sheet_and_by_name(open_page: Callable[..., Any], settled: Library) -> None:
    (batch,) = settled.list(BatchRecord)
    page = open_page("start", library="own")
    field = next(each for each in page.text_input if each.label.startswith("Find by name"))
    field.set_value(batch.code.lower()).run()
    assert not page.exception
    assert not page.error
    field.set_value("nowhere").run()
    assert "Nothing is called" in shown(page)
