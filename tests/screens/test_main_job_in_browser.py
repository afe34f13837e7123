"""The main job in a real browser: photograph to recipe to swatch to bowl, on a desk and on a phone."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.screens.browser import Tab

pytestmark = pytest.mark.browser


def to_recipes(page: Tab) -> None:
    """The demo photograph that is offered first, measured by itself, and the recipes for its shade."""
    page.turn_to("match")
    page.tab.locator(".stage img").wait_for()
    page.tab.get_by_role("heading", name="Best recipe from your jars").wait_for()
    page.settle()


def test_photograph_to_recipe_to_swatch(open_tab: Callable[..., Tab]) -> None:
    page = open_tab()
    to_recipes(page)
    page.tab.get_by_role("button", name="Keep", exact=True).click()
    page.type_in("Name", "Saucer <i>match</i>")
    page.press("Keep as a swatch")
    page.tab.get_by_text("Kept: Saucer <i>match</i>").wait_for()
    page.follow("Swatches")
    page.tab.get_by_role("list", name="Swatches").get_by_role("button", name="Saucer <i>match</i>").wait_for()
    assert page.faults == []
    assert page.outside == []


def test_what_was_typed_is_there_after_other_pages(open_tab: Callable[..., Tab]) -> None:
    page = open_tab()
    to_recipes(page)
    page.tab.get_by_role("button", name="Keep", exact=True).click()
    page.type_in("Notes", "for the window sill")
    page.follow("Tiles")
    page.go_back()
    page.tab.get_by_role("button", name="Keep", exact=True).click()
    assert page.tab.get_by_label("Notes").input_value() == "for the window sill"
