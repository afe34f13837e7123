"""A page under test: in streamlit's own driver, or served to a real browser."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator, Mapping
from importlib.util import find_spec
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from tests.screens.browser import Hand, Server, Tab

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
def rust(own_library: Any) -> Any:
    """A planned batch of two pieces, one tone of two jars."""
    from colormatch.workshop.materials import add_bag, add_jar, add_mould
    from tests.screens.driven import planned

    add_bag(own_library, "White, quick", kind="quick-setting", like="white-cement", stock_g=20_000)
    add_jar(own_library, "Brick red", like="red-iron-oxide", stock_g=500)
    add_jar(own_library, "Ochre", like="yellow-iron-oxide")
    add_mould(own_library, "Tray", fill_weight_g=400)
    return planned(own_library, "Rust trays", [{"Brick red": 0.02, "Ochre": 0.011}], pieces=2)


@pytest.fixture
def open_page(places: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """`open_page("tiles", library="own", typed={"tiles.view": "All"}, address={"batch": uid}, **in_hand)`: run once."""
    from streamlit.components.v2 import manifest_scanner
    from streamlit.testing.v1 import AppTest
    from streamlit.util import calc_hash

    from colormatch import science
    from colormatch.screens import warming
    from colormatch.screens.state import InHand

    # Each driver would look for components through all that is installed; the page's own are not found that way.
    monkeypatch.setattr(manifest_scanner, "scan_component_manifests", list)
    monkeypatch.setattr(warming, "_AFTER_S", 3600.0)  # nothing runs beside a test
    science.colour_science.cache_clear()  # as a server starts, whatever test ran before

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
    """The longest first, and only that: what stands behind it waits for it. And a browser there must be.

    In CI its absence is a failure, elsewhere a skip that says so.
    """
    items.sort(key=lambda item: "whole_day" not in item.nodeid or "touch" not in item.nodeid)
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


@pytest.fixture(scope="session")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the pictures of all screens are kept: the folder that COLORMATCH_PICTURES names, else a temporary one."""
    named = os.environ.get("COLORMATCH_PICTURES")
    folder = Path(named) if named else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture
def open_tab(chromium: Any, pictures: Path, request: pytest.FixtureRequest) -> Iterator[Callable[..., Tab]]:
    """`open_tab(width=390, touch=True)`: a fresh tab, on the page all tests share or at an address of one's own."""
    contexts = []

    def opened(
        width: int = 1280, height: int = 900, touch: bool = False, address: str = "", hand: Hand = "touch"
    ) -> Tab:
        context = chromium.new_context(viewport={"width": width, "height": height}, has_touch=touch)
        contexts.append(context)
        served = address or request.getfixturevalue("served")
        return Tab(context.new_page(), served, hand=hand, pictures=pictures)

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def photographed() -> tuple[bytes, Any]:
    """A simulated photograph of nine tiles, a chart and a grey card, and what is true of it."""
    from tests.worlds.camera import photograph
    from tests.worlds.scenes import cement_spectra, studio_scene

    scene = studio_scene(cement_spectra(3, 9), turn=3, tilt=8, tilt_axis=30)
    return photograph(scene, "camera-a", "daylight", seed=2)
