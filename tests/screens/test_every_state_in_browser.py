"""Every place and state of the page, in the demo studio and in an empty library: what every screen must hold.

Nothing scrolls sideways at 360, 390 and 1280 px, axe finds nothing, nothing is too small for a thumb, no fault is on
the console, nobody outside is asked; a picture of each is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.screens.browser import Hand, Tab

pytestmark = pytest.mark.browser

EMPTY = (
    "start", "start?step=mould", "match", "swatches", "two_tones", "bench", "bench?cast=all", "bowl_at_hand",
    "over_time", "tiles", "studio", "studio?part=moulds", "studio?part=numbers", "studio?part=library", "help", "more",
)  # fmt: skip
FILLED = (
    "start", "match", "swatches", "swatches?swatch=swatch-rust", "two_tones", "two_tones?design=tide-line-tray",
    "bench", "bench?batch=peat-planters", "bench?batch=rust-trays", "bench?piece=moss-planters-1",
    "bench?piece=moss-planters-1&view=Drying", "bench?piece=moss-planters-1&view=Dry",
    "bench?piece=moss-planters-1&view=Compared", "bench?cast=all", "bench?cast=swatch-rust",
    "bowl_at_hand?batch=oat-planters", "over_time", "tiles", "tiles?view=Measure", "tiles?view=How sure",
    "tiles?view=All", "studio", "studio?item=red-iron-oxide", "studio?item=white-cement", "studio?item=new jar",
    "studio?part=moulds", "studio?part=moulds&item=bud-planter", "studio?part=moulds&item=new", "studio?part=numbers",
    "studio?part=library", "help", "more",
)  # fmt: skip


@pytest.fixture(scope="module")
def tab(chromium: Any, served: str, pictures: Any) -> Iterator[Tab]:
    """One phone for all of them."""
    context = chromium.new_context(viewport={"width": 390, "height": 800}, has_touch=True)
    yield Tab(context.new_page(), served, pictures=pictures)
    context.close()


def at(page: Tab, address: str, library: str) -> None:
    """A place, its picture and what it must hold."""
    path = address.removeprefix("start")
    page.outside.clear()
    page.faults.clear()
    page.go_to(f"{path}{'&' if '?' in path else '?'}library={library}")
    page.tab.get_by_role("heading", level=1).first.wait_for()
    page.settle()


def holds(page: Tab, name: str) -> None:
    """What every screen must hold."""
    page.look("".join(letter if letter.isalnum() else "-" for letter in name))
    assert page.tab.get_by_role("heading", level=1).count() == 1
    small = page.tab.get_by_role("button").evaluate_all(  # with words on them: not a question mark, a mark on a picture
        """all => all.filter(each => each.innerText.trim() && each.offsetHeight && each.offsetHeight < 44)
        .filter(each => !each.closest('[data-testid=stSelectbox], [data-testid=stMultiSelect]'))
        .map(each => `${each.innerText} ${each.offsetHeight}`)"""
    )
    assert small == []
    assert page.faults == []
    assert page.outside == []


@pytest.mark.parametrize("address", FILLED)
def test_in_the_demo_studio(tab: Tab, address: str) -> None:
    at(tab, address, "demo")
    holds(tab, f"demo-{address}")


@pytest.mark.parametrize("address", EMPTY)
def test_in_an_empty_library(tab: Tab, address: str) -> None:
    at(tab, address, "own")
    holds(tab, f"empty-{address}")


def refuse(page: Tab) -> None:
    page.tap_and_type("Most pigment, % of the cement", "much")
    page.tap("Keep")
    page.tab.get_by_text("is no number").wait_for()


def ask(page: Tab) -> None:
    page.tap_and_type("Water that fills it, ml", "1,250")
    page.tap("Keep")
    page.tab.get_by_text("1.25 ml or 1250 ml").wait_for()


def opened(name: str) -> Callable[[Tab], None]:
    """A dialog that stands over the page."""

    def open_it(page: Tab) -> None:
        page.tab.get_by_role("button", name=name, exact=True).first.click()
        page.tab.get_by_test_id("stPopoverBody").first.wait_for()
        page.settle()

    return open_it


def unfold(page: Tab) -> None:
    """Every fold of the page."""
    closed = page.tab.locator("details:not([open]) > summary").locator("visible=true")
    while closed.count():
        closed.first.click()
        page.settle()


STATES = {
    "refused": ("studio?part=numbers", refuse),
    "asked": ("studio?part=moulds&item=bud-planter", ask),
    "remove-a-mould": ("studio?part=moulds&item=bud-planter", opened("Remove it")),
    "throw-a-plan-away": ("bench?batch=peat-planters", opened("Throw this plan away")),
    "drying-unfolded": ("bench?piece=moss-planters-1", unfold),
    "batch-unfolded": ("bench?batch=peat-planters", unfold),
    "keep-a-match": ("match", opened("Keep")),
    "match-unfolded": ("match", unfold),
    "swatch-unfolded": ("swatches?swatch=swatch-rust", unfold),
    "share-a-swatch": ("swatches?swatch=swatch-rust", opened("Share")),
    "tiles-unfolded": ("tiles", unfold),
    "jar-unfolded": ("studio?item=red-iron-oxide", unfold),
}


@pytest.mark.parametrize("name", STATES)
def test_with_something_open_asked_or_refused(tab: Tab, name: str) -> None:
    address, act = STATES[name]
    at(tab, address, "demo")
    act(tab)
    holds(tab, f"state-{name}")


@pytest.mark.parametrize("width", [390, 1280])
def test_back_and_forward_lead_from_one_thing_to_the_next(open_tab: Callable[..., Tab], width: int) -> None:
    hand: Hand = "touch" if width == 390 else "mouse"
    page = open_tab(width=width, touch=width == 390, hand=hand)
    for place, cards, name in (
        ("swatches", "Swatches", "swatch"),
        ("bench", "Planned", "batch"),
        ("bench", "Sealed", "piece"),
        ("two_tones", "Kept designs", "design"),
    ):
        page.turn_to(place)
        heading = page.tab.get_by_role("heading", level=1)
        before = heading.inner_text()
        page.tap_card(cards)
        page.tab.wait_for_url(lambda url, name=name: f"{name}=" in url)
        page.tab.wait_for_function("before => document.querySelector('h1')?.innerText !== before", arg=before)
        there, address = heading.inner_text(), page.tab.url
        page.go_back()
        page.tab.get_by_role("heading", level=1, name=before, exact=True).wait_for()
        with page.run():
            page.tab.go_forward()
        page.tab.get_by_role("heading", level=1, name=there, exact=True).wait_for()
        assert page.tab.url == address
    assert page.faults == []


def test_the_start_by_its_name(open_tab: Callable[..., Tab]) -> None:
    page = open_tab()
    page.go_to("start?library=demo")
    page.tab.get_by_role("heading", level=1, name="today").wait_for()
    assert page.tab.get_by_text("Page not found").count() == 0
    assert page.faults == []


def test_an_address_of_no_page_says_so_in_our_own_words(open_tab: Callable[..., Tab]) -> None:
    page = open_tab(width=390)
    page.go_to("of/an/older/swatch?library=demo")  # in folders, too, where the script of the page finds no files
    page.tab.get_by_role("heading", name="There is no page at this address").wait_for()
    assert page.tab.get_by_role("dialog").count() == 0
    page.look("no-such-page", pictured=[390])
    with page.run():
        page.tab.get_by_role("link", name="To Today").click()
    page.tab.get_by_role("heading", name="today").wait_for()
    assert page.faults == []


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("start", "today"), ("match", "Best recipe from your jars"), ("swatches?swatch=swatch-rust", "From the mould"),
        ("bench?batch=peat-planters", "Weigh sheet"), ("tiles", "The advice takes the shades"),
        ("help", "Safety data sheets, local codes"),
    ],
)  # fmt: skip
def test_printed_it_is_the_content_alone(open_tab: Callable[..., Tab], pictures: Any, address: str, says: str) -> None:
    page = open_tab(width=794, height=1123)
    at(page, address, "demo")
    page.tab.emulate_media(media="print")
    assert not page.tab.get_by_role("navigation", name="Places").is_visible()
    assert not page.tab.get_by_text("open my studio").is_visible()
    assert page.tab.get_by_text(says).locator("visible=true").count()
    if address.startswith("bench"):  # the cautions stand in a fold, which paper cannot open
        assert page.tab.get_by_text("hydrogen sulphide").locator("visible=true").count()
    page.tab.screenshot(path=pictures / f"printed-{address.partition('?')[0]}.png", full_page=True)
    pdf: Any = page.tab.pdf(format="A4")
    if address == "help":
        assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") >= 2  # all of it, not the part in the window
