"""`colormatch page` on a machine that never ran it: nothing is asked, and the page answers."""

import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from http.client import HTTPConnection
from urllib.request import urlopen

import pytest

from colormatch.cli import main, practice
from colormatch.cli.practice import _url, _where

PATIENCE_S = 60


@pytest.fixture
def port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@contextmanager
def page_of(tmp_path, port, *options):
    """The page with a home that holds nothing, no terminal, and a browser that does nothing."""
    fresh = {"HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data"), "BROWSER": "true"}
    source = "import sys; from colormatch.cli import main; main(sys.argv[1:])"
    page = subprocess.Popen(
        [sys.executable, "-c", source, "page", "--port", str(port), *options],
        env={**os.environ, **fresh},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    said = []
    try:
        yield answers(f"http://127.0.0.1:{port}/_stcore/health", page), said
    finally:
        page.send_signal(signal.SIGINT)
        said.append(page.communicate(timeout=PATIENCE_S)[0])


@pytest.mark.skipif(os.name != "posix", reason="stopped by a signal")
def test_the_first_start_asks_nothing_and_answers(tmp_path, port):
    with page_of(tmp_path, port) as (healthy, said):
        pass
    assert healthy, said
    assert f"http://127.0.0.1:{port}" in said[0]
    assert "mail" not in said[0].lower()
    assert "Traceback" not in said[0]


@pytest.mark.skipif(os.name != "posix", reason="stopped by a signal")
def test_a_phone_may_use_the_address_that_is_printed_and_no_other_site_may(tmp_path, port):
    with page_of(tmp_path, port, "--no-show", "--address", "0.0.0.0") as (healthy, said):
        printed = _url("0.0.0.0", port)
        taken_in = {origin: websocket_status(port, origin) for origin in (printed, f"http://elsewhere.example:{port}")}
    assert healthy, said
    assert printed in said[0]
    assert "no password" in said[0]
    assert list(taken_in.values()) == [101, 403]


def test_an_address_that_no_phone_reaches_is_not_offered_to_one(monkeypatch):
    assert "phone" not in _where("::", 8501)
    monkeypatch.setattr(practice, "_reached_at", lambda address: "127.0.0.1")  # no network
    assert "phone" not in _where("0.0.0.0", 8501)
    monkeypatch.setattr(practice, "_reached_at", lambda address: "192.0.2.7")
    assert _where("0.0.0.0", 8501).startswith("The page: http://192.0.2.7:8501, also for a phone")


def websocket_status(port, origin):
    """What the page answers to a browser that shows it under this address."""
    asked = HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    upgrade = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13", "Origin": origin}
    asked.request("GET", "/_stcore/stream", headers={**upgrade, "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="})
    answer = asked.getresponse()
    asked.close()
    return answer.status


def answers(url, page):
    """Whether the page answers before it ends or patience does."""
    until = time.monotonic() + PATIENCE_S
    while page.poll() is None and time.monotonic() < until:
        try:
            with urlopen(url, timeout=5) as answer:
                return answer.status == 200
        except OSError:
            time.sleep(0.2)
    return False


def test_a_port_that_is_taken_is_said_with_what_to_do(port, capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", port))
        taken.listen()
        with pytest.raises(SystemExit) as left:
            main(["page", "--no-show", "--port", str(port)])
    assert left.value.code == 2
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert f"--port {port + 1}" in said
    assert f"http://127.0.0.1:{port}" in said
