"""A page under test: in streamlit's own driver, or served to a real browser."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
QUIET = [
    "--no-sandbox", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run", "--disable-gpu", "--disable-quic",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
]  # fmt: skip


@pytest.fixture(scope="session")
def places(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder for everything the pages keep, so that no test touches the maker's own library."""
    folder = tmp_path_factory.mktemp("kept")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLORMATCH_LIBRARY", str(folder / "own"))
        patch.setenv("XDG_DATA_HOME", str(folder / "data"))
        patch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
        yield folder


@pytest.fixture
def own_library(places: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """An empty library of the maker's own, as the page opens it."""
    from colormatch.library import open_library

    monkeypatch.setenv("COLORMATCH_LIBRARY", str(tmp_path / "own"))
    with open_library(tmp_path / "own") as library:
        yield library


@pytest.fixture
def open_page(places: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """`open_page("bench", library="own", typed={"bench.find": "X"}, address={"batch": uid}, **in_hand)`: run once."""
    from streamlit.components.v2 import manifest_scanner
    from streamlit.testing.v1 import AppTest
    from streamlit.util import calc_hash

    from colormatch.screens import warming
    from colormatch.screens.state import InHand

    # Each driver would look for components through all that is installed; the page's own are not found that way.
    monkeypatch.setattr(manifest_scanner, "scan_component_manifests", list)
    monkeypatch.setattr(warming, "_AFTER_S", 3600.0)  # nothing runs beside a test

    def opened(
        name: str,
        library: str = "demo",
        typed: Mapping[str, Any] = MappingProxyType({}),
        address: Mapping[str, str] = MappingProxyType({}),
        **in_hand: Any,
    ) -> AppTest:
        driver = AppTest.from_file(str(ROOT / "app.py"), default_timeout=120)
        driver.session_state["kept|studio"] = library
        driver.session_state[f"in hand|{library}"] = InHand(**in_hand)
        for key, value in typed.items():
            driver.session_state[f"kept|{library}|{key}"] = value
        driver._page_hash = calc_hash("" if name == "start" else name)  # what a browser sends of an inner address
        for key, value in address.items():
            driver.query_params[key] = value
        return driver.run()

    return opened


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Browser tests need a browser; in CI its absence is a failure, elsewhere a skip that says so."""
    missing = _missing()
    if not missing or os.environ.get("CI") == "true":
        return
    why = pytest.mark.skip(reason=f"needs {missing}")
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(why)


def _missing() -> str:
    """What the browser tests lack here, in words; empty when nothing is."""
    lacks = []
    if not _chromium():
        lacks.append("a browser (apt-get install chromium)")
    if find_spec("playwright") is None:
        lacks.append("playwright (pip install playwright)")
    return " and ".join(lacks)


def _chromium() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="session")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the package as its wheel installs it: the page is tested as makers get it, not the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    build = ["wheel", "-q", "--no-deps", "--no-build-isolation", "--disable-pip-version-check"]
    subprocess.run([sys.executable, "-m", "pip", *build, "-w", folder, ROOT], check=True)
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as wheel:
        wheel.extractall(folder / "installed")
    return folder / "installed"


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
        _wait_until_up(self.process, self.address, self.kept / "page.log")

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(10)

    def kill(self) -> None:
        """As when the power goes."""
        self.process.kill()
        self.process.wait(10)


@pytest.fixture(scope="session")
def served(places: Path, installed: Path) -> Iterator[str]:
    """The address of a running page that all tests of the session share."""
    server = Server(installed, places)
    yield server.address
    server.stop()


@pytest.fixture
def own_server(installed: Path, tmp_path: Path) -> Iterator[Server]:
    """A page of this test's own, with nothing kept yet: the first start."""
    server = Server(installed, tmp_path / "kept")
    yield server
    server.stop()


def _wait_until_up(server: subprocess.Popen[bytes], address: str, log: Path) -> None:
    for _ in range(240):
        try:
            urllib.request.urlopen(address + "/_stcore/health", timeout=2).close()
            return
        except OSError:
            assert server.poll() is None, log.read_text()
            time.sleep(0.25)
    raise AssertionError(f"The page did not come up in a minute: {log.read_text()}")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Debian's chromium; nothing outside this machine can be reached."""
    from playwright.sync_api import sync_playwright

    found = _chromium()
    assert found, "CI must have chromium: apt-get install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=QUIET)
        yield browser
        browser.close()


DRAWN = """() => document.querySelector('[data-test-script-state="notRunning"]')
  && !document.querySelector('[data-stale="true"]')"""
TWO_FRAMES = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"


class Tab:
    """A browser tab on the page, with the few things a test does over and over."""

    def __init__(self, tab: Any, address: str) -> None:
        self.tab, self.address = tab, address
        self.outside: list[str] = []
        self.faults: list[str] = []
        tab.set_default_timeout(60_000)
        self.begun = self.ended = 0  # runs of the page, by what the server says of them
        self.taps: list[str] = []  # what a hand did, counted where a test goes the maker's way
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
        self._wait_for(lambda: self.begun == self.ended > 0)
        for _ in range(2):  # what came last may not have reached the document yet
            self.tab.wait_for_function(DRAWN)
            self.tab.evaluate(TWO_FRAMES)

    def _wait_for(self, true: Callable[[], bool]) -> None:
        end = time.monotonic() + 60
        while not true():
            assert time.monotonic() < end, f"the page ran {self.begun} times and ended {self.ended} times"
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
            self.tab.get_by_role(role, name=name, exact=True).tap()

    def tap_and_type(self, label: str, text: str) -> None:
        """Tap a field and type into it: one tap; what was typed goes to the page with the next one."""
        self.taps.append(f"tap {label}, type {text!r}")
        field = self.tab.get_by_label(label, exact=True)
        field.tap()
        field.fill(text)

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


@pytest.fixture
def open_tab(chromium: Any, request: pytest.FixtureRequest) -> Iterator[Callable[..., Tab]]:
    """`open_tab(width=390, touch=True)`: a fresh tab, on the page all tests share or at an address of one's own."""
    contexts = []

    def opened(width: int = 1280, height: int = 900, touch: bool = False, address: str = "") -> Tab:
        context = chromium.new_context(viewport={"width": width, "height": height}, has_touch=touch)
        contexts.append(context)
        return Tab(context.new_page(), address or request.getfixturevalue("served"))

    yield opened
    for context in contexts:
        context.close()


# What axe finds in Streamlit's own markup, which no page of ours can mend: its rule, and the element's test id.
STREAMLITS_OWN = {
    # The area to drop a file on has a name though it is marked as mere presentation; the button in it has its own.
    ("presentation-role-conflict", "stFileUploaderDropzone"),
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


@pytest.fixture(scope="session")
def photographed() -> tuple[bytes, Any]:
    """A simulated photograph of nine tiles, a chart and a grey card, and what is true of it."""
    from tests.worlds.camera import photograph
    from tests.worlds.scenes import cement_spectra, studio_scene

    scene = studio_scene(cement_spectra(3, 9), turn=3, tilt=8, tilt_axis=30)
    return photograph(scene, "camera-a", "daylight", seed=2)
