"""Start the page: Streamlit's own server, with the gate before it."""

from __future__ import annotations

import os
import webbrowser
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Any

from ..errors import InputError
from .access import Access
from .gate import Gate
from .redirect import ToLastName

if TYPE_CHECKING:
    from starlette.middleware import Middleware

_PACKAGE = Path(__file__).resolve().parents[1]


def page_script() -> Path:
    """The page's script: beside the package in a checkout, within it when installed. Raises InputError."""
    places = (_PACKAGE / "app.py", _PACKAGE.parent / "app.py")
    script = next((place for place in places if place.is_file()), None)
    if script is None:
        raise InputError("The page's file app.py is not beside the package; install colormatch again.")
    return script


def behind_the_gate(access: Access | None = None) -> list[Middleware]:
    """What stands before the page's server; without an access, for this machine alone."""
    from starlette.middleware import Middleware

    return [Middleware(Gate, access=access or Access("http://127.0.0.1")), Middleware(ToLastName)]


def serve(
    access: Access,
    *,
    address: str,
    port: int,
    show: bool = True,
    certificate: Path | None = None,
    certificate_key: Path | None = None,
) -> None:
    """Serve the page until it is stopped. certificate, certificate_key: PEM files for https."""
    import streamlit as st

    script = page_script()
    os.chdir(script.parent)  # the look of the page is in .streamlit/config.toml beside it
    _raise_handle_limit()

    @asynccontextmanager
    async def lifespan(_: st.App) -> AsyncIterator[dict[str, Any]]:
        if show:
            Thread(target=webbrowser.open, args=(access.link,), daemon=True).start()
        yield {}

    app = st.App(script, middleware=behind_the_gate(access), lifespan=lifespan)
    options: dict[str, Any] = {
        "server.address": address,
        "server.port": port,
        "server.headless": True,  # else the first start on a machine asks for a mail address, and waits
        "browser.serverAddress": "127.0.0.1",
        "browser.gatherUsageStats": False,
        "logger.hideWelcomeMessage": True,
    }
    if certificate is not None:
        options |= {"server.sslCertFile": str(certificate), "server.sslKeyFile": str(certificate_key)}
    app.run(config=options)


def _raise_handle_limit() -> None:
    """As many open files as this user may have: each browser takes about three."""
    if os.name == "posix":
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
        with suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))
