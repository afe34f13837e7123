"""Values as JSON, as cells of a CSV and as they are quoted; uids, and words as they are searched."""

from __future__ import annotations

import base64
import json
import re
import unicodedata
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from ..errors import LibraryError

_UID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
# What spreadsheets take for the start of a formula (OWASP, "CSV Injection"), and the apostrophe that wards it off.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20", "'")


def to_plain(value: Any) -> Any:
    """The value of any field as JSON and TOML hold it."""
    if isinstance(value, Mapping):
        return {key: to_plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [to_plain(each) for each in value]
    if isinstance(value, date):  # or a datetime
        return value.isoformat()
    return base64.b64encode(value).decode("ascii") if isinstance(value, bytes) else value


def as_json(value: Any) -> str:
    """Plain content as text, keys in order."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True)


def cell_of(value: Any) -> str:
    """The value of any field as one cell of a CSV, blank for nothing; text so that it is taken for no formula."""
    plain = to_plain(value)
    if isinstance(plain, str):
        return f"'{plain}" if plain.startswith(_FORMULA) else plain
    return "" if plain is None or plain in ([], {}) else as_json(plain)


def text_in(cell: str) -> str:
    """The text in a cell."""
    return cell.removeprefix("'")


def number_in(cell: str) -> float:
    """The number in a cell, or LibraryError."""
    try:
        return float(cell)
    except ValueError:
        raise LibraryError(f"{cell[:40]!r} is not a number (write 0.02, with a point).") from None


def flag_in(cell: str) -> Any:
    """True or false as TOML and JSON write them; anything else as it stands, for the check to refuse."""
    return {"true": True, "false": False}.get(cell.lower(), cell)


def json_in(cell: str) -> Any:
    """The list or table in a cell, or LibraryError."""
    try:
        return json.loads(cell)
    except (ValueError, RecursionError):
        raise LibraryError(f"{cell[:40]!r} is not readable JSON.") from None


def checked_uid(uid: object) -> str:
    """A uid that is also safe as a file name, or LibraryError."""
    if isinstance(uid, str) and _UID.fullmatch(uid):
        return uid
    raise LibraryError(
        f"{short(uid)} cannot be a uid: use 1 to 100 letters, digits, dots, dashes and underscores, "
        "starting with a letter or digit."
    )


def short(value: object) -> str:
    """A wrong value as it is quoted."""
    shown = repr(value)
    return shown if len(shown) <= 60 else shown[:57] + "..."


def folded(text: str) -> str:
    """Text as it is searched: compatibility characters and capitals made alike (Unicode NFKC, casefold)."""
    return unicodedata.normalize("NFKC", text).casefold()


def slug(name: str) -> str:
    """A name as a uid: lower-case letters and digits without accents, joined by dashes; maybe empty."""
    ascii_only = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    return re.sub(r"[^a-z0-9]+", "-", ascii_only.lower()).strip("-")[:60].strip("-")


def now() -> str:
    """The present moment, ISO 8601 in UTC."""
    return datetime.now(UTC).isoformat(timespec="microseconds")
