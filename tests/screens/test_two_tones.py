"""Two tones: kept designs open again, a piece at hand is found again, and what goes together is of her jars."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.bench.batch import Tone
from colormatch.library import BatchRecord, Cement, DesignRecord, PigmentRecord, RecipeRecord, draft, save_draft
from colormatch.loads import Mix
from colormatch.screens.pairs import Named
from colormatch.studio import studio_palette
from colormatch.workshop.keeping import keep_design, tones_of
from tests.screens.tapped import titles

JARS = ("red-iron-oxide", "titanium-white", "black-iron-oxide")
RUST = Named("Rust", Mix.of("white-cement", {"red-iron-oxide": 0.018}))
GREY = Named("Grey cement, no pigment", Mix.of("grey-cement", {}))
FIELD = "work|own|design||field|"


@pytest.fixture
def shelf(own_library: Any) -> Any:
    """Two cements, three jars and a recipe."""
    for base in ("white-cement", "grey-cement"):
        own_library.save(Cement(uid=base, name=base, tone=base))
    for name in JARS:
        own_library.save(PigmentRecord(uid=name, name=name, like=name))
    own_library.save(RecipeRecord(uid="rust", name="Rust", cement_uid="white-cement", loads=dict(RUST.mix.loads)))
    return own_library


def at_hand(library: Any, first: Named, second: Named | None = None, **more: Any) -> None:
    tones = {"first": first.plain(), **({} if second is None else {"second": second.plain()})}
    save_draft(library, "design", content={**tones, **more}, seen=draft(library, "design"))


def test_an_empty_library_says_what_comes_first(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("two_tones", library="own")
    assert not page.exception
    assert not page.error
    assert any("Nothing is on your shelf yet" in each.value for each in page.html)


def test_it_begins_with_her_own_tones(open_page: Callable[..., Any], shelf: Any) -> None:
    page = open_page("two_tones", library="own")
    assert titles(page, "The first tone") == ["Rust", "grey-cement, no pigment", "white-cement, no pigment"]


def test_what_goes_with_it_is_of_her_jars(open_page: Callable[..., Any], shelf: Any) -> None:
    at_hand(shelf, RUST)
    page = open_page("two_tones", library="own")
    assert titles(page, "What goes with it")
    kept = page.session_state["partners|own"][2]
    assert {name for each in kept for name in each.loads} <= set(JARS)


def test_a_pigment_in_both_tones(open_page: Callable[..., Any], shelf: Any) -> None:
    at_hand(shelf, RUST)
    page = open_page("two_tones", library="own")
    page.selectbox(key=f"{FIELD}shared").set_value("red-iron-oxide").run()
    kept = page.session_state["partners|own"][2]
    assert kept
    assert all("red-iron-oxide" in each.loads for each in kept)
    page.button(key="tones.around").click().run()
    assert page.title[0].value == "Match"
    assert draft(shelf, "match").content["fixed"] == {"red-iron-oxide": pytest.approx(0.018)}


def test_the_piece_at_hand_is_there_in_the_next_session(open_page: Callable[..., Any], shelf: Any) -> None:
    at_hand(shelf, RUST, GREY)
    page = open_page("two_tones", library="own")
    page.slider(key=f"{FIELD}share").set_value(30).run()
    again = open_page("two_tones", library="own")
    assert again.slider(key=f"{FIELD}share").value == 30
    assert any("read as two when dry" in each.value for each in again.html)


def test_two_like_tones_are_warned_about(open_page: Callable[..., Any], shelf: Any) -> None:
    at_hand(shelf, RUST, RUST)
    page = open_page("two_tones", library="own")
    assert any("read as one in every state" in each.value for each in page.warning)


def test_a_design_is_kept_with_both_recipes(open_page: Callable[..., Any], shelf: Any) -> None:
    at_hand(shelf, RUST, GREY, share=30, pattern="dipped", form="bowl")
    page = open_page("two_tones", library="own")
    page.text_input(key=f"{FIELD}name").set_value("Dawn").run()
    page.button(key="tones.keep").click().run()
    assert not page.error
    (design,) = shelf.list(DesignRecord)
    assert (design.name, design.content["pattern"], design.content["form"]) == ("Dawn", "dipped", "bowl")
    one, two = tones_of(shelf, design)
    assert (one.mix, two.mix) == (RUST.mix, GREY.mix)
    assert (one.share, two.share) == pytest.approx((0.7, 0.3))
    assert draft(shelf, "design") is None
    assert titles(page, "Kept designs") == ["Dawn"]


def test_a_kept_design_opens_again_by_its_address_and_is_changed(open_page: Callable[..., Any], shelf: Any) -> None:
    tones = (Tone("Rust", RUST.mix, 0.6), Tone("Grey", GREY.mix, 0.4))
    kept = keep_design(shelf, studio_palette(shelf), "Dawn", tones, {"pattern": "split", "form": "tray"})
    page = open_page("two_tones", library="own")
    page.query_params["design"] = kept.uid
    page.run()
    assert page.title[0].value == "Dawn"
    assert any("Rust and Grey read as two" in each.value for each in page.html)
    field = f"work|own|design|{kept.uid}|field|"
    assert page.slider(key=f"{field}share").value == 40
    page.slider(key=f"{field}share").set_value(55).run()
    page.button(key="tones.keep").click().run()
    assert not page.error
    (design,) = shelf.list(DesignRecord)
    assert tones_of(shelf, design)[1].share == pytest.approx(0.55)


def test_a_kept_design_weighed_with_another_tone_is_another_design(open_page: Callable[..., Any], shelf: Any) -> None:
    known = studio_palette(shelf)
    tones = tuple(Tone(each.name, each.mix, 0.5) for each in (RUST, GREY))
    design = keep_design(shelf, known, "Banded", tones)
    page = open_page("two_tones", library="own")
    page.query_params["design"] = design.uid
    page.run()
    soot = Named("Soot", Mix.of("grey-cement", {"black-iron-oxide": 0.03}))
    there = draft(shelf, "design", design.uid)
    save_draft(shelf, "design", design.uid, content={**there.content, "second": soot.plain()}, seen=there)
    page.run().button(key="tones.batch").click().run()
    (batch,) = shelf.list(BatchRecord)
    weighed = shelf.get(DesignRecord, batch.design_uid)
    assert weighed.uid != design.uid
    assert [dict(shelf.get(RecipeRecord, uid).loads) for uid in weighed.recipes] == [RUST.mix.loads, soot.mix.loads]
    page = open_page("two_tones", library="own")
    page.query_params["design"] = design.uid
    page.run()
    again = draft(shelf, "design", design.uid)
    save_draft(shelf, "design", design.uid, content={**again.content, "second": GREY.plain()}, seen=again)
    page.run().button(key="tones.batch").click().run()
    assert design.uid in {each.design_uid for each in shelf.list(BatchRecord)}


def test_a_new_piece_that_is_weighed_is_no_work_in_hand_any_more(open_page: Callable[..., Any], shelf: Any) -> None:
    at_hand(shelf, RUST, GREY)
    open_page("two_tones", library="own").button(key="tones.batch").click().run()
    assert shelf.count(BatchRecord) == 1
    assert draft(shelf, "design") is None


def test_an_address_of_a_design_that_is_gone_says_so(open_page: Callable[..., Any], shelf: Any) -> None:
    page = open_page("two_tones", library="own")
    page.query_params["design"] = "nowhere"
    page.run()
    assert not page.exception
    assert "no design at this address" in page.info[0].value


@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_design_of_other_than_two_tones_says_so(open_page: Callable[..., Any], shelf: Any, count: int) -> None:
    """None is made here; a library from elsewhere may hold one."""
    shelf.save_all(RecipeRecord(uid=f"band-{i}", name=f"Band {i}", cement_uid="white-cement") for i in range(count))
    design = shelf.save(DesignRecord(name="Bands", recipes=tuple(f"band-{i}" for i in range(count))))
    page = open_page("two_tones", library="own", address={"design": design.uid})
    assert not page.exception
    assert not page.error
    assert any(f"is of {count} tone" in each.value for each in page.html)
    assert any(each.label == "Cast it" for each in page.button) is bool(count)
