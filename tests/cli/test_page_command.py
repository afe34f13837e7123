"""`colormatch page` on a machine that never ran it: nothing is asked, the page answers, and nobody else is let in."""

import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
from contextlib import contextmanager
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from pathlib import Path
from unittest.mock import MagicMock, patch

import pytest

from colormatch.cli import main, opening

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).resolve().parent / "data"
METHODS = ("GET", "POST", "PUT", "DELETE")
PATIENCE_S = 60
posix = pytest.mark.skipif(os.name != "posix", reason="stopped by a signal")
# Put first on the path of the page's process: what looks for anything outside this machine is written down and refused.
NO_NETWORK = """
import os, socket

def _deny(what):
    with open(os.environ["ASKED_OUTSIDE"], "a") as file:
        file.write(repr(what) + "\\n")
    raise OSError("this test has no network")

_connect, _look_up = socket.socket.connect, socket.getaddrinfo

def connect(self, address):
    home = isinstance(address, tuple) and str(address[0]).startswith(("127.", "::1", "192.0.2."))
    return _connect(self, address) if home else _deny(address)

def look_up(host, *rest, **more):
    home = host in (None, "", "localhost") or str(host).replace(".", "").isdigit() or ":" in str(host)
    return _look_up(host, *rest, **more) if home else _deny(host)

socket.socket.connect, socket.getaddrinfo = connect, look_up
socket.gethostbyname = socket.gethostbyname_ex = socket.gethostbyaddr = look_up
socket.socket.sendto = lambda self, *sent: _deny(sent[-1])
"""


@pytest.fixture
def port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def page_of(tmp_path, port, *options, trusting=None):
    """`colormatch page` with these options."""
    source = "import sys; from colormatch.cli import main; main(sys.argv[1:])"
    return started(tmp_path, port, "-c", source, "page", "--port", str(port), *options, trusting=trusting)


@contextmanager
def started(tmp_path, port, *command, trusting=None):
    """A page with a home that holds nothing, no terminal, no network, and a browser that does nothing."""
    (tmp_path / "first").mkdir()
    (tmp_path / "first" / "sitecustomize.py").write_text(NO_NETWORK)
    fresh = {
        "HOME": str(tmp_path),
        "XDG_DATA_HOME": str(tmp_path / "data"),
        "BROWSER": "true",
        "PYTHONPATH": os.pathsep.join([str(tmp_path / "first"), os.environ.get("PYTHONPATH", "")]),
        "ASKED_OUTSIDE": str(tmp_path / "asked"),
    }
    page = subprocess.Popen(
        [sys.executable, *command],
        env={**os.environ, **fresh},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    said = []
    try:
        yield answers(port, page, trusting), said
    finally:
        page.send_signal(signal.SIGINT)
        said.append(page.communicate(timeout=PATIENCE_S)[0])


def asked_outside(tmp_path):
    file = tmp_path / "asked"
    return file.read_text() if file.exists() else ""


@pytest.mark.slow
@posix
def test_the_first_start_asks_nothing_and_answers(tmp_path, port):
    with page_of(tmp_path, port) as (healthy, said):
        pass
    assert healthy, said
    assert f"http://127.0.0.1:{port}" in said[0]
    assert "mail" not in said[0].lower()
    assert "Traceback" not in said[0]
    assert asked_outside(tmp_path) == ""


@pytest.mark.slow
@posix
def test_on_this_machine_another_sites_page_is_turned_away_and_nothing_is_looked_up(tmp_path, port):
    with page_of(tmp_path, port, "--no-show") as (healthy, said):
        own, elsewhere = (
            websocket_status(port, f"http://{name}:{port}") for name in ("127.0.0.1", "elsewhere.example")
        )
    assert healthy, said
    assert (own, elsewhere) == (101, 403)
    assert asked_outside(tmp_path) == ""


@pytest.fixture(scope="module")
def addresses():
    """An example of every address that the server has, by its own table, and some that it has not."""
    from streamlit import config
    from streamlit.web.server.starlette.starlette_app import create_streamlit_routes

    runtime = MagicMock(_main_script_path=str(ROOT / "app.py"))
    said = config.get_option

    def switched_on(name):
        """Its option, and whatever can be switched on, is."""
        return name != "global.developmentMode" if isinstance(said(name), bool) else said(name)

    with patch("streamlit.config.get_option", switched_on):
        paths = [str(getattr(route, "path", "/")) for route in create_streamlit_routes(runtime)]
    found = {re.sub(r"\{[^}]*\}", "a", path) or "/" for path in paths}
    assert {"/", "/_stcore/stream", "/_stcore/upload_file/a/a", "/media/a", "/_stcore/script-health-check"} <= found
    return sorted(found | {"/studio", "/static/js/index.js", "/index.html", "/nowhere", "//a", "/%2e%2e/app.py"})


@pytest.mark.slow
@posix
def test_shared_a_stranger_gets_nothing_and_the_phone_with_the_key_comes_in(tmp_path, port, addresses):
    with page_of(tmp_path, port, "--no-show", "--share") as (healthy, said):
        key = (tmp_path / "data" / "colormatch" / "page.key").read_text()
        refused = {place: [status(port, method, place) for method in METHODS] for place in addresses}
        outdated = {place: status(port, "GET", place, cookie="colormatch_key=outdated") for place in addresses}
        websockets = [websocket_status(port, f"http://127.0.0.1:{port}", cookie) for cookie in (None, "outdated", key)]
        elsewhere = websocket_status(port, f"http://elsewhere.example:{port}", key)
        with_key = status(port, "GET", "/", cookie=f"colormatch_key={key}")
        led_in = status(port, "GET", f"/?key={key}")
    assert healthy, said
    assert {place: set(got) for place, got in refused.items() if place != "/_stcore/metrics"} == {
        place: {403} for place in addresses if place != "/_stcore/metrics"
    }
    assert set(refused["/_stcore/metrics"]) == {404}
    assert set(outdated.values()) == {403, 404}
    assert websockets == [403, 403, 101]
    assert elsewhere == 403
    assert (with_key, led_in) == (200, 303)
    assert f"/?key={key}" in said[0]
    assert "plain http" in said[0]
    assert asked_outside(tmp_path) == ""


@pytest.mark.slow
@posix
def test_started_without_the_command_it_is_this_machines_alone(tmp_path, port, addresses):
    """`streamlit run app.py`, told to listen to everybody: the same gate stands before it."""
    run = ["-m", "streamlit", "run", str(ROOT / "app.py"), "--server.address", "0.0.0.0", "--server.port", str(port)]
    with started(tmp_path, port, *run) as (healthy, said):
        here, elsewhere = status(port, "GET", "/"), websocket_status(port, f"http://elsewhere.example:{port}")
        rebound = {ask(port, "GET", place, {"Host": "elsewhere.example"}) for place in addresses}
        outside = opening._reached_at("0.0.0.0")  # where the others of the network would look for it
        asked = [] if outside == opening.LOOPBACK else [(place, method) for place in addresses for method in METHODS]
        forged = {"Host": f"127.0.0.1:{port}"}
        from_outside = {ask(port, method, place, forged, outside) for place, method in asked}
    assert healthy, said
    assert (here, elsewhere) == (200, 403)
    assert rebound == {403, 404}
    assert from_outside <= {403, 404}
    assert asked_outside(tmp_path) == ""


def test_the_network_is_reached_only_by_a_deliberate_switch(port, capsys):
    with pytest.raises(SystemExit, match=r"^2$"):
        main(["page", "--no-show", "--port", str(port), "--address", "0.0.0.0"])
    assert "Add --share" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (["--certificate", "a.pem"], "no file"),
        (["--certificate-key", "a.pem"], "--certificate is missing"),
        (["--certificate", HERE / "loopback.pem"], "--certificate-key is missing"),
        (["--certificate", HERE / "loopback.pem", "--certificate-key", __file__], "the key without a password"),
    ],
)
def test_https_needs_both_files(port, capsys, given, sentence):
    with pytest.raises(SystemExit, match=r"^2$"):
        main(["page", "--no-show", "--port", str(port), *map(str, given)])
    assert sentence in capsys.readouterr().err


@pytest.mark.slow
@posix
def test_with_a_certificate_nothing_goes_over_plain_http(tmp_path, port, monkeypatch):
    """A certificate of the tests' own, for the loopback address; its key is no secret. Places as typed: relative."""
    monkeypatch.chdir(HERE)
    files = ("--certificate", "loopback.pem", "--certificate-key", "loopback-key.pem")
    trusting = ssl.create_default_context(cafile=HERE / "loopback.pem")
    with page_of(tmp_path, port, "--no-show", "--share", *files, trusting=trusting) as (healthy, said):
        key = (tmp_path / "data" / "colormatch" / "page.key").read_text()
        with pytest.raises((ConnectionError, HTTPException), match=r"reset by peer|without response"):
            status(port, "GET", f"/?key={key}")
        stranger = status(port, "GET", "/", trusting=trusting)
        led_in = answer_to(port, "GET", f"/?key={key}", trusting=trusting)
    assert healthy, said
    assert stranger == 403
    assert led_in.status == 303
    assert "; Secure" in led_in.headers["Set-Cookie"]
    assert "https://" in said[0]
    assert "plain http" not in said[0]


def test_the_address_for_a_phone_is_this_machines_own(monkeypatch):
    monkeypatch.setattr(opening, "_reached_at", lambda address: "192.0.2.7")
    assert opening._url("0.0.0.0", 8501) == "http://192.0.2.7:8501"
    assert opening._url("0.0.0.0", 8501, secure=True) == "https://192.0.2.7:8501"
    monkeypatch.setattr(opening, "_reached_at", lambda address: "::1")
    assert opening._url("::", 8501) == "http://[::1]:8501"


def answer_to(port, method, place, headers=None, address="127.0.0.1", trusting=None):
    """The answer to one request; trusting: what knows the page's certificate, where it has one."""
    if trusting:
        connection = HTTPSConnection(address, port, timeout=PATIENCE_S, context=trusting)
    else:
        connection = HTTPConnection(address, port, timeout=PATIENCE_S)
    connection.request(method, place, headers=headers or {})
    answer = connection.getresponse()
    connection.close()
    return answer


def ask(port, method, place, headers, address="127.0.0.1"):
    return answer_to(port, method, place, headers, address).status


def status(port, method, place, cookie=None, trusting=None):
    """What a plain request is answered."""
    return answer_to(port, method, place, {"Cookie": cookie} if cookie else {}, trusting=trusting).status


def websocket_status(port, origin, key=None):
    """What the page answers to a browser that shows it under this address."""
    upgrade = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13", "Origin": origin}
    upgrade |= {"Host": f"127.0.0.1:{port}", "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="}
    return ask(port, "GET", "/_stcore/stream", upgrade | ({"Cookie": f"colormatch_key={key}"} if key else {}))


def answers(port, page, trusting):
    """Whether the page answers, in whatever way, before it ends or patience does."""
    until = time.monotonic() + PATIENCE_S
    while page.poll() is None and time.monotonic() < until:
        try:
            return status(port, "GET", "/_stcore/health", trusting=trusting) in (200, 403)
        except OSError:
            time.sleep(0.2)
    return False


def test_a_port_that_is_taken_is_said_with_what_to_do(port, capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", port))
        taken.listen()
        with pytest.raises(SystemExit, match=r"^2$"):
            main(["page", "--no-show", "--port", str(port)])
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert f"--port {port + 1}" in said
    assert f"http://127.0.0.1:{port}" in said
