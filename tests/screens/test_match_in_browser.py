"""Match, swatches and two tones in a real browser, on a phone and a desk, in a library of her own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from colormatch.library import Cement, PigmentRecord, ShadeRecord, Swatch, open_library
from colormatch.shade import Shade
from tests.screens.browser import Server, Tab

pytestmark = pytest.mark.browser

JARS = ("red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "titanium-white", "brown-iron-oxide")


@pytest.fixture
def shelf(own_server: Server) -> Server:
    """A page of this test's own, with a bag and five jars on the shelf."""
    with open_library(own_server.kept / "own") as library:
        library.save(Cement(uid="white-cement", name="White", tone="white-cement"))
        for name in JARS:
            library.save(PigmentRecord(uid=name, name=name.replace("-", " ").capitalize(), like=name))
    return own_server


@pytest.fixture
def tab_at(chromium: Any) -> Any:
    """`tab_at(server, width=390, touch=True)`: a fresh tab on a server of one's own."""
    contexts = []

    def opened(server: Server, width: int = 1280, height: int = 900, touch: bool = False) -> Tab:
        context = chromium.new_context(viewport={"width": width, "height": height}, has_touch=touch, is_mobile=touch)
        contexts.append(context)
        return Tab(context.new_page(), server.address)

    yield opened
    for context in contexts:
        context.close()


def tile_3(page: Tab, facts: Any) -> dict[str, float]:
    """The middle of the third tile on the stage."""
    box = page.tab.locator(".stage").bounding_box()
    x0, y0, x1, y1 = facts.regions["tile 3"]
    width, height = facts.size
    return {"x": (x0 + x1) / 2 / width * box["width"], "y": (y0 + y1) / 2 / height * box["height"]}


def picture(photographed: tuple[bytes, Any]) -> dict[str, Any]:
    return {"name": "tiles.jpg", "mimeType": "image/jpeg", "buffer": photographed[0]}


def wait_for_recipes(page: Tab) -> None:
    page.tab.get_by_role("button", name="Weigh it", exact=True).wait_for()
    page.settle()


def test_the_keyboard_alone_does_the_main_job(
    shelf: Server, tab_at: Callable[..., Tab], photographed: tuple[bytes, Any]
) -> None:
    page = tab_at(shelf)
    page.turn_to("match", library="own")
    with page.run():
        page.tab.locator('input[type="file"]').first.set_input_files(picture(photographed))
    page.tab.locator(".stage img").wait_for()
    page.settle()

    def to(name: str) -> None:
        """Step with Tab until the focus is on something of that name."""
        where = """() => {
          let e = document.activeElement
          while (e?.shadowRoot?.activeElement) e = e.shadowRoot.activeElement
          return (e?.getAttribute('aria-label') ?? e?.innerText ?? '').trim() }"""
        for _ in range(60):
            if page.tab.evaluate(where).startswith(name):
                return
            page.tab.keyboard.press("Tab")
        raise AssertionError(f"Tab never came to {name!r}")

    to("Put it in the middle")
    with page.run():
        page.tab.keyboard.press("Enter")
    wait_for_recipes(page)
    to("Weigh it")
    page.tab.keyboard.press("Tab")  # Keep
    to(page.tab.get_by_role("list", name="Recipes").get_by_role("button").nth(0).inner_text().split("\n")[0])
    page.tab.keyboard.press("ArrowDown")
    with page.run():
        page.tab.keyboard.press("Enter")
    assert page.tab.get_by_role("list", name="Recipes").get_by_role("button", pressed=True).count() == 1
    page.tab.keyboard.press("Shift+Tab")
    to("Weigh it")
    with page.run():
        page.tab.keyboard.press("Enter")
    assert "/bench" in page.tab.url


def test_a_card_for_a_customer_is_downloaded(own_server: Server, tab_at: Callable[..., Tab], tmp_path: Path) -> None:
    with open_library(own_server.kept / "own") as library:  # hers: the files are made outside the session
        library.save(Swatch(uid="hers", name="Hers alone"))
        library.save(
            ShadeRecord.of(Shade((56, 18, 18), sd=0.5), swatch_uid="hers", state="dry", provenance={"kind": "measured"})
        )
    page = tab_at(own_server)
    page.go_to("swatches?library=own&swatch=hers")
    page.tab.get_by_role("button", name="Share").click()
    for name, begins in {"Card (PNG)": b"\x89PNG", "Sheet (PDF)": b"%PDF"}.items():
        with page.tab.expect_download() as download:
            page.tab.get_by_role("button", name=name).click()
        download.value.save_as(tmp_path / "file")
        assert (tmp_path / "file").read_bytes().startswith(begins)
    assert page.faults == []
