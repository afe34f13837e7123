"""Match: a photograph to a shade, by whatever of known colour is in it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from colormatch.library import CameraProfileRecord, ShadeRecord, Swatch, open_demo, save_draft
from colormatch.photo.chart import edition_lab
from colormatch.screens.measuring import CHART, GREY, SWATCH
from colormatch.shade import Shade
from colormatch.workshop.charts import chart_words, own_chart
from tests.screens.driven import shown
from tests.screens.test_match import FIELD, in_hand, press


def test_the_photograph_of_the_demo_measures_itself(open_page: Callable[..., Any]) -> None:
    """Against the truth the demo keeps: the spectrum the photograph was rendered from."""
    page = open_page("match")
    assert not page.error
    wanted = in_hand(page, "demo").wanted
    with open_demo() as demo:
        (truth,) = demo.list(ShadeRecord, photograph_uid=wanted.photograph.sha256)
    assert float(delta_e_2000(wanted.shade.lab, np.array(truth.lab))) < 2.0
    assert 0 < wanted.shade.sd < 4


def test_what_is_no_cement_is_less_certain(open_page: Callable[..., Any]) -> None:
    page = open_page("match")
    cement = in_hand(page, "demo").wanted.shade
    next(each for each in page.toggle if "not cement" in each.label).set_value(True).run()
    anything = in_hand(page, "demo").wanted.shade
    assert np.array_equal(anything.lab, cement.lab)
    assert anything.sd > cement.sd


def with_photograph(open_page: Callable[..., Any], photographed: tuple[bytes, Any]) -> Any:
    page = open_page("match", library="own")
    page.file_uploader[0].set_value(("tiles.jpg", photographed[0], "image/jpeg")).run()
    return page.run()


def marked(page: Any, marks: dict[str, tuple[float, ...]], facts: Any) -> Any:
    """Marks typed as numbers: name of the tool's row, then its box in pixels."""
    page.toggle(key="kept|own|match.numbers").set_value(True).run()
    size = np.tile(facts.size, 2)
    fields = [each for each in page.text_input if each.label in ("left", "top", "right", "bottom")]
    for row, pixels in enumerate(marks.values()):
        for place in range(4):
            fields[4 * row + place].set_value(f"{100 * pixels[place] / size[place]:.4f}")
    press(page, "Use these numbers")
    return page.run()


def test_without_a_mark_nothing_is_measured_yet(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    page = with_photograph(open_page, photographed)
    assert not page.error
    assert in_hand(page).wanted is None
    assert not any("chart found" in each.value for each in page.html)  # the picture itself says what to mark


def test_once_marked_it_measures_itself_and_a_new_session_finds_it(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    facts = photographed[1]
    page = marked(with_photograph(open_page, photographed), {"region": facts.regions["tile 3"]}, facts)
    assert not page.error
    measured = in_hand(page).wanted.shade
    assert float(delta_e_2000(measured.lab, facts.lab["tile 3"])) < 3 * max(measured.sd, 1.0)
    again = open_page("match", library="own")
    np.testing.assert_allclose(in_hand(again).wanted.shade.lab, measured.lab)


def test_the_chart_she_has_is_remembered_and_its_own_values_are_used(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    facts = photographed[1]
    page = marked(with_photograph(open_page, photographed), {"region": facts.regions["tile 3"]}, facts)
    before = in_hand(page).asked["match"][0].shade.lab
    assert "Nobody measured this chart" in shown(page)
    page.selectbox(key="match.chart").set_value("after November 2014").run()
    assert own_chart(own_library).edition == "after November 2014"
    edition = in_hand(page).asked["match"][0].shade.lab
    lines = "\n".join(f"{L},{a},{b}" for L, a, b in edition_lab("before November 2014").round(2))
    page.file_uploader(key="match.chart.file").set_value(("mine.csv", lines.encode(), "text/csv")).run()
    page.button(key="match.chart.keep").click().run()
    assert page.selectbox(key="match.chart").value == "measured, mine.csv"
    measured = in_hand(page).asked["match"][0].shade.lab
    assert len({tuple(np.round(each, 3)) for each in (before, edition, measured)}) == 3
    assert "Nobody measured this chart" not in shown(page)
    page.file_uploader(key="match.chart.file").set_value(("wrong.csv", b"1,2,3\n", "text/csv")).run()
    page.button(key="match.chart.keep").click().run()
    assert "The chart's own values" in page.error[0].value
    assert chart_words(own_library) == "measured, mine.csv"


@pytest.mark.parametrize("content", [b"", b"not a picture", b"\xff\xd8\xff\xe0 cut short"])
def test_a_file_that_is_no_picture_is_a_sentence(
    open_page: Callable[..., Any], own_library: Any, content: bytes
) -> None:
    page = open_page("match", library="own")
    page.file_uploader[0].set_value(("x.jpg", content, "image/jpeg")).run()
    assert not page.exception
    assert page.error
    assert "program" not in page.error[0].value  # a known mistake, not a fault of ours


def choose(page: Any, name: str, value: Any) -> Any:
    page.selectbox(key=f"{FIELD}{name}").set_value(value).run()
    return page


def test_a_grey_card_measures_and_an_earlier_chart_of_the_camera_helps(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    facts = photographed[1]
    boxes = {"region": facts.regions["tile 3"], "card": facts.regions["grey card"]}
    page = marked(with_photograph(open_page, photographed), {"region": boxes["region"]}, facts)
    page.button(key="match.camera").click().run()
    assert own_library.list(CameraProfileRecord)[0].name == facts.model
    marked(choose(page, "reference", GREY), boxes, facts)
    assert not page.error
    assert float(delta_e_2000(in_hand(page).wanted.shade.lab, facts.lab["tile 3"])) < 3.0


def test_a_camera_profile_that_cannot_be_read_is_left_out_and_replaced(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    facts = photographed[1]
    own_library.save(CameraProfileRecord(name=facts.model, content={"format": 1, "model": facts.model}))
    page = choose(with_photograph(open_page, photographed), "reference", GREY)
    marked(page, {"region": facts.regions["tile 3"], "card": facts.regions["grey card"]}, facts)
    assert any("keep its camera profile" in each.value for each in page.warning)
    choose(page, "reference", CHART)
    page.button(key="match.camera").click().run()
    assert not page.error
    assert own_library.list(CameraProfileRecord)[0].content["charts"] == 1


def test_a_swatch_of_ones_own_is_a_reference(
    open_page: Callable[..., Any], own_library: Any, photographed: tuple[bytes, Any]
) -> None:
    facts = photographed[1]
    swatch = own_library.save(Swatch(name="Tile eight"))
    known = Shade(facts.lab["tile 8"], sd=0.3)
    own_library.save(ShadeRecord.of(known, swatch_uid=swatch.uid, state="dry", provenance={"kind": "measured"}))
    page = choose(with_photograph(open_page, photographed), "reference", SWATCH)
    marked(page, {"region": facts.regions["tile 5"], "known": facts.regions["tile 8"]}, facts)
    measured = in_hand(page).wanted.shade
    assert float(delta_e_2000(measured.lab, facts.lab["tile 5"])) < 3 * max(measured.sd, 1.0)


def test_a_chart_that_is_not_found_is_marked_by_hand(open_page: Callable[..., Any], own_library: Any) -> None:
    """A picture without a chart says so, and offers its corners to be marked."""
    import io

    from PIL import Image

    stream = io.BytesIO()
    Image.new("RGB", (400, 300), (150, 120, 100)).save(stream, "JPEG")
    kept = own_library.store_photograph(stream.getvalue(), file_name="plain.jpg")
    marks = {"region": [0.4, 0.4, 0.6, 0.6]}
    save_draft(own_library, "match", content={"photograph": kept.uid, "marked": kept.uid, "marks": marks})
    page = open_page("match", library="own")
    assert page.error
    page.toggle(key="kept|own|match.numbers").set_value(True).run()
    assert any(each.value == "**Chart corners**" for each in page.markdown)
