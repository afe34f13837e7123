"""Every page has an address of one name: beside one in a folder, Streamlit's script finds none of its files."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from .gate import header

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send


class ToLastName:
    """Leads a browser from `/a/b` to `/b`: a place, or our own word that there is none."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request or websocket."""
        if not _of_a_page(scope):
            await self.app(scope, receive, send)
            return
        query = scope["query_string"].decode("latin-1")
        place = f"/{quote(_names(scope)[-1])}" + (f"?{query}" if query else "")
        headers = [(b"location", place.encode("latin-1"))]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})


def _of_a_page(scope: Scope) -> bool:
    """Whether a browser asks for a page (no file, nothing of the server's own) by an address of several names."""
    if scope["type"] != "http" or scope["method"] != "GET" or "text/html" not in header(scope, b"accept"):
        return False
    names = _names(scope)
    return len(names) > 1 and "." not in names[-1] and not names[0].startswith("_")


def _names(scope: Scope) -> list[str]:
    return [name for name in scope["path"].split("/") if name]
