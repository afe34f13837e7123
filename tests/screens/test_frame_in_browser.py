"""The frame in a real browser: the first start, whose library is open, the places, and what every screen must hold."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.screens.browser import Server, Tab

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("address", ["", "studio", "swatches", "help"])
def test_the_first_request_after_a_start_may_be_any_address(
    open_tab: Callable[..., Tab], own_server: Server, address: str
) -> None:
    page = open_tab(width=390, touch=True, address=own_server.address)
    page.go_to(address)
    page.tab.get_by_role("heading", name="Which studio shall be open?").wait_for()
    assert page.tab.get_by_test_id("stSidebarNav").count() == 0
    assert page.tab.get_by_text("Tidewrack").count() == 0  # nothing of the demo without being asked for
    page.press("Look round the demo")
    heading = {"": "today", "studio": "Studio", "swatches": "Swatches", "help": "Help"}[address]
    page.tab.get_by_role("heading", level=1, name=heading).wait_for()
    page.tab.get_by_text("invented").first.wait_for()
    assert page.faults == []
    assert page.outside == []


def test_the_library_used_last_opens_after_the_server_was_killed(
    open_tab: Callable[..., Tab], own_server: Server
) -> None:
    page = open_tab(width=390, touch=True, address=own_server.address)
    page.go_to("")
    page.tap("Set up my own")
    page.tap_and_type("Name on the bag", "White cement")
    page.tap("Keep the bag")
    page.tab.get_by_label("Name on the lid").wait_for()
    own_server.kill()
    own_server.start()
    again = open_tab(width=390, touch=True, address=own_server.address)
    again.go_to("")
    again.tab.get_by_label("Name on the lid").wait_for()  # her library, and the list ticked off as far as it was
    again.tap("look round the demo")
    again.tab.get_by_text("invented").first.wait_for()
    assert "library=demo" in again.tab.url
    again.tap("open my studio")
    again.tab.get_by_label("Name on the lid").wait_for()


def test_each_tab_keeps_its_own_library_at_a_reload(open_tab: Callable[..., Tab]) -> None:
    demo, own = open_tab(), open_tab()
    demo.turn_to("studio", "demo")
    own.turn_to("studio", "own")
    for page, invented in ((demo, True), (own, False)):
        page.follow("Help")
        page.begun = page.ended = 0
        with page.run():
            page.tab.reload()
        page.tab.get_by_role("heading", level=1, name="Help").wait_for()
        assert (page.tab.get_by_text("invented", exact=False).count() > 0) == invented


def test_the_browsers_own_way_back_and_forward(open_tab: Callable[..., Tab]) -> None:
    page = open_tab()
    page.turn_to("studio")
    page.follow("Help")
    page.follow("Today")
    page.go_back()
    page.tab.get_by_role("heading", level=1, name="Help").wait_for()
    page.go_back()
    page.tab.get_by_role("heading", level=1, name="Studio").wait_for()
    with page.run():
        page.tab.go_forward()
    page.tab.get_by_role("heading", level=1, name="Help").wait_for()
    assert page.faults == []


def test_the_bar_is_at_the_thumb_on_a_phone_and_at_the_top_of_a_desk(open_tab: Callable[..., Tab]) -> None:
    phone, desk = open_tab(width=360, height=740, touch=True), open_tab()
    phone.turn_to("help")
    desk.turn_to("help")
    bar = phone.tab.get_by_role("navigation", name="Places")
    assert bar.bounding_box()["y"] + bar.bounding_box()["height"] == pytest.approx(740, abs=1)
    assert desk.tab.get_by_role("navigation", name="Places").bounding_box()["y"] < 120
    assert [each.inner_text() for each in bar.get_by_role("link").all()] == [
        "Today", "Match", "Swatches", "Bench", "More",
    ]  # fmt: skip
    for link in bar.get_by_role("link").all():
        assert link.bounding_box()["height"] >= 44
    for page, current in ((phone, "More"), (desk, "Help")):  # on a phone Help is behind More
        marked = page.tab.get_by_role("navigation").locator('[aria-current="page"]')
        assert [each.inner_text() for each in marked.all() if each.is_visible()] == [current]


def test_what_to_do_with_a_recipe_is_on_the_first_screen_of_a_phone(open_tab: Callable[..., Tab]) -> None:
    page = open_tab(width=360, height=800, touch=True)
    page.turn_to("match")
    weigh, bar = page.tab.get_by_role("button", name="Weigh it"), page.tab.get_by_role("navigation", name="Places")
    verdict = page.tab.get_by_test_id("stMain").locator(".answer b").first
    weigh.wait_for()
    top = weigh.bounding_box()["y"]
    assert top + weigh.bounding_box()["height"] <= bar.bounding_box()["y"]
    assert verdict.bounding_box()["y"] + verdict.bounding_box()["height"] <= top  # and the answer above it
    assert page.faults == []


def test_a_number_asks_for_the_numeric_keypad(open_tab: Callable[..., Tab]) -> None:
    page = open_tab(width=390, touch=True)
    page.go_to("studio?part=numbers&library=demo")
    field = page.tab.get_by_label("Step of the pigment scale, g")
    field.wait_for()
    page.settle()
    assert field.get_attribute("inputmode") == "decimal"
    assert page.tab.get_by_label("Name of the studio").get_attribute("inputmode") is None


def test_the_first_steps_by_keyboard_alone(open_tab: Callable[..., Tab], own_server: Server) -> None:
    page = open_tab(address=own_server.address)
    page.go_to("")
    press_until(page, "Set up my own")
    page.tab.get_by_label("Name on the bag").wait_for()
    press_until(page, "Name on the bag", "White cement")
    press_until(page, "Keep the bag")
    page.tab.get_by_label("Name on the lid").wait_for()


def press_until(page: Tab, name: str, text: str = "") -> None:
    """Tab on to something by its name; fill it, or press Enter on it."""
    found = """name => {
        const here = document.activeElement
        return (here.getAttribute("aria-label") || here.innerText || here.labels?.[0]?.innerText || "") === name
    }"""
    for _ in range(40):
        page.tab.keyboard.press("Tab")
        if page.tab.evaluate(found, name):
            break
    else:
        raise AssertionError(f"{name} is not reached by the Tab key")
    if text:
        page.tab.keyboard.type(text)
        return
    with page.run():
        page.tab.keyboard.press("Enter")
