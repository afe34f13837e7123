"""From nothing to the first weigh sheet, on a phone, with two jars nobody knows; every tap counted."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.screens.browser import Server, Tab, violations

pytestmark = pytest.mark.browser


def since(page: Tab, before: int) -> int:
    return len(page.taps) - before


def test_from_an_empty_library_to_the_first_weigh_sheet(
    open_tab: Callable[..., Tab], own_server: Server, photographed: tuple[bytes, Any]
) -> None:
    page = open_tab(width=390, height=844, touch=True, address=own_server.address)
    page.go_to("")
    page.tap("Set up my own")
    page.tab.get_by_role("heading", name="First batch in six steps").wait_for()
    assert violations(page) == []

    begun = len(page.taps)
    page.tap_and_type("Name on the bag", "White cement")
    page.tap("quick-setting", role="radio")
    page.tap("Keep the bag")
    assert since(page, begun) <= 3, page.taps

    for name in ("Brick red", "Ochre"):
        begun = len(page.taps)
        page.tap_and_type("Name on the lid", name)
        page.tap("Keep the jar")
        assert since(page, begun) <= 5, page.taps
    page.tap("These are all my jars")

    begun = len(page.taps)
    page.tap_and_type("Name of the mould", "Bud planter")
    page.tap_and_type("One filling, g", "323,5")
    page.tap("Keep the mould")
    assert since(page, begun) <= 3, page.taps

    page.tap("0.1 g")
    page.tap("Match a shade")
    page.tab.get_by_role("heading", level=1, name="Match").wait_for()
    page.taps += ["tap the photograph's button", "tap take it"]  # the phone's own camera opens there
    file = {"name": "pot.jpg", "mimeType": "image/jpeg", "buffer": photographed[0]}
    with page.run():
        page.tab.locator('input[type="file"]').first.set_input_files(file)
    stage = page.tab.locator(".stage")
    stage.locator("img").wait_for()
    page.settle()
    page.taps.append("tap the piece on the photograph")
    box = stage.bounding_box()
    with page.run():
        stage.tap(position={"x": 0.5 * box["width"], "y": 0.5 * box["height"]})
    page.tab.get_by_role("button", name="Weigh it", exact=True).wait_for()
    page.tap("Weigh it")
    page.tab.get_by_text("323.5 ml").or_(page.tab.get_by_text("Brick red")).first.wait_for()
    assert "/bench?" in page.tab.url
    assert len(page.taps) <= 30, page.taps
    print("\n".join([f"first weigh sheet in {len(page.taps)} taps:", *page.taps]))  # noqa: T201
    assert page.faults == []
    assert page.outside == []
