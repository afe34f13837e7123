"""Who may use the page: this machine alone, or, while it is shared, whoever holds its key.

The key is an unguessable text in the address (and its QR code); a browser that gave it once keeps it in a cookie. It
stays the same from one start to the next, so that a phone need not scan again, until it is made anew.
"""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from hmac import compare_digest
from pathlib import Path
from urllib.parse import quote

from ..errors import InputError
from ..library import data_folder

KEY_BYTES = 16  # 128 bits: cannot be guessed (common practice, no source)
PARAMETER = "key"


@dataclass(slots=True)
class Access:
    """url: the page as typed into a browser. key: what must be shown to be let in; None: it is not shared."""

    url: str
    key: str | None = None

    @property
    def shared(self) -> bool:
        """Whether others in the network may come in with the key."""
        return self.key is not None

    @property
    def link(self) -> str:
        """The address with the key in it: for a QR code, or to be typed."""
        return self.url if self.key is None else f"{self.url}/?{PARAMETER}={quote(self.key)}"

    def admits(self, given: str | None) -> bool:
        """Whether this key opens the page; takes the same time for every wrong one."""
        return self.key is None or (given is not None and compare_digest(given.encode(), self.key.encode()))

    def renew(self) -> None:
        """Make a new key: whoever holds the old one is out at once. Raises InputError when it cannot be kept."""
        self.key = _kept(_key_file(), secrets.token_urlsafe(KEY_BYTES))


_current: Access | None = None


def current() -> Access | None:
    """How this process serves the page; None where something else serves it."""
    return _current


def begin(url: str, *, share: bool, new_key: bool = False) -> Access:
    """Say how the page is served from now on; share: with the kept key, made the first time."""
    global _current
    access = Access(url)
    if share:
        access.key = _read(_key_file())
        if new_key or not access.key:
            access.renew()
    _current = access
    return access


def _key_file() -> Path:
    return data_folder().parent / "page.key"


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def _kept(file: Path, key: str) -> str:
    """The key, written where only this user can read it."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.unlink(missing_ok=True)
        with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as out:
            out.write(key)
    except OSError as error:
        raise InputError(
            f"The key of the shared page could not be kept in {file} ({error.strerror}). Make room there, or open the "
            "page without --share."
        ) from error
    return key
