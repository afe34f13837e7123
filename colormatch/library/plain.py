"""A record as plain content and back: the one form the history, the exchange format and the tables share.

Plain content is a dict of field name -> text, number, yes/no, list or dict; days and moments are ISO 8601
text, bytes are base64. `record_from` checks everything it takes in and raises LibraryError with the field,
the value and what is allowed.
"""

from __future__ import annotations

import base64
import binascii
import math
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any, TypeVar

import numpy as np

from ..errors import InputError, LibraryError
from ..shade import Shade
from .fields import Spec, specs
from .records import Record, ShadeRecord

R = TypeVar("R", bound=Record)

_UID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_LARGEST_WHOLE = 2**53
_DEEPEST = 20


def plain(record: Record) -> dict[str, Any]:
    """Field name -> plain value, without uid and version; None where unknown."""
    return {name: _to_plain(spec, getattr(record, name)) for name, spec in specs(type(record)).items()}


def record_from(kind: type[R], content: Mapping[str, Any], *, uid: str = "", version: int = 0) -> R:
    """A checked record from plain content; missing fields take their default, unknown ones are refused."""
    known = specs(kind)
    for name in content:
        if name not in known:
            raise LibraryError(f"A {kind.KIND} has no field {name!r}. It has: {', '.join(known)}.")
    for name, spec in known.items():
        if spec.required and content.get(name) is None:
            raise LibraryError(f"{_whose(kind, uid, name)} is missing; it must be given.")
    values = {
        name: _checked(known[name], value, _whose(kind, uid, name))
        for name, value in content.items()
        if value is not None
    }
    return _as_a_whole(kind(uid=checked_uid(uid) if uid else "", version=version, **values))


def trusted_record(kind: type[R], content: Mapping[str, Any], *, uid: str, version: int) -> R:
    """A record from plain content that was checked when it was stored."""
    known = specs(kind)
    values = {
        name: _from_plain(known[name].form, value)
        for name, value in content.items()
        if name in known and value is not None
    }
    return kind(uid=uid, version=version, **values)


def checked(record: R) -> R:
    """The same record with every field checked and in its one settled form."""
    kind = type(record)
    values = {
        name: _checked(spec, getattr(record, name), _whose(kind, record.uid, name))
        for name, spec in specs(kind).items()
        if getattr(record, name) is not None
    }
    for name, spec in specs(kind).items():
        if spec.required and getattr(record, name) is None:
            raise LibraryError(f"{_whose(kind, record.uid, name)} is missing; it must be given.")
    if record.uid:
        checked_uid(record.uid)
    return _as_a_whole(replace(record, **values))


def checked_uid(uid: object) -> str:
    """A uid that is also safe as a file name, or LibraryError."""
    if isinstance(uid, str) and _UID.fullmatch(uid):
        return uid
    raise LibraryError(
        f"{_short(uid)} cannot be a uid: use 1 to 100 letters, digits, dots, dashes and underscores, "
        "starting with a letter or digit."
    )


def folded(text: str) -> str:
    """Text as it is searched: compatibility characters and capitals made alike (Unicode NFKC, casefold)."""
    return unicodedata.normalize("NFKC", text).casefold()


def now() -> str:
    """The present moment, ISO 8601 in UTC."""
    return datetime.now(UTC).isoformat(timespec="microseconds")


# --- one field ---------------------------------------------------------------------------------------


def _to_plain(spec: Spec, value: Any) -> Any:
    if value is None:
        return None
    match spec.form:
        case "day" | "moment":
            return value.isoformat()
        case "names" | "numbers" | "lab":
            return list(value)
        case "matrix":
            return [list(row) for row in value]
        case "loads" | "mapping":
            return _unfrozen(value)
        case "blob":
            return base64.b64encode(value).decode("ascii")
    return value


def _from_plain(form: str, value: Any) -> Any:
    match form:
        case "day":
            return date.fromisoformat(value)
        case "moment":
            return datetime.fromisoformat(value)
        case "names" | "numbers" | "lab":
            return tuple(value)
        case "matrix":
            return tuple(tuple(row) for row in value)
        case "blob":
            return base64.b64decode(value)
    return value


def _checked(spec: Spec, value: Any, whose: str) -> Any:
    return _CHECKS[spec.form](spec, value, whose)


def _text(spec: Spec, value: Any, whose: str) -> str:
    if not isinstance(value, str):
        raise LibraryError(f"{whose} must be text, not {_short(value)}.")
    if len(value) > spec.limit:
        raise LibraryError(f"{whose} has {len(value)} characters; at most {spec.limit} are kept. Shorten it.")
    if "\x00" in value or any("\ud800" <= c <= "\udfff" for c in value):
        raise LibraryError(f"{whose} holds characters that are not text ({_short(value)}); type it again.")
    if spec.required and not value.strip():
        raise LibraryError(f"{whose} is empty; give it a name.")
    return value


def _number(spec: Spec, value: Any, whose: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
        raise LibraryError(f"{whose} must be a number, not {_short(value)}.")
    number = float(value) if isinstance(value, float) or abs(int(value)) < 2**1000 else math.inf
    below = spec.low is not None and number < spec.low
    above = spec.high is not None and number > spec.high
    if not math.isfinite(number) or below or above:
        raise LibraryError(f"{whose} is {number:g}; it must be {_range(spec)}.")
    return number + 0.0  # -0.0 becomes 0.0


def _whole(spec: Spec, value: Any, whose: str) -> int:
    number = _number(spec, value, whose)
    if number != int(number) or abs(number) > _LARGEST_WHOLE:
        raise LibraryError(f"{whose} is {number:g}; it must be a whole number.")
    return int(number)


def _flag(spec: Spec, value: Any, whose: str) -> bool:
    if not isinstance(value, (bool, np.bool_)):
        raise LibraryError(f"{whose} must be true or false, not {_short(value)}.")
    return bool(value)


def _day(spec: Spec, value: Any, whose: str) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise LibraryError(f"{whose} must be a date such as 2026-03-31, not {_short(value)}.") from None


def _moment(spec: Spec, value: Any, whose: str) -> datetime:
    try:
        moment = value if isinstance(value, datetime) else datetime.fromisoformat(value)
    except (TypeError, ValueError):
        moment = None
    if moment is None or moment.tzinfo is None:
        raise LibraryError(
            f"{whose} must be a date and time with its offset from UTC, such as 2026-03-31T14:05:00+02:00, "
            f"not {_short(value)}."
        )
    return moment.astimezone(UTC)


def _reference(spec: Spec, value: Any, whose: str) -> str:
    return checked_uid(value)


def _loads(spec: Spec, value: Any, whose: str) -> dict[str, float]:
    if not isinstance(value, Mapping):
        raise LibraryError(f"{whose} must be pigments with their loads, not {_short(value)}.")
    return {checked_uid(uid): _number(spec, load, f"{whose} of {uid}") for uid, load in sorted(value.items())}


def _names(spec: Spec, value: Any, whose: str) -> tuple[str, ...]:
    if isinstance(value, str) or not isinstance(value, Sequence):
        raise LibraryError(f"{whose} must be a list, not {_short(value)}.")
    settled = tuple(checked_uid(x) if spec.kind else _text(spec, x, whose) for x in value)
    return tuple(dict.fromkeys(settled))


def _lab(spec: Spec, value: Any, whose: str) -> tuple[float, ...]:
    try:
        return tuple(float(x) for x in Shade(value).lab)
    except InputError as wrong:
        raise LibraryError(f"{whose}: {wrong}") from None


def _numbers(spec: Spec, value: Any, whose: str) -> tuple[float, ...]:
    if isinstance(value, str) or not isinstance(value, (Sequence, np.ndarray)):
        raise LibraryError(f"{whose} must be a row of numbers, not {_short(value)}.")
    return tuple(_number(spec, x, whose) for x in value)


def _matrix(spec: Spec, value: Any, whose: str) -> tuple[tuple[float, ...], ...]:
    if len(value) == 0:
        return ()
    try:
        rows = Shade((50.0, 0.0, 0.0), covariance=value).covariance
    except InputError as wrong:
        raise LibraryError(f"{whose}: {wrong}") from None
    return tuple(tuple(float(x) for x in row) for row in rows)


def _mapping(spec: Spec, value: Any, whose: str) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise LibraryError(f"{whose} must be a table of keys and values, not {_short(value)}.")
    return {key: _free(each, whose, 1) for key, each in _keyed(value, whose)}


def _free(value: Any, whose: str, depth: int) -> Any:
    if depth > _DEEPEST:
        raise LibraryError(f"{whose} is nested more than {_DEEPEST} deep.")
    if isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _text(Spec("text", limit=200_000), value, whose)
    if isinstance(value, (int, np.integer)):
        return _whole(Spec("whole"), value, whose)
    if isinstance(value, (float, np.floating)):
        return _number(Spec("number"), value, whose)
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {key: _free(each, whose, depth + 1) for key, each in _keyed(value, whose)}
    if isinstance(value, (Sequence, np.ndarray)):
        return [_free(each, whose, depth + 1) for each in value]
    raise LibraryError(f"{whose} holds {_short(value)}; it may hold text, numbers, true or false, lists and tables.")


def _keyed(value: Mapping[Any, Any], whose: str) -> list[tuple[str, Any]]:
    """The items that have a value, by key: None is the same as not there."""
    pairs = [(_text(Spec("text"), key, whose), each) for key, each in value.items() if each is not None]
    return sorted(pairs, key=lambda pair: pair[0])


def _blob(spec: Spec, value: Any, whose: str) -> bytes:
    if isinstance(value, (bytes, bytearray)):
        return bytes(value)
    try:
        return base64.b64decode(value, validate=True)
    except (TypeError, ValueError, binascii.Error):
        raise LibraryError(f"{whose} must be bytes, not {_short(value)}.") from None


_CHECKS: dict[str, Callable[[Spec, Any, str], Any]] = {
    "text": _text, "number": _number, "whole": _whole, "flag": _flag, "day": _day, "moment": _moment,
    "reference": _reference, "loads": _loads, "names": _names, "lab": _lab, "numbers": _numbers,
    "matrix": _matrix, "mapping": _mapping, "blob": _blob,
}  # fmt: skip


def _as_a_whole(record: R) -> R:
    """Checks that need more than one field."""
    if isinstance(record, ShadeRecord):
        if bool(record.tile_uid) == bool(record.swatch_uid or record.piece_uid):
            raise LibraryError(
                "A shade belongs to a tile, or to a swatch or a piece (or both of these): give the uid of one of them."
            )
        if len(record.wavelength_nm) != len(record.reflectance):
            raise LibraryError(
                f"The spectrum has {len(record.wavelength_nm)} wavelengths and {len(record.reflectance)} "
                "reflectances; there must be as many of the one as of the other."
            )
        if any(b <= a for a, b in zip(record.wavelength_nm, record.wavelength_nm[1:], strict=False)):
            raise LibraryError("The wavelengths of a spectrum must rise from one to the next.")
    return record


def _unfrozen(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _unfrozen(each) for key, each in value.items()}
    return [_unfrozen(each) for each in value] if isinstance(value, (list, tuple)) else value


def _range(spec: Spec) -> str:
    low = "any number" if spec.low is None else f"{spec.low:g} or more"
    return low if spec.high is None else f"{spec.low:g} to {spec.high:g}"


def _whose(kind: type[Record], uid: str, name: str) -> str:
    owner = f"{kind.KIND.replace('_', ' ')}{f' {uid[:40]}' if uid else ''}"
    return f"The {name.replace('_', ' ')} of {owner}"


def _short(value: object) -> str:
    shown = repr(value)
    return shown if len(shown) <= 60 else shown[:57] + "..."
