"""Match, swatches and two tones in a real browser, on a phone and a desk, in a library of her own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from colormatch.library import Cement, PigmentRecord, open_library
from tests.screens.browser import Server, Tab

pytestmark = pytest.mark.browser

JARS = ("red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "titanium-white", "brown-iron-oxide")
PLACES = ("match", "swatches", "two_tones")


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


BEST = "from your jars"


def wait_for_recipes(page: Tab) -> None:
    page.tab.get_by_role("button", name="Weigh it", exact=True).wait_for()
    page.settle()


def test_from_a_photograph_to_the_weigh_sheet_in_six_taps(
    shelf: Server, tab_at: Callable[..., Tab], photographed: tuple[bytes, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    page = tab_at(shelf, width=390, height=844, touch=True)
    page.turn_to("start", library="own")
    taps = 0
    with page.run():
        page.tab.locator(".st-key-places").get_by_role("link", name="Match", exact=True).tap()
    taps += 1
    with page.tab.expect_file_chooser() as chooser:
        page.tab.get_by_role("button", name="Take a photograph").tap()
    taps += 1
    with page.run():
        chooser.value.set_files(picture(photographed))
    page.tab.locator(".stage img").wait_for()
    page.settle()
    page.tab.locator(".stage").tap(position=tile_3(page, photographed[1]))
    taps += 1
    wait_for_recipes(page)
    with page.run():
        page.tab.get_by_role("button", name="Weigh it", exact=True).tap()
    taps += 1
    page.tab.get_by_text("White", exact=False).first.wait_for()
    assert "/bench" in page.tab.url
    assert taps <= 6
    assert page.faults == page.outside == []
    with capsys.disabled():
        print(f"\nfrom a photograph to the weigh sheet: {taps} taps")  # noqa: T201 - counted to be read


def test_reload_second_tab_and_a_killed_server_find_the_work(
    shelf: Server, tab_at: Callable[..., Tab], photographed: tuple[bytes, Any]
) -> None:
    page = tab_at(shelf)
    page.turn_to("match", library="own")
    with page.run():
        page.tab.locator('input[type="file"]').first.set_input_files(picture(photographed))
    page.tab.locator(".stage img").wait_for()
    page.settle()

    def again() -> Tab:
        other = tab_at(shelf)
        other.turn_to("match", library="own")
        return other

    again().tab.locator(".stage img").wait_for()  # a second tab, before anything is marked
    shelf.kill()
    shelf.start()
    page = again()
    page.tab.locator(".stage img").wait_for()
    page.tab.locator(".stage").click(position=tile_3(page, photographed[1]))
    wait_for_recipes(page)
    ways = page.tab.get_by_role("list", name="Recipes").get_by_role("button")
    second = ways.nth(1).locator("b").inner_text()
    with page.run():
        ways.nth(1).click()
    shelf.kill()
    shelf.start()
    phone = tab_at(shelf, width=390, touch=True)
    phone.turn_to("match", library="own")
    wait_for_recipes(phone)
    chosen = phone.tab.locator('button[aria-pressed="true"]').locator("b")
    assert chosen.inner_text() == second
    assert phone.tab.locator(".stage .handles button").count() == 5


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


@pytest.mark.parametrize("library", ["demo", "own"])
def test_no_sideways_scroll_no_fault_and_axe_is_content(
    own_server: Server, tab_at: Callable[..., Tab], library: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = tab_at(own_server, width=360, height=800, touch=True)
    addresses = {
        "demo": [
            "match",
            "swatches",
            "swatches?swatch=swatch-rust&x=1",
            "two_tones",
            "two_tones?design=tide-line-tray&x=1",
        ],
        "own": list(PLACES),
    }[library]
    for address in addresses:
        name, _, more = address.partition("?")
        page.begun = page.ended = 0
        with page.run():
            page.tab.goto(f"{page.address}/{name}?library={library}&{more}")
        page.tab.get_by_role("heading", level=1).first.wait_for()
        main = page.tab.get_by_test_id("stMain")
        assert main.evaluate("node => node.scrollWidth - node.clientWidth") <= 0, address
        found = Axe().run(page.tab).response["violations"]
        seen = [(each["id"], node["html"][:160]) for each in found for node in each["nodes"]]
        assert [each for each in seen if ours(*each)] == [], address
    assert page.faults == page.outside == []


# Streamlit's own markup, which no style sheet reaches: the uploader's drop zone is a section without a role that can
# take the focus from a script only; its button and its input, which a reader meets, are named.
OF_STREAMLIT = {("presentation-role-conflict", "stFileUploaderDropzone")}


def ours(rule: str, html: str) -> bool:
    return not any(rule == known and where in html for known, where in OF_STREAMLIT)


def test_back_and_forward_between_swatches(own_server: Server, tab_at: Callable[..., Tab]) -> None:
    page = tab_at(own_server)
    page.turn_to("swatches")
    with page.run():
        page.tab.get_by_role("list", name="Swatches").get_by_role("button", name="Moss planter").click()
    page.tab.get_by_role("heading", level=1, name="Moss planter").wait_for()
    page.go_back()
    page.tab.get_by_role("heading", level=1, name="Swatches").wait_for()
    with page.run():
        page.tab.go_forward()
    page.tab.get_by_role("heading", level=1, name="Moss planter").wait_for()
    assert page.faults == []


def test_a_card_for_a_customer_is_downloaded(own_server: Server, tab_at: Callable[..., Tab], tmp_path: Path) -> None:
    page = tab_at(own_server)
    page.begun = page.ended = 0
    with page.run():
        page.tab.goto(f"{page.address}/swatches?library=demo&swatch=swatch-rust")
    page.tab.get_by_role("button", name="Share").click()
    for name, begins in {"Card (PNG)": b"\x89PNG", "Sheet (PDF)": b"%PDF"}.items():
        with page.tab.expect_download() as download:
            page.tab.get_by_role("button", name=name).click()
        download.value.save_as(tmp_path / "file")
        assert (tmp_path / "file").read_bytes().startswith(begins)
    assert page.faults == []
