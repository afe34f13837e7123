"""The gate before the server, tried raw against every kind of address."""

import pytest
from raw import request, talk

from colormatch.serving.access import Access
from colormatch.serving.gate import COOKIE, Gate

HOST = "192.0.2.7:8501"
KEY = "the-key-of-this-test"
SECRET = "the library"
PLACES = [
    "/", "/swatches", "/_stcore/health", "/_stcore/host-config", "/_stcore/upload_file/a/b", "/media/x.png",
    "/static/js/index.js", "/component/x/index.html", "//elsewhere.example/", "/%2e%2e/secrets",
]  # fmt: skip
METHODS = ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH"]
REFUSED = [{"type": "websocket.close", "code": 1008}]


async def library(scope, receive, send):
    """What must not be reached: it gives its secret to everyone."""
    if scope["type"] == "http":
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": SECRET.encode()})
        return
    assert (await receive())["type"] == "websocket.connect"
    await send({"type": "websocket.accept"})
    while (message := await receive())["type"] == "websocket.receive":
        await send({"type": "websocket.send", "text": message["text"] + SECRET})


@pytest.fixture
def access():
    return Access(f"http://{HOST}", KEY)


def headers(key=None, **more):
    return {"host": HOST, **({} if key is None else {"cookie": f"other=1; {COOKIE}={key}"}), **more}


def words(heard):
    return [message["text"] for message in heard if message["type"] == "websocket.send"]


@pytest.mark.parametrize("key", [None, "", "wrong", KEY[:-1], KEY + "x", KEY.upper()])
@pytest.mark.parametrize("method", METHODS)
def test_without_the_key_no_address_gives_anything(access, method, key):
    for place in PLACES:
        answer = request(Gate(library, access), method, place, headers(key))
        assert answer.status == 403, place
        assert SECRET.encode() not in answer.body


@pytest.mark.parametrize("query", ["?key=", "?key=wrong", f"?Key={KEY}", f"?key={KEY}&key=wrong"])
def test_a_wrong_key_in_the_address_is_no_key(access, query):
    answer = request(Gate(library, access), "GET", f"/{query}", headers())
    assert answer.status == 403
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize("key", [None, "wrong", 'a"; b=\x00'])
def test_without_the_key_no_websocket_opens(access, key):
    assert talk(Gate(library, access), "/_stcore/stream", headers(key), "hello") == REFUSED


def test_a_key_in_a_websockets_address_is_no_key(access):
    assert talk(Gate(library, access), f"/_stcore/stream?key={KEY}", headers(), "hello") == REFUSED


def test_the_address_with_the_key_is_remembered_and_then_hidden(access):
    answer = request(Gate(library, access), "GET", f"/swatches?swatch=rust&key={KEY}", headers())
    assert answer.status == 303
    assert answer.headers["location"] == "/swatches?swatch=rust"
    assert answer.headers["set-cookie"].startswith(f"{COOKIE}={KEY}; ")
    assert "HttpOnly" in answer.headers["set-cookie"]
    assert "Secure" not in answer.headers["set-cookie"]
    assert request(Gate(library, access), "GET", "/swatches", headers(KEY)).body == SECRET.encode()


def test_on_https_the_cookie_never_goes_over_http(access):
    answer = request(Gate(library, access), "GET", f"/?key={KEY}", headers(), scheme="https")
    assert "Secure" in answer.headers["set-cookie"]


def test_the_key_never_leads_to_another_site(access):
    answer = request(Gate(library, access), "GET", f"//elsewhere.example/?key={KEY}", headers())
    assert answer.headers["location"] == "/elsewhere.example/"


def test_a_renewed_key_cuts_an_open_websocket(access):
    def renew():
        access.key = "another"

    heard = talk(Gate(library, access), "/_stcore/stream", headers(KEY), "before ", renew, "after ")
    assert words(heard) == ["before " + SECRET]
    assert request(Gate(library, access), "GET", "/", headers(KEY)).status == 403


def test_a_renewed_key_stops_what_the_server_would_still_send(access):
    async def chatty(scope, receive, send):
        await receive()
        await send({"type": "websocket.accept"})
        await send({"type": "websocket.send", "text": "before"})
        access.key = "another"
        await send({"type": "websocket.send", "text": SECRET})

    heard = talk(Gate(chatty, access), "/_stcore/stream", headers(KEY))
    assert words(heard) == ["before"]
    assert heard[-1] == REFUSED[0]


@pytest.mark.parametrize("shared", [True, False])
def test_another_sites_page_can_neither_listen_nor_write(access, shared):
    gate = Gate(library, access if shared else Access(f"http://{HOST}"))
    elsewhere = headers(KEY, origin="http://elsewhere.example:8501")
    for method in ("POST", "PUT", "DELETE", "PATCH"):
        assert request(gate, method, "/_stcore/upload_file/a/b", elsewhere).status == 403
    assert talk(gate, "/_stcore/stream", elsewhere, "hello") == REFUSED
    assert words(talk(gate, "/_stcore/stream", headers(KEY, origin=f"http://{HOST}"), "")) == [SECRET]


@pytest.mark.parametrize(
    ("host", "status"),
    [("127.0.0.1:8501", 200), ("localhost:8501", 200), ("[::1]:8501", 200), ("elsewhere.example", 403), ("[", 403)],
)
def test_unshared_it_answers_under_this_machines_own_names_only(host, status):
    gate = Gate(library, Access("http://127.0.0.1:8501"))
    assert request(gate, "GET", "/", {"host": host}).status == status


@pytest.mark.parametrize(
    ("client", "status"),
    [("127.0.0.1", 200), ("::1", 200), ("::ffff:127.0.0.1", 200), ("192.0.2.9", 403), ("fe80::1%eth0", 403), ("", 403)],
)
def test_unshared_it_answers_this_machine_only_even_where_the_server_listens_to_others(client, status):
    gate = Gate(library, Access("http://127.0.0.1"))
    assert request(gate, "GET", "/", {"host": "127.0.0.1:8501"}, client=client).status == status


def test_counts_of_the_process_are_closed_and_no_other_site_may_frame_the_page(access):
    gate = Gate(library, access)
    assert request(gate, "GET", "/_stcore/metrics", headers(KEY)).status == 404
    assert request(gate, "GET", "/_stcore/metrics/", headers(KEY)).status == 404
    for given in (headers(KEY), headers()):
        answer = request(gate, "GET", "/", given)
        assert answer.headers["content-security-policy"] == "frame-ancestors 'self'"
