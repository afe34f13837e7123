"""`colormatch page` on a machine that never ran it: nothing is asked, and the page answers."""

import os
import signal
import socket
import subprocess
import sys
import time
from urllib.request import urlopen

import pytest

from colormatch.cli import main

PATIENCE_S = 60


@pytest.fixture
def port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@pytest.mark.skipif(os.name != "posix", reason="stopped by a signal")
def test_the_first_start_asks_nothing_and_answers(tmp_path, port):
    """With a home that holds nothing, no terminal, and a browser that does nothing."""
    fresh = {"HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data"), "BROWSER": "true"}
    source = "import sys; from colormatch.cli import main; main(sys.argv[1:])"
    page = subprocess.Popen(
        [sys.executable, "-c", source, "page", "--port", str(port)],
        env={**os.environ, **fresh},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        healthy = answers(f"http://127.0.0.1:{port}/_stcore/health", page)
    finally:
        page.send_signal(signal.SIGINT)
        said, _ = page.communicate(timeout=PATIENCE_S)
    assert healthy, said
    assert f"http://127.0.0.1:{port}" in said
    assert "mail" not in said.lower()
    assert "Traceback" not in said


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
