"""What stands before every address of the server: script, websocket, media, uploads, static files.

Plain ASGI, so that nothing of the page is reached before it. Streamlit, asked by a page of another site, would look up
its own address outside; such requests are turned away here first.
"""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode, urlsplit

from .access import PARAMETER, Access

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "colormatch_key"
A_YEAR_S = 365 * 24 * 3600
CLOSED = ("/_stcore/metrics",)  # counts of a process are nobody's business, and nobody here reads them
PLAIN = (
    (b"content-security-policy", b"frame-ancestors 'self'"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
)
NO_KEY = (
    "<!doctype html><meta name=viewport content='width=device-width'><title>A key is needed</title>"
    "<body style='font:18px sans-serif;max-width:30em;margin:3em auto;padding:0 1em'><h1>A key is needed</h1>"
    "<p>This workshop page is shared with a key. Scan the code on the start page of the computer it runs on, or type "
    "the whole address shown there. If the key was made anew, scan the new code."
)
ELSEWHERE = (
    "This page answers only on the computer it runs on, under its own address. Type the address that `colormatch page` "
    "printed, or share it with `colormatch page --share`."
)


class Gate:
    """Lets through what comes from the page itself and, while it is shared, shows the key."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app, self.access = app, access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request or websocket."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["path"].rstrip("/") in CLOSED:
            await _refuse(scope, send, 404, "Not here.")
        elif not _from_here(scope, self.access):
            await _refuse(scope, send, 403, ELSEWHERE)
        elif not self.access.shared:
            await self.app(scope, receive, _with_plain_headers(send))
        else:
            await self._with_key(scope, receive, send)

    async def _with_key(self, scope: Scope, receive: Receive, send: Send) -> None:
        query = dict(parse_qsl(scope["query_string"].decode("latin-1")))
        shown = query.pop(PARAMETER, None)
        if scope["type"] == "http" and shown is not None and self.access.admits(shown):
            await _remember(scope, send, shown, query)
        elif (held := _cookie(scope)) is not None and self.access.admits(held):
            valid = _While(self.access, held)
            await self.app(scope, valid.heard(receive), _with_plain_headers(valid.sent(send)))
        else:
            await _refuse(scope, send, 403, NO_KEY)


def _from_here(scope: Scope, access: Access) -> bool:
    """Whether a request was made by the page itself; where it is not shared, on this machine and under its own name.

    Another site's page can send requests here, but a browser says whose they are; a name that somebody else points at
    this machine (DNS rebinding) is not this page's name; and a server may listen on more addresses than it should.
    """
    host, origin = header(scope, b"host"), header(scope, b"origin")
    asks = scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD")
    if asks and origin and urlsplit(origin).netloc != host:
        return False
    try:
        name = urlsplit(f"//{host}").hostname
    except ValueError:
        return False
    own_name = name in ("127.0.0.1", "localhost", "::1", urlsplit(access.url).hostname)
    return access.shared or (own_name and _on_this_machine(scope))


def _on_this_machine(scope: Scope) -> bool:
    """Whether the other end is a loopback address."""
    host = (scope.get("client") or ("",))[0]
    try:
        return ip_address(host.removeprefix("::ffff:")).is_loopback  # an IPv4 address seen by an IPv6 socket
    except ValueError:
        return False


class _While:
    """A browser's messages and ours, for as long as the key it came with is the one that holds."""

    def __init__(self, access: Access, key: str) -> None:
        self.access, self.key = access, key

    def heard(self, receive: Receive) -> Receive:
        async def message() -> Message:
            got = await receive()
            if got["type"] == "websocket.receive" and not self.access.admits(self.key):
                return {"type": "websocket.disconnect", "code": 1008}
            return got

        return message

    def sent(self, send: Send) -> Send:
        async def message(given: Message) -> None:
            if given["type"] == "websocket.send" and not self.access.admits(self.key):
                given = {"type": "websocket.close", "code": 1008}
            await send(given)

        return message


def header(scope: Scope, name: bytes) -> str:
    """What a request says under this name (in small letters); empty where nothing."""
    return next((bytes(value).decode("latin-1") for key, value in scope["headers"] if key == name), "")


def _cookie(scope: Scope) -> str | None:
    try:
        cookies = SimpleCookie(header(scope, b"cookie"))
    except CookieError:
        return None
    return cookies[COOKIE].value if COOKIE in cookies else None


async def _remember(scope: Scope, send: Send, key: str, query: dict[str, str]) -> None:
    """Keep the key in a cookie and go to the same place without it, so that it is in no history or picture."""
    place = scope["path"] + (f"?{urlencode(query)}" if query else "")
    place = "/" + place.lstrip("/")  # never another site's: //elsewhere
    secure = "; Secure" if scope.get("scheme") in ("https", "wss") else ""
    cookie = f"{COOKIE}={key}; Path=/; HttpOnly; SameSite=Lax; Max-Age={A_YEAR_S}{secure}"
    headers = [(b"location", place.encode("latin-1", "ignore")), (b"set-cookie", cookie.encode())]
    await send({"type": "http.response.start", "status": 303, "headers": [*headers, *PLAIN]})
    await send({"type": "http.response.body", "body": b""})


async def _refuse(scope: Scope, send: Send, status: int, words: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
        return
    headers = [(b"content-type", b"text/html; charset=utf-8"), *PLAIN]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words.encode()})


def _with_plain_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", ()), *PLAIN]
        await send(message)

    return sent
