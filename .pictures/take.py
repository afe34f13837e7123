"""Take the README's pictures of the pages, from the demo studio: python .pictures/take.py

Needs chromium (apt-get install chromium) and playwright. Every picture is a PNG of at most 150 kB.
"""

from __future__ import annotations

import io
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import sync_playwright

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
MOST_BYTES = 150_000
QUIET = ["--no-sandbox", "--disable-gpu", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"]


def settle(tab: Any) -> None:
    """Wait until the page has stopped running and drawn what it loaded."""
    tab.wait_for_timeout(250)
    tab.wait_for_selector('[data-test-script-state="notRunning"]')
    tab.wait_for_function("!document.querySelector('[data-stale=\"true\"]')")
    tab.wait_for_function("[...document.images].every(each => each.complete)")
    tab.wait_for_timeout(400)


def match(tab: Any) -> None:
    """The demo photograph, measured by itself, and the best recipe."""
    tab.locator(".stage img").wait_for()
    tab.get_by_role("heading", name="Best recipe from your jars").wait_for()


def bowl(tab: Any) -> None:
    """The first recipe at the bowl: the cement is in, the first pigment is next."""
    tab.get_by_role("button", name="Weigh it", exact=True).click()
    tab.get_by_role("heading", name="Weigh sheet").wait_for()
    settle(tab)
    for press in ("Weigh it", "It shows 0", "Exactly"):  # whatever grams that is
        tab.get_by_role("button", name=press).first.click()
        settle(tab)


def drying(tab: Any) -> None:
    """A piece that has dried: its weights, and whether it may be sealed."""
    tab.get_by_role("button", name="Moss planters, 1 of 2").click()
    tab.get_by_test_id("stVegaLiteChart").first.wait_for()


# name: (address, width, height, what to do first)
PICTURES: dict[str, tuple[str, int, int, Callable[[Any], None] | None]] = {
    "match": ("match", 1280, 1000, match),
    "bowl": ("match", 390, 844, bowl),
    "drying": ("bench", 1000, 1400, drying),
}


def kept(picture: bytes, target: Path) -> int:
    """Write a PNG, of 256 colours and made smaller where it would be over the limit; its size."""
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    image.save(target, optimize=True)
    if target.stat().st_size <= MOST_BYTES:
        return target.stat().st_size
    for share in (1.0, 0.9, 0.8, 0.7, 0.6, 0.5):
        size = (round(image.width * share), round(image.height * share))
        small = image if share == 1 else image.resize(size, Image.Resampling.LANCZOS)
        truest(small).save(target, optimize=True)
        if target.stat().st_size <= MOST_BYTES:
            break
    return target.stat().st_size


def truest(image: Image.Image) -> Image.Image:
    """256 colours, by whichever way of choosing them leaves the smaller error in all but 0.2 % of the pixels."""
    palettes = [
        image.quantize(256, method=Image.Quantize.FASTOCTREE),
        image.quantize(256, method=Image.Quantize.MEDIANCUT, kmeans=3),
    ]
    tried = [image.quantize(palette=palette, dither=Image.Dither.NONE) for palette in palettes]
    pixels = np.asarray(image, dtype=np.int16)

    def worst(one: Image.Image) -> float:
        off = np.abs(np.asarray(one.convert("RGB"), dtype=np.int16) - pixels).max(axis=-1)
        return float(np.quantile(off, 0.998) + off.mean())

    return min(tried, key=worst)


def served(folder: Path) -> tuple[subprocess.Popen[bytes], str]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {**os.environ, "XDG_DATA_HOME": str(folder), "COLORMATCH_LIBRARY": str(folder / "own")}
    command = [sys.executable, "-m", "streamlit", "run", "app.py", f"--server.port={port}", "--server.headless=true"]
    server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    for _ in range(120):
        try:
            urllib.request.urlopen(address + "/_stcore/health", timeout=2).close()
            break
        except OSError:
            time.sleep(0.25)
    return server, address


def main(wanted: list[str]) -> None:
    """Take the named pictures, or all."""
    chromium = shutil.which("chromium")
    if chromium is None:
        raise SystemExit("No chromium here: apt-get install chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server, address = served(Path(folder))
        browser = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        try:
            for name in wanted or PICTURES:
                page, width, height, first = PICTURES[name]
                tab = browser.new_page(viewport={"width": width, "height": height})
                tab.goto(f"{address}/{page}?library=demo")
                settle(tab)
                if first is not None:
                    first(tab)
                tab.evaluate("document.querySelector('[data-testid=stMain]').scrollTo(0, 0)")
                tab.mouse.move(0, 0)
                settle(tab)
                size = kept(tab.screenshot(), HERE / f"{name}.png")
                sys.stdout.write(f"{name}.png {size / 1000:.0f} kB\n")
                tab.close()
        finally:
            browser.close()
            server.terminate()
            server.wait(10)


if __name__ == "__main__":
    main(sys.argv[1:])
