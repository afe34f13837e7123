"""Batch: the weigh sheet adds up, the bowl is weighed step by step, and what was weighed is kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.bench.batch import Tone
from colormatch.library import BatchRecord, Cement, PigmentLot, RecipeRecord, Weighing
from colormatch.loads import Mix
from colormatch.screens.batch import BOWL, BY_MOULD
from colormatch.screens.state import Casting

RUST = Tone("Rust", Mix.of("white-cement", {"red-iron-oxide": 0.018, "yellow-iron-oxide": 0.008}))
KEPT = "kept|own|batch."


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


@pytest.fixture
def planned(open_page: Callable[..., Any], own_library: Any) -> Any:
    page = open_page("batch", library="own", casting=Casting("Rust", (RUST,), cement_g=260.0))
    return press(page, "Work out the weigh sheet")


def bench(page: Any) -> Any:
    (found,) = page.session_state["in hand|own"].benches.values()
    return found


def test_260_g_of_cement_cap_13_water_65(planned: Any) -> None:
    """Common practice, no source: 5 % of 260 g is 13 g, water at 4 : 1 is 65 g."""
    bowl = bench(planned).batch.bowls[0]
    assert bowl.cement_g == 260
    assert bowl.cap_g == pytest.approx(13.0)
    assert bowl.water_most_g == pytest.approx(65.0, abs=1)


def test_by_the_mould_the_bowls_fill_the_pieces(planned: Any) -> None:
    planned.radio(key=f"{KEPT}way").set_value(BY_MOULD).run()
    planned.number_input(key=f"{KEPT}fill").set_value(410.0)
    planned.number_input(key=f"{KEPT}pieces").set_value(3)
    planned.number_input(key=f"{KEPT}waste").set_value(10.0)
    press(planned, "Work out the weigh sheet")
    assert bench(planned).batch.total_g == pytest.approx(3 * 410 * 1.1, abs=1.0)


def test_the_sheet_is_offered_as_html_and_pdf(planned: Any) -> None:
    labels = [each.label for each in planned.get("download_button")]
    assert labels == ["Sheet to print (HTML)", "Sheet to print (PDF)"]


def test_weighed_step_by_step_and_kept(planned: Any, own_library: Any) -> None:
    planned.radio(key=f"{KEPT}part").set_value(BOWL).run()
    for _ in range(8):
        if not any(each.key == "bowl.next" for each in planned.button):
            break
        planned.button(key="bowl.next").click().run()
    planned.button(key="bowl.keep").click().run()
    assert not planned.error
    (batch,) = own_library.list(BatchRecord)
    weighed = {each.material: each.weighed_g for each in own_library.list(Weighing, batch_uid=batch.uid)}
    assert weighed["white-cement"] == 260
    assert weighed["red-iron-oxide"] == pytest.approx(4.7)
    (recipe,) = own_library.list(RecipeRecord)
    assert batch.recipe_uid == recipe.uid


def test_a_recipe_binned_since_does_not_lose_the_batch(open_page: Callable[..., Any], own_library: Any) -> None:
    shelve_in(own_library)
    own_library.save(Cement(uid=RUST.mix.base, name="White cement", tone=RUST.mix.base))
    recipe = RecipeRecord(uid="rust", name="Rust", cement_uid=RUST.mix.base, loads=dict(RUST.mix.loads))
    own_library.delete(own_library.save(recipe))
    casting = Casting("Rust", (RUST,), cement_g=260.0, recipe_uid="rust")
    page = press(open_page("batch", library="own", casting=casting), "Work out the weigh sheet")
    page.radio(key=f"{KEPT}part").set_value(BOWL).run()
    while any(each.key == "bowl.next" for each in page.button):
        page.button(key="bowl.next").click().run()
    page.button(key="bowl.keep").click().run()
    assert not page.error
    (batch,) = own_library.list(BatchRecord)
    assert own_library.get(RecipeRecord, batch.recipe_uid).loads == RUST.mix.loads


def test_a_slip_is_answered_and_mended(planned: Any) -> None:
    planned.radio(key=f"{KEPT}part").set_value(BOWL).run()
    planned.button(key="bowl.next").click().run()
    next(each for each in planned.number_input if each.label == "The scale shows, g").set_value(6.0).run()
    planned.button(key="bowl.next").click().run()
    work = bench(planned).works[0]
    assert work.slip is not None
    assert work.slip.words in "".join(each.value for each in planned.html)
    planned.button(key="bowl.mend").click().run()
    assert bench(planned).works[0].slip is None
    assert bench(planned).works[0].weighed["red-iron-oxide"] == 6.0


def test_a_mistyped_weight_is_typed_again(planned: Any) -> None:
    planned.radio(key=f"{KEPT}part").set_value(BOWL).run()
    planned.button(key="bowl.next").click().run()
    before = bench(planned).works[0]
    next(each for each in planned.number_input if each.label == "The scale shows, g").set_value(47.0).run()
    planned.button(key="bowl.next").click().run()
    assert bench(planned).works[0].slip is not None
    planned.button(key="bowl.back").click().run()
    work = bench(planned).works[0]
    assert work.slip is None
    assert (dict(work.weighed), work.ahead) == (dict(before.weighed), before.ahead)


def test_stock_is_drawn_down_by_what_was_weighed(planned: Any, own_library: Any) -> None:
    shelve_in(own_library)
    for name in RUST.mix.loads:
        own_library.save(PigmentLot(uid=f"lot-{name}", pigment_uid=name, stock_g=500.0))
    planned.radio(key=f"{KEPT}part").set_value(BOWL).run()
    while any(each.key == "bowl.next" for each in planned.button):
        planned.button(key="bowl.next").click().run()
    planned.button(key="bowl.keep").click().run()
    assert own_library.get(PigmentLot, "lot-red-iron-oxide").stock_g == pytest.approx(500 - 4.7)


def shelve_in(library: Any) -> None:
    from colormatch.library import PigmentRecord

    for name in RUST.mix.loads:
        library.save(PigmentRecord(uid=name, name=name, like=name))


def test_a_recipe_over_its_maximum_is_a_sentence(open_page: Callable[..., Any], own_library: Any) -> None:
    heavy = Tone("Soot", Mix.of("white-cement", {"carbon-black": 0.05}))
    page = open_page("batch", library="own", casting=Casting("Soot", (heavy,), cement_g=260.0))
    press(page, "Work out the weigh sheet")
    assert "at most" in page.error[0].value
    assert "Soot" in page.error[0].value


def test_cautions_stand_where_the_step_happens(planned: Any) -> None:
    assert "silica" in "".join(each.value for each in planned.html)
    planned.radio(key=f"{KEPT}part").set_value(BOWL).run()
    assert "silica" in "".join(each.value for each in planned.html)
