"""The first page against a page of Streamlit's with nothing on it, in the same browser, by turns."""

from __future__ import annotations

import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from typing import Any

import pytest

from tests.screens.browser import Server, Tab, wait_until_up

pytestmark = [pytest.mark.speed, pytest.mark.browser]
TURNS = 5
MOST = 1.8  # times the empty page: what the page may take of her patience


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[str]:
    """The address of a page of Streamlit's with a title."""
    script = tmp_path / "empty.py"
    script.write_text("import streamlit as st\nst.title('Empty')\n")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "streamlit", "run", str(script), "--server.port", str(port),
               "--server.address", "127.0.0.1", "--server.headless", "true",
               "--browser.gatherUsageStats", "false"]  # fmt: skip
    with (tmp_path / "empty.log").open("wb") as log:
        served = subprocess.Popen(command, cwd=tmp_path, stdout=log, stderr=log)
    wait_until_up(served, f"http://127.0.0.1:{port}", tmp_path / "empty.log")
    yield f"http://127.0.0.1:{port}"
    served.terminate()
    served.wait(10)


def drawn(open_tab: Callable[..., Tab], address: str, path: str) -> float:
    """Seconds until the title of the page is there, in a browser that has nothing of it."""
    page = open_tab(address=address)
    began = time.perf_counter()
    page.tab.goto(f"{address}/{path}")
    page.tab.locator("h1").first.wait_for()
    took = time.perf_counter() - began
    page.tab.context.close()
    return took


def test_the_first_page_is_there_nearly_as_soon_as_an_empty_one(
    open_tab: Callable[..., Tab], own_server: Server, empty: str, figure: Callable[..., Any]
) -> None:
    pages = {"ours": (own_server.address, "?library=demo"), "empty": (empty, "")}
    for address, path in pages.values():  # the first of each server imports, the first of the demo copies it
        drawn(open_tab, address, path)
    took: dict[str, list[float]] = {name: [] for name in pages}
    for _ in range(TURNS):
        for name, (address, path) in pages.items():
            took[name].append(drawn(open_tab, address, path))
    ratio = median(took["ours"]) / median(took["empty"])
    figure("page.first", "first page in a browser, times an empty page of Streamlit's", ratio, target=f"<= {MOST}")
    assert ratio <= MOST, f"first page {median(took['ours']):.2f} s, empty {median(took['empty']):.2f} s: x {ratio:.2f}"
