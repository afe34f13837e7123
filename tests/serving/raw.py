"""Requests as a stranger sends them: straight into an ASGI application, no client's manners in between."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field


@dataclass
class Answer:
    status: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    body: bytes = b""


def scope_of(kind, target, headers, method="GET", scheme="http", client="127.0.0.1"):
    path, _, query = target.partition("?")
    given = [(name.lower().encode(), value.encode("latin-1", "replace")) for name, value in headers.items()]
    return {
        "type": kind, "path": path, "raw_path": path.encode(), "query_string": query.encode(), "headers": given,
        "method": method, "scheme": scheme, "client": (client, 40000),
        "http_version": "1.1", "root_path": "", "subprotocols": [],
    }  # fmt: skip


def request(app, method, target, headers, scheme="http", client="127.0.0.1"):
    """One request, and the whole answer."""
    answer = Answer()

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        if message["type"] == "http.response.start":
            answer.status = message["status"]
            answer.headers = {name.decode(): value.decode() for name, value in message["headers"]}
        else:
            answer.body += message.get("body", b"")

    asyncio.run(app(scope_of("http", target, headers, method, scheme, client), receive, send))
    return answer


def talk(app, target, headers, *said):
    """Open a websocket, say each thing (a function is called instead), and give every message that came back."""
    to_say, heard = list(said), []

    async def receive():
        if not any(message["type"] == "websocket.accept" for message in heard):
            return {"type": "websocket.connect"}
        while to_say and callable(to_say[0]):
            to_say.pop(0)()
        if not to_say:
            return {"type": "websocket.disconnect", "code": 1000}
        return {"type": "websocket.receive", "text": to_say.pop(0)}

    async def send(message):
        heard.append(message)

    asyncio.run(app(scope_of("websocket", target, headers, scheme="ws"), receive, send))
    return heard
