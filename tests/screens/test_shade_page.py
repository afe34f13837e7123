"""Shade: typed or measured, refused in a sentence when it is no colour, and nothing typed is lost."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from colormatch.colorimetry import hex_to_lab
from colormatch.difference import delta_e_2000
from colormatch.library import CameraProfileRecord, ShadeRecord, Swatch
from colormatch.screens.measuring import NUMBERS
from colormatch.shade import Shade


def in_hand(page: Any, library: str = "own") -> Any:
    return page.session_state[f"in hand|{library}"]


def key(name: str, library: str = "own") -> str:
    return f"kept|{library}|{name}"


@pytest.fixture
def by_numbers(open_page: Callable[..., Any], own_library: Any) -> Any:
    page = open_page("shade", library="own")
    page.radio(key=key("shade.way")).set_value(NUMBERS).run()
    return page


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


def test_typed_lab_becomes_the_wanted_shade(by_numbers: Any) -> None:
    for name, value in {"L*": 61.5, "a*": -3.0, "b*": 12.5, "sd": 0.7}.items():
        by_numbers.number_input(key=key(f"shade.{name}")).set_value(value)
    press(by_numbers, "Take this shade")
    wanted = in_hand(by_numbers).wanted
    np.testing.assert_allclose(wanted.shade.lab, [61.5, -3.0, 12.5])
    assert wanted.shade.sd == pytest.approx(0.7)


def test_typed_screen_colour(by_numbers: Any) -> None:
    by_numbers.text_input(key=key("shade.digits")).set_value("#3366cc")
    press(by_numbers, "Take this colour")
    np.testing.assert_allclose(in_hand(by_numbers).wanted.shade.lab, hex_to_lab("#3366cc"))


@pytest.mark.parametrize("text", ["", "blue", "#12345", "#gggggg", "<script>"])
def test_a_wrong_screen_colour_is_a_sentence_and_stays_typed(by_numbers: Any, text: str) -> None:
    by_numbers.text_input(key=key("shade.digits")).set_value(text)
    press(by_numbers, "Take this colour")
    assert "is not a screen colour" in by_numbers.error[0].value
    assert by_numbers.text_input(key=key("shade.digits")).value == text
    assert in_hand(by_numbers).wanted is None


def test_a_photograph_of_the_demo_is_measured(open_page: Callable[..., Any]) -> None:
    """Against the truth the demo keeps: the spectrum the photograph was rendered from."""
    from colormatch.library import open_demo

    page = open_page("shade")
    page.button(key="shade.measure").click().run()
    assert not page.error
    wanted = in_hand(page, "demo").wanted
    with open_demo() as demo:
        (truth,) = demo.list(ShadeRecord, photograph_uid=wanted.photograph.sha256)
    assert float(delta_e_2000(wanted.shade.lab, np.array(truth.lab))) < 2.0
    assert 0 < wanted.shade.sd < 4


def test_without_a_mark_it_asks_for_one(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    page = open_page("shade", library="own")
    page.file_uploader(key="shade.file").set_value(("tiles.jpg", photographed[0], "image/jpeg")).run()
    page.button(key="shade.measure").click().run()
    assert "Not marked yet: shade" in page.error[0].value


def test_an_uploaded_photograph_marked_by_numbers(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    content, facts = photographed
    page = open_page("shade", library="own")
    page.file_uploader(key="shade.file").set_value(("tiles.jpg", content, "image/jpeg")).run()
    size = np.tile(facts.size, 2)
    for name, pixels, whole in zip(("left", "top", "right", "bottom"), facts.regions["tile 3"], size, strict=True):
        next(each for each in page.number_input if each.label == name).set_value(100 * pixels / whole)
    press(page, "Use these numbers")
    page.run()
    page.button(key="shade.measure").click().run()
    assert not page.error
    measured = in_hand(page).wanted.shade
    assert float(delta_e_2000(measured.lab, facts.lab["tile 3"])) < 3 * max(measured.sd, 1.0)


@pytest.mark.parametrize("content", [b"", b"not a picture", b"\xff\xd8\xff\xe0 cut short"])
def test_a_file_that_is_no_picture_is_a_sentence(
    open_page: Callable[..., Any], own_library: Any, content: bytes
) -> None:
    page = open_page("shade", library="own")
    page.file_uploader(key="shade.file").set_value(("x.jpg", content, "image/jpeg")).run()
    assert not page.exception
    assert page.error
    assert "program" not in page.error[0].value  # a known mistake, not a fault of ours


def marked(page: Any, marks: dict[str, tuple[float, ...]], facts: Any) -> Any:
    """Marks typed as numbers: name of the tool's row, then its box in pixels."""
    size = np.tile(facts.size, 2)
    fields = [each for each in page.number_input if each.label in ("left", "top", "right", "bottom")]
    for row, pixels in enumerate(marks.values()):
        for place in range(4):
            fields[4 * row + place].set_value(100 * pixels[place] / size[place])
    press(page, "Use these numbers")
    return page.run()


def measured_against(
    reference: str, marks: dict[str, tuple[float, ...]], open_page: Callable[..., Any], photographed: tuple[bytes, Any]
) -> Any:
    """The page after a photograph was uploaded, marked and measured against a reference, without an error."""
    content, facts = photographed
    page = open_page("shade", library="own")
    page.file_uploader(key="shade.file").set_value(("tiles.jpg", content, "image/jpeg")).run()
    page.radio(key=key("shade.reference")).set_value(reference).run()
    marked(page, marks, facts)
    page.button(key="shade.measure").click().run()
    assert not page.error
    return page


def test_a_grey_card_measures_and_an_earlier_chart_of_the_camera_helps(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    from colormatch.screens.measuring import GREY

    content, facts = photographed
    boxes = {"region": facts.regions["tile 3"], "card": facts.regions["grey card"]}
    page = open_page("shade", library="own")
    page.file_uploader(key="shade.file").set_value(("tiles.jpg", content, "image/jpeg")).run()
    marked(page, {"region": boxes["region"]}, facts)
    page.button(key="shade.measure").click().run()
    page.button(key="shade.camera").click().run()
    assert own_library.list(CameraProfileRecord)[0].name == facts.model
    page.radio(key=key("shade.reference")).set_value(GREY).run()
    marked(page, boxes, facts)
    page.button(key="shade.measure").click().run()
    assert not page.error
    off = float(delta_e_2000(in_hand(page).wanted.shade.lab, facts.lab["tile 3"]))
    assert off < 3.0


def test_a_camera_profile_that_cannot_be_read_is_left_out_and_replaced(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    from colormatch.screens.measuring import CHART, GREY

    facts = photographed[1]
    own_library.save(CameraProfileRecord(name=facts.model, content={"format": 1, "model": facts.model}))
    page = measured_against(
        GREY, {"region": facts.regions["tile 3"], "card": facts.regions["grey card"]}, open_page, photographed
    )
    assert any("keep its camera profile" in each.value for each in page.warning)
    page.radio(key=key("shade.reference")).set_value(CHART).run()
    page.button(key="shade.measure").click().run()
    page.button(key="shade.camera").click().run()
    assert not page.error
    assert own_library.list(CameraProfileRecord)[0].content["charts"] == 1


def test_a_swatch_of_ones_own_is_a_reference(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    from colormatch.screens.measuring import SWATCH

    facts = photographed[1]
    swatch = own_library.save(Swatch(name="Tile eight"))
    own_library.save(
        ShadeRecord.of(
            Shade(facts.lab["tile 8"], sd=0.3), swatch_uid=swatch.uid, state="dry", provenance={"kind": "measured"}
        )
    )
    page = measured_against(
        SWATCH, {"region": facts.regions["tile 5"], "known": facts.regions["tile 8"]}, open_page, photographed
    )
    measured = in_hand(page).wanted.shade
    assert float(delta_e_2000(measured.lab, facts.lab["tile 5"])) < 3 * max(measured.sd, 1.0)
