"""A page in a real browser: its server, a tab on it, and what every screen must hold."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal


class Server:
    """The installed page, started with its own command; it can be killed and started again at the same address."""

    def __init__(self, installed: Path, kept: Path) -> None:
        self.installed, self.kept = installed, kept
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        start = "from colormatch.cli import main; main()"
        command = [sys.executable, "-c", start, "page", "--no-show", "--port", str(self.port)]
        kept = {
            "COLORMATCH_LIBRARY": str(self.kept / "own"),
            "XDG_DATA_HOME": str(self.kept / "data"),
            "XDG_CACHE_HOME": str(self.kept / "cache"),
        }
        environment = {**os.environ, **kept, "PYTHONPATH": str(self.installed)}
        self.kept.mkdir(parents=True, exist_ok=True)
        with (self.kept / "page.log").open("wb") as log:
            self.process = subprocess.Popen(command, cwd=self.kept, env=environment, stdout=log, stderr=log)
        wait_until_up(self.process, self.address, self.kept / "page.log")

    def stop(self) -> None:
        assert self.process.poll() is None, (self.kept / "page.log").read_text()  # it ended by itself
        self.process.terminate()
        self.process.wait(10)

    def kill(self) -> None:
        """As when the power goes."""
        self.process.kill()
        self.process.wait(10)


def wait_until_up(server: subprocess.Popen[bytes], address: str, log: Path) -> None:
    for _ in range(1200):
        try:
            urllib.request.urlopen(address + "/_stcore/health", timeout=2).close()
            return
        except OSError:
            assert server.poll() is None, log.read_text()
            time.sleep(0.05)
    raise AssertionError(f"The page did not come up in a minute: {log.read_text()}")


Hand = Literal["touch", "mouse", "keys"]
WIDTHS = (360, 390, 1280)
DRAWN = """() => document.querySelector('[data-test-script-state="notRunning"]')
  && !document.querySelector('[data-stale="true"]')"""
FOCUSED = """() => {
  let e = document.activeElement
  while (e?.shadowRoot?.activeElement) e = e.shadowRoot.activeElement
  return (e?.getAttribute("aria-label") || e?.labels?.[0]?.innerText || e?.innerText || "").trim()
}"""
STILL = """() => !document.getAnimations().some(each =>
  each.playState === "running" && each.effect.getComputedTiming().iterations !== Infinity)"""
TWO_FRAMES = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"


class Tab:
    """A browser tab on the page, with the few things a test does over and over.

    hand: how `tap` reaches what it taps. pictures: the folder that `look` keeps its pictures in.
    """

    def __init__(self, tab: Any, address: str, *, hand: Hand = "touch", pictures: Path | None = None) -> None:
        self.tab, self.address, self.hand, self.pictures = tab, address, hand, pictures
        self.outside: list[str] = []
        self.faults: list[str] = []
        tab.set_default_timeout(30_000)
        self.begun = self.ended = 0  # runs of the page, by what the server says of them
        self.taps: list[str] = []  # what a hand did, counted where a test goes the maker's way
        self.clicks = 0  # those that reached the page
        tab.expose_function("clickArrived", self._click)
        tab.add_init_script("addEventListener('click', () => clickArrived(), true)")
        tab.on("websocket", lambda socket: socket.on("framereceived", self._hear))
        tab.on("request", lambda request: self._asked(request.url))
        tab.on("pageerror", lambda error: self.faults.append(str(error)))
        tab.on("console", lambda said: self._said(said))

    def _asked(self, url: str) -> None:
        if not url.startswith((self.address, self.address.replace("http", "ws"), "data:", "blob:")):
            self.outside.append(url)

    def _said(self, said: Any) -> None:
        """Errors on the console; not Streamlit's own look-ups of its health under an inner address, which it
        tries before the root's (404, then found)."""
        if said.type == "error" and "/_stcore/" not in str(said.location.get("url")):
            self.faults.append(f"{said.text} ({said.location.get('url')})")

    def _click(self) -> None:
        self.clicks += 1

    def _hear(self, payload: bytes | str) -> None:
        from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

        message = ForwardMsg.FromString(payload) if isinstance(payload, bytes) else ForwardMsg()
        kind = message.WhichOneof("type")
        if kind == "new_session":
            self.ended = self.begun  # of a run that another one interrupted, no end may be told
            self.begun += 1
        elif kind == "script_finished" and message.script_finished != ForwardMsg.FINISHED_EARLY_FOR_RERUN:
            self.ended = self.begun

    @contextmanager
    def run(self) -> Iterator[None]:
        """Do something that makes the page run, and wait until that run has ended and been drawn."""
        before = self.begun
        yield
        self._wait_for(lambda: self.begun > before)
        self.settle()

    def settle(self) -> None:
        """Wait until the page is not running and is drawn."""
        for _ in range(2):  # what came last may not have reached the document yet, and a run may follow another
            self._wait_for(lambda: self.begun == self.ended > 0)
            self.tab.wait_for_function(DRAWN)
            self.tab.evaluate(TWO_FRAMES)

    def _wait_for(self, true: Callable[[], bool]) -> None:
        end = time.monotonic() + 60
        while not true():
            assert time.monotonic() < end, f"ran {self.begun} times, ended {self.ended} times, {self.clicks} clicks"
            self.tab.wait_for_timeout(10)  # hears what the server says meanwhile

    def go_to(self, address: str) -> None:
        """Type an address: `swatches?library=own`."""
        self.begun = self.ended = 0  # a new session; a run of the one before may never end
        with self.run():
            self.tab.goto(f"{self.address}/{address}")

    def turn_to(self, name: str, library: str = "demo") -> None:
        """Open a place by its address."""
        self.go_to(f"{'' if name == 'start' else name}?library={library}")
        self.tab.get_by_role("heading", level=1).first.wait_for()

    def follow(self, label: str) -> None:
        """Turn to another place by the bar, keeping what is in hand."""
        with self.run():
            self.tab.locator(".st-key-places").get_by_role("link", name=label, exact=True).click()
        self.tab.get_by_role("heading", level=1).first.wait_for()

    def go_back(self) -> None:
        """The browser's own way back."""
        with self.run():
            self.tab.go_back()

    def press(self, name: str) -> None:
        """Press a button and wait for what it does."""
        with self.run():
            self.tab.get_by_role("button", name=name, exact=True).click()

    def type_in(self, label: str, text: str) -> None:
        """Fill a field and wait until the page knows."""
        field = self.tab.get_by_label(label, exact=True)
        with self.run():
            field.fill(text)
            field.press("Tab")

    def tap(self, name: str, role: str = "button") -> None:
        """Tap something by its role and name, count it, and wait for what it does."""
        self.taps.append(f"tap {name}")
        with self.run():
            self._touch(self.tab.get_by_role(role, name=name, exact=True), name)

    def tap_and_type(self, label: str, text: str) -> None:
        """Tap a field and type into it: one tap; what was typed goes to the page with the next one."""
        self.taps.append(f"tap {label}, type {text!r}")
        field = self.tab.get_by_label(label, exact=True)
        if self.hand == "keys":
            self._step_to(label)
            self.tab.keyboard.press("Control+A")
            self.tab.keyboard.type(text)
            return
        self._touch(field, label)
        field.fill(text)

    def leave(self) -> None:
        """Step out of the field just typed into, and wait until the page knows what it holds."""
        with self.run():
            self.tab.keyboard.press("Tab")

    def tap_card(self, cards: str) -> None:
        """Tap the first of the cards so called."""
        self.taps.append(f"tap the first of {cards}")
        with self.run():
            self._touch(self.tab.get_by_role("list", name=cards).get_by_role("button").first, cards)

    def holds(self, label: str, text: str) -> None:
        """Wait until a field holds a text."""
        from playwright.sync_api import expect

        expect(self.tab.get_by_label(label, exact=True)).to_have_value(text)

    def _touch(self, found: Any, name: str) -> None:
        """What a finger, a mouse or a keyboard does to press something."""
        if self.hand == "keys":
            found.wait_for()
            self._step_to(name)
            self.tab.keyboard.press("Enter")
        elif self.hand == "mouse":
            found.click()
        else:
            self._tap(found)

    def _tap(self, found: Any) -> None:
        """Tap until the browser has made a click of it: a busy one may drop a touch, as then a finger taps again."""
        before = self.clicks
        for _ in range(3):
            found.tap()
            for _ in range(100):
                if self.clicks > before:
                    return
                self.tab.wait_for_timeout(20)
        raise AssertionError("the browser made no click of three taps")

    def _step_to(self, name: str) -> None:
        """Step with the Tab key, through the page's own components too, until the focus is on something so called."""
        for _ in range(80):
            if str(self.tab.evaluate(FOCUSED)).split("\n")[0] == name:
                return
            self.tab.keyboard.press("Tab")
        raise AssertionError(f"{name} is not reached by the Tab key")

    def reload(self) -> None:
        """Load the page anew, as it stands at its address."""
        self.go_to(self.tab.url.removeprefix(f"{self.address}/"))

    def look(self, name: str, pictured: Collection[int] = WIDTHS) -> None:
        """What every screen must hold: no sideways scroll at any width, nothing that axe finds; and its pictures."""
        before = self.tab.viewport_size
        assert self.tab.get_by_test_id("stException").count() == 0
        self.tab.wait_for_function(STILL)  # what was pale while the page ran may still be coming back
        wrong = violations(self)
        assert not wrong, f"{name}: {wrong}"
        for width in WIDTHS:
            self.tab.set_viewport_size({"width": width, "height": 800})
            self.tab.evaluate(TWO_FRAMES)
            main = self.tab.get_by_test_id("stMain")
            for _ in range(20):  # a plot is drawn anew some time after its room has changed
                wide, high = main.evaluate("node => [node.scrollWidth - node.clientWidth, node.scrollHeight]")
                if wide <= 0:
                    break
                self.tab.wait_for_timeout(100)
            assert wide <= 0, f"{name} scrolls sideways at {width} px"
            if self.pictures is not None and width in pictured:
                self.tab.set_viewport_size({"width": width, "height": min(max(high, 800), 6000)})
                self.tab.evaluate(TWO_FRAMES)
                self.tab.screenshot(path=self.pictures / f"{name}-{width}.png")
        self.tab.set_viewport_size(before)
        self.tab.evaluate(TWO_FRAMES)

    def choose(self, label: str, option: str) -> None:
        """Choose from a list by its words."""
        box = self.tab.get_by_role("combobox", name=label)
        if box.input_value() == option:
            return
        with self.run():
            box.click()  # on a touch screen nothing else opens the list
            self.tab.get_by_role("option", name=option).first.click()

    def pick(self, text: str) -> None:
        """Choose a radio button or tick a box by its words."""
        with self.run():
            self.tab.get_by_text(text, exact=True).click()


# What axe finds in Streamlit's own markup, which no page of ours can mend: its rule, and the element's test id.
STREAMLITS_OWN = {
    # The area to drop a file on has a name though it is marked as mere presentation; the button in it has its own.
    ("presentation-role-conflict", "stFileUploaderDropzone"),
    # The layer that lists and tooltips float on stands behind the page's landmarks; its field names what it holds.
    ("region", "stFloatingOverlayPortal"),
}


def violations(page: Tab) -> list[str]:
    """What axe finds wrong with the accessibility of what is shown, one line each; not what is Streamlit's own."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page.tab).response["violations"]
    return [
        f"{rule['id']}: {rule['help']}: {node['html'][:200]}"
        for rule in found
        for node in rule["nodes"]
        if not any(rule["id"] == known and element in node["html"] for known, element in STREAMLITS_OWN)
    ]
