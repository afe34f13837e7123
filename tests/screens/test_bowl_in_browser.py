"""The bowl in a real browser: one hand on a phone, and nothing lost when the page is reloaded, doubled or killed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from colormatch.bench.batch import Tone
from colormatch.library import BatchRecord, Piece, draft, open_library
from colormatch.loads import Mix
from colormatch.studio import studio_palette
from colormatch.workshop.materials import add_bag, add_jar, add_mould
from colormatch.workshop.plans import Casting, keep_plan, plan
from colormatch.workshop.shelf import shelf
from tests.screens.browser import Server, Tab

pytestmark = pytest.mark.browser


def trays(folder: Path, name: str = "Rust trays") -> BatchRecord:
    """A studio of two jars in a library of its own, and a planned batch of 687 g of cement, 13.7 and 7.6 g."""
    with open_library(folder) as library:
        if shelf(library).empty:
            add_bag(library, "White, quick", kind="quick-setting", like="white-cement")
            add_jar(library, "Brick red", like="red-iron-oxide")
            add_jar(library, "Ochre", like="yellow-iron-oxide")
            add_mould(library, "Tray", fill_weight_g=400)
        red, ochre = (each.uid for each in sorted(shelf(library).pigments, key=lambda each: each.name))
        mix = Mix.of(shelf(library).cements[0].uid, {red: 0.02, ochre: 0.011})
        known = studio_palette(library)
        return keep_plan(library, known, plan(library, known, Casting(name, (Tone("Rust", mix),)), pieces=2))


def entered(folder: Path, batch: BatchRecord) -> list[float]:
    """The readings kept so far."""
    with open_library(folder) as library:
        kept = draft(library, "bowl", f"{batch.uid}/1")
        return [each["grams"] for each in kept.content["entries"] if each["done"] == "weighed"] if kept else []


class Bowl(Tab):
    """A phone at the bowl; counts the taps."""

    touched = 0

    def open(self, batch: BatchRecord) -> Bowl:
        self.begun = self.ended = 0
        with self.run():
            self.tab.goto(f"{self.address}/bowl_at_hand?library=own&batch={batch.uid}&bowl=1")
        self.tab.get_by_role("progressbar").wait_for()
        return self

    def tap(self, name: str, exact: bool = True) -> None:
        self.touched += 1
        with self.run():
            self.tab.get_by_role("button", name=name, exact=exact).tap()

    def read(self, text: str) -> None:
        """Type what the scale shows and tap Next."""
        self.touched += 1
        self.tab.get_by_label("The scale shows, g").fill(text)
        self.tap("Next")

    def at(self, step: str) -> None:
        """Wait for a step's name in large letters."""
        self.tab.locator(".bowl-what", has_text=step).wait_for()
        self.settle()


@pytest.fixture
def phone(chromium: Any, own_server: Server) -> Iterator[Callable[[], Bowl]]:
    contexts = []

    def opened() -> Bowl:
        context = chromium.new_context(viewport={"width": 390, "height": 800}, has_touch=True, is_mobile=True)
        contexts.append(context)
        return Bowl(context.new_page(), own_server.address)

    yield opened
    for context in contexts:
        context.close()


def test_a_bowl_with_one_hand_on_a_phone(
    phone: Callable[[], Bowl], own_server: Server, capsys: pytest.CaptureFixture[str]
) -> None:
    own = own_server.kept / "own"
    batch = trays(own)
    page = phone().open(batch)
    page.tap("It shows 0")
    page.at("White, quick")
    field = page.tab.get_by_label("The scale shows, g")
    assert field.get_attribute("inputmode") == "decimal"
    assert page.tab.locator(".st-key-places").count() == 0  # nothing on the screen but the step
    for name in ("Next", "Exactly 687 g"):
        box = page.tab.get_by_role("button", name=name, exact=True).bounding_box()
        assert box["height"] >= 44
        assert box["y"] + box["height"] <= 800  # within reach of the thumb, without scrolling
    page.tap("Exactly 687 g")
    page.at("Brick red")
    page.read("13,9")
    page.tab.get_by_text("0.2 g of Brick red over.").wait_for()
    page.tap("Leave it")
    page.at("Ochre")
    page.tap("Exactly 7.6 g")
    page.at("Water")
    page.tap("Exactly 132 g")
    page.tap("Poured into the mould")
    page.tab.get_by_text("2 pieces are in the mould").wait_for()
    page.tab.get_by_text("Out of the mould from").wait_for()
    with capsys.disabled():
        sys.stdout.write(f"\ntaps from the bowl's first step to the poured batch, one reading typed: {page.touched}\n")
    assert page.touched <= 8
    with open_library(own) as library:
        assert len(library.list(Piece, batch_uid=batch.uid)) == 2
    assert page.faults == []
    assert page.outside == []


def test_reload_second_tab_and_a_killed_server_lose_nothing_entered(
    phone: Callable[[], Bowl], own_server: Server
) -> None:
    own = own_server.kept / "own"
    batch = trays(own)
    page = phone().open(batch)
    page.tap("It shows 0")
    page.at("White, quick")
    page.read("687")
    page.at("Brick red")
    page.tab.get_by_label("The scale shows, g").fill("13,")  # being typed: may be lost
    page.open(batch)
    page.at("Brick red")
    second = phone().open(batch)
    second.at("Brick red")
    second.read("13,7")
    second.at("Ochre")
    page.read("13,8")  # the first tab has not seen it: nothing is overwritten
    page.tab.get_by_test_id("stAlert").wait_for()
    assert entered(own, batch) == [687.0, 13.7]
    page.open(batch)
    page.at("Ochre")
    own_server.kill()
    own_server.start()
    page.open(batch)
    page.at("Ochre")
    page.read("7,6")
    page.at("Water")
    assert entered(own, batch) == [687.0, 13.7, 7.6]


def test_an_untared_reading_text_and_a_mistyped_weight(phone: Callable[[], Bowl], own_server: Server) -> None:
    own = own_server.kept / "own"
    batch = trays(own)
    page = phone().open(batch)
    page.tap("It shows 0")
    page.at("White, quick")
    page.read("abc")
    page.tab.get_by_text("is no number").wait_for()
    page.read("678")
    page.tab.locator(".bowl-grams", has_text="9").wait_for()  # 9 g are missing
    page.tab.get_by_text("In the bowl so far").click()
    page.tab.get_by_role("button", name="678 g White, quick").tap()
    page.tab.get_by_label("The scale showed, g").fill("687")
    page.tap("Correct this weight")
    page.at("Brick red")
    assert entered(own, batch) == [687.0]
    page.read("700,7")
    page.tab.get_by_text("Was the scale not zeroed?").wait_for()
    page.tap("13.7 g of Brick red (less what was in)")
    page.at("Ochre")
    assert entered(own, batch) == [687.0, 13.7]
    page.tap("Undo the last step")
    page.at("Brick red")
    assert entered(own, batch) == [687.0]
    assert page.faults == []


def test_the_printed_sheet_is_of_her_own_library(phone: Callable[[], Bowl], own_server: Server, tmp_path: Path) -> None:
    """It is made outside the session, which is where the page knows what library is open."""
    from pypdf import PdfReader

    batch = trays(own_server.kept / "own")
    page = phone()
    page.go_to(f"bench?library=own&batch={batch.uid}")
    page.tab.get_by_text("To print or to take along").tap()
    with page.tab.expect_download() as download:
        page.tab.get_by_role("button", name="To print (PDF)").tap()
    download.value.save_as(tmp_path / "sheet.pdf")
    text = " ".join(PdfReader(tmp_path / "sheet.pdf").pages[0].extract_text().split())
    assert "After 3 to 4 h" in text  # her quick-setting cement, which the demo studio knows nothing of
