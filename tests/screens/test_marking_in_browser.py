"""Marking on a photograph with a mouse, a finger and the keyboard, in a real browser."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from colormatch.library import draft, drop_draft, open_library
from tests.screens.browser import Tab

pytestmark = pytest.mark.browser


@pytest.fixture
def marking(places: Path, open_tab: Callable[..., Tab], photographed: tuple[bytes, Any]) -> Callable[..., Tab]:
    """Match in her own library, with the simulated photograph on it, not marked yet."""

    def opened(width: int = 1280, touch: bool = False) -> Tab:
        with open_library(places / "own") as library:
            before = draft(library, "match")
            if before is not None:
                drop_draft(library, before)
        page = open_tab(width=width, touch=touch)
        page.turn_to("match", library="own")
        file = {"name": "tiles.jpg", "mimeType": "image/jpeg", "buffer": photographed[0]}
        with page.run():
            page.tab.locator('input[type="file"]').first.set_input_files(file)
        page.tab.locator(".stage img").wait_for()
        page.settle()
        return page

    return opened


def at(page: Tab, x: float, y: float) -> dict[str, float]:
    """Where a fraction of the picture is on the stage."""
    box = page.tab.locator(".stage").bounding_box()
    return {"x": x * box["width"], "y": y * box["height"]}


def tap(page: Tab, x: float, y: float) -> None:
    """Tap once the stage has come to rest (a page that is still being laid out moves under the finger)."""
    page.tab.locator(".stage").tap(position=at(page, x, y))


def numbers(page: Tab) -> list[float]:
    """The marks as the page knows them, read from the number fields, as fractions."""
    page.settle()
    show_numbers(page)
    fields = page.tab.get_by_test_id("stForm").filter(has=use_button(page)).get_by_role("textbox")
    return [float(value) / 100 for value in fields.evaluate_all("all => all.map(each => each.value)") if value]


def use_button(page: Tab) -> Any:
    return page.tab.get_by_role("button", name="Use these numbers")


def show_numbers(page: Tab) -> None:
    """Open the fold, and in it the numbers."""
    fold = page.tab.get_by_test_id("stExpander").filter(has_text="In the frame")
    for _ in range(20):  # a page that grows under the pointer may take a click elsewhere
        if use_button(page).is_visible():
            return
        closed = not fold.get_by_text("Marks as numbers").is_visible()
        (fold.locator("summary") if closed else fold.get_by_text("Marks as numbers")).click()
        page.tab.wait_for_timeout(500)
        page.settle()
    use_button(page).wait_for()


def drag(page: Tab, start: tuple[float, float], end: tuple[float, float]) -> None:
    stage = page.tab.locator(".stage")
    stage.hover(position=at(page, *start))
    with page.run():
        page.tab.mouse.down()
        box = stage.bounding_box()
        page.tab.mouse.move(box["x"] + end[0] * box["width"], box["y"] + end[1] * box["height"], steps=5)
        page.tab.mouse.up()


def until(page: Tab, wanted: list[float], tolerance: float = 0.004) -> None:
    """Wait until the page knows these marks."""
    for _ in range(300):
        seen = numbers(page)
        if seen == pytest.approx(wanted, abs=tolerance):
            return
        page.tab.wait_for_timeout(100)
    assert seen == pytest.approx(wanted, abs=tolerance)


def test_a_region_is_dragged_moved_resized_and_cleared(marking: Callable[..., Tab]) -> None:
    page = marking()
    drag(page, (0.6, 0.13), (0.68, 0.22))
    until(page, [0.6, 0.13, 0.68, 0.22])
    drag(page, (0.65, 0.17), (0.75, 0.27))  # inside it: moves
    until(page, [0.7, 0.23, 0.78, 0.32])
    drag(page, (0.78, 0.32), (0.85, 0.4))  # its corner: resizes
    until(page, [0.7, 0.23, 0.85, 0.4])
    page.tab.get_by_role("button", name="Clear this mark").click()
    until(page, [])
    assert not page.faults


def test_a_tap_places_a_region(marking: Callable[..., Tab]) -> None:
    page = marking(width=390, touch=True)
    with page.run():
        tap(page, 0.5, 0.5)
    marks = numbers(page)
    x0, y0, x1, y1 = marks
    assert (x0 + x1) / 2 == pytest.approx(0.5, abs=0.01)
    assert (y0 + y1) / 2 == pytest.approx(0.5, abs=0.01)
    assert x1 - x0 > 0.05


def test_four_chart_corners_by_tap_then_one_dragged(
    marking: Callable[..., Tab], photographed: tuple[bytes, Any]
) -> None:
    page = marking(width=390, touch=True)
    page.tab.get_by_test_id("stExpander").filter(has_text="In the frame").locator("summary").click()
    page.tab.wait_for_timeout(500)  # a fold that is still opening moves what is in it from under the mouse
    page.pick("Mark the chart's corners by hand")
    page.tab.get_by_role("button", name="Chart corners").click()
    truth = (photographed[1].chart_corners / photographed[1].size).tolist()
    for x, y in truth:
        tap(page, x, y)
    until(page, [value for corner in truth for value in corner])
    drag(page, tuple(truth[2]), (0.5, 0.6))
    until(page, [*truth[0], *truth[1], 0.5, 0.6, *truth[3]])


QUICK_TAPS = """async points => {
  const stage = [...document.querySelectorAll("*")].map(e => e.shadowRoot?.querySelector(".stage")).find(Boolean)
    ?? document.querySelector(".stage")
  stage.setPointerCapture = () => {}  // no finger is down that could be captured
  const box = stage.getBoundingClientRect()
  for (const [x, y] of points) {
    const at = { clientX: box.left + x * box.width, clientY: box.top + y * box.height, bubbles: true, button: 0 }
    for (const kind of ["pointerdown", "pointerup"]) stage.dispatchEvent(new PointerEvent(kind, at))
    await new Promise(done => setTimeout(done, 5))
  }
}"""


def test_taps_quicker_than_the_page_are_all_kept(marking: Callable[..., Tab]) -> None:
    """While what the first has changed is being kept, the next arrives."""
    page = marking(width=390, touch=True)
    page.tab.get_by_test_id("stExpander").filter(has_text="In the frame").locator("summary").click()
    page.tab.wait_for_timeout(500)
    page.pick("Mark the chart's corners by hand")
    corners = [(0.1, 0.1), (0.5, 0.1), (0.5, 0.5), (0.1, 0.5)]
    for _ in range(3):
        page.tab.get_by_role("button", name="Chart corners").click()
        page.tab.evaluate(QUICK_TAPS, corners)
        until(page, [value for corner in corners for value in corner])
        assert page.tab.get_by_text("changed on another device").count() == 0
        page.tab.get_by_role("button", name="Clear this mark").click()
        until(page, [])


def test_the_keyboard_alone_marks(marking: Callable[..., Tab]) -> None:
    page = marking()
    page.tab.get_by_role("button", name="Put it in the middle").focus()
    page.tab.keyboard.press("Enter")
    until(page, [0.4, 0.4, 0.6, 0.6])
    page.tab.get_by_role("button", name="Shade, top left: arrow keys move it").focus()
    for key in ("ArrowRight", "Shift+ArrowRight", "ArrowUp"):
        page.tab.keyboard.press(key)
    until(page, [0.4225, 0.3975, 0.6, 0.6], tolerance=0.0006)


def test_numbers_mark_for_those_who_cannot_drag(marking: Callable[..., Tab]) -> None:
    page = marking()
    show_numbers(page)
    for name, value in zip(("left", "top", "right", "bottom"), ("61", "13", "68", "22"), strict=True):
        field = page.tab.get_by_test_id("stForm").get_by_role("textbox", name=name)
        field.fill(value)
        field.press("Tab")
    page.press("Use these numbers")
    until(page, [0.61, 0.13, 0.68, 0.22])
    handle = page.tab.locator('.handles [data-handle="00"]')
    assert handle.evaluate("node => [node.style.left, node.style.top]") == ["61%", "13%"]
