"""Studio: materials, moulds and the studio's numbers are kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.library import Cement, Mould, PigmentRecord, Studio, save_draft

KEPT = "kept|own|"


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


# --- studio -----------------------------------------------------------------------------------------


def test_the_starter_materials_go_on_the_shelf(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("studio", library="own")
    page.button(key="studio.starter").click().run()
    assert own_library.count(PigmentRecord) == 9
    assert own_library.count(Cement) == 2


def test_a_mould_is_kept_and_one_without_a_name_refused(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("studio", library="own")
    page.radio(key=f"{KEPT}studio.part").set_value("Moulds").run()
    press(page, "Keep")
    assert page.error
    next(each for each in page.text_input if each.label == "Name").set_value("Bowl")
    next(each for each in page.number_input if each.label.startswith("Wet mix")).set_value(655.0)
    press(page, "Keep")
    (mould,) = own_library.list(Mould)
    assert (mould.name, mould.fill_weight_g) == ("Bowl", 655.0)


def type_in(page: Any, label: str, value: Any) -> None:
    fields = [*page.text_input, *page.number_input, *page.selectbox]
    next(each for each in fields if each.label == label).set_value(value)


def test_a_new_lot_is_a_pigment_that_resembles_a_starter_pigment(
    open_page: Callable[..., Any], own_library: Any
) -> None:
    page = open_page("studio", library="own")
    type_in(page, "Name", "Red, second jar")
    type_in(page, "Taken to resemble", "red-iron-oxide")
    type_in(page, "Its own maximum, % of the cement", 4.0)
    press(page, "Keep")
    (pigment,) = own_library.list(PigmentRecord)
    assert (pigment.name, pigment.like, pigment.maximum_load) == ("Red, second jar", "red-iron-oxide", 0.04)
    assert "Kept: Red, second jar" in page.success[0].value.replace("\\", "")
    press(page, "Keep")  # the record just kept is the one in the form: no second one
    assert own_library.count(PigmentRecord) == 1
    page.selectbox(key=f"{KEPT}studio.pigment").set_value("").run()
    type_in(page, "Name", "red, SECOND jar")
    press(page, "Keep")
    assert "is there already" in page.error[0].value
    assert own_library.count(PigmentRecord) == 1


def test_what_was_entered_by_mistake_goes_to_the_bin(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("studio", library="own")
    type_in(page, "Name", "Mistake")
    press(page, "Keep")
    press(page, "Put it in the bin")
    assert not page.error
    assert own_library.count(PigmentRecord) == 0
    assert [each.record.name for each in own_library.bin()] == ["Mistake"]


def test_the_studio_numbers_are_where_the_other_pages_start(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("studio", library="own")
    page.radio(key=f"{KEPT}studio.part").set_value("The studio").run()
    next(each for each in page.number_input if each.label.startswith("Cap")).set_value(3.0)
    press(page, "Keep")
    assert own_library.get(Studio, "studio").settings["load_cap"] == pytest.approx(0.03)
    own_library.save(Cement(uid="white-cement", name="White"))
    own_library.save(PigmentRecord(uid="red-iron-oxide", name="Red"))
    shade = {"lab": [55, 10, 10], "covariance": [[1, 0, 0], [0, 1, 0], [0, 0, 1]], "origin": "typed"}
    save_draft(own_library, "match", content={"given": shade})
    match = open_page("match", library="own")
    assert match.number_input(key="work|own|match||field|cap_percent").value == pytest.approx(3.0)
