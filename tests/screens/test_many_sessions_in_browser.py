"""Two hundred tabs opened and closed, one after another: the server's memory and open files stay flat."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.screens.browser import Server, Tab

SESSIONS, WARM, FORGOTTEN_AFTER_S = 200, 40, 75


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
