"""Tabs opened and closed, one after another, with an upload or without: the server's memory and files stay flat."""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.screens.browser import Server, Tab

SESSIONS, WARM, FORGOTTEN_AFTER_S = 200, 40, 75
UPLOADS, UPLOAD_MB = 10, 14


def held(server: Server) -> tuple[float, int]:
    """Memory [MB] and open files of the server."""
    process = Path(f"/proc/{server.process.pid}")
    pages = int((process / "statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6, len(list((process / "fd").iterdir()))


@pytest.mark.measure
@pytest.mark.timeout(3600)
@pytest.mark.skipif(sys.platform != "linux", reason="counts pages and handles in /proc")
def test_two_hundred_sessions(own_server: Server, chromium: Any, figure: Callable[..., Any]) -> None:
    before = (0.0, 0)
    for number in range(SESSIONS):
        context = chromium.new_context()
        Tab(context.new_page(), own_server.address).turn_to("bench")
        context.close()
        if number == WARM:
            time.sleep(FORGOTTEN_AFTER_S)
            before = held(own_server)
    time.sleep(FORGOTTEN_AFTER_S)
    memory, files = held(own_server)
    grown, more = memory - before[0], files - before[1]
    what = f"memory of the page grown over {SESSIONS - WARM} tabs opened and closed"
    figure("trust.sessions", what, grown, "MB", target="<= 50", beside=f"{more} more open files")
    assert grown <= 50
    assert more <= 10


@pytest.mark.measure
@pytest.mark.timeout(1200)
@pytest.mark.skipif(sys.platform != "linux", reason="counts pages in /proc")
def test_uploads_go_with_their_tabs(own_server: Server, chromium: Any, figure: Callable[..., Any]) -> None:
    """Each tab shows another large photograph on Match and is closed, as a maker does who tries several."""
    rng, after = np.random.default_rng(8), []
    for _ in range(UPLOADS):
        picture = io.BytesIO()
        Image.fromarray(rng.integers(0, 256, (1800, 2600, 3), dtype=np.uint8)).save(picture, "PNG")
        assert picture.tell() / 1e6 > UPLOAD_MB
        context = chromium.new_context()
        page = Tab(context.new_page(), own_server.address)
        page.turn_to("match")
        page.press("Take another")
        file = {"name": "large.png", "mimeType": "image/png", "buffer": picture.getvalue()}
        with page.run():
            page.tab.locator('input[type="file"]').first.set_input_files(file)
        context.close()
        time.sleep(FORGOTTEN_AFTER_S)
        after.append(held(own_server)[0])
    grown = after[-1] - after[UPLOADS // 2 - 1]  # the first ones make room, in caches too, that is used again
    what = f"memory of the page grown over the last {UPLOADS // 2} tabs closed with {UPLOAD_MB} MB uploaded in each"
    after_each = f"after each: {', '.join(f'{each:.0f}' for each in after)} MB"
    figure("trust.uploads", what, grown, "MB", target="<= 28", beside=after_each)
    assert grown <= 2 * UPLOAD_MB
