"""A record as plain content and back: the one form the history, the exchange format and the tables share.

Plain content is a dict of field name -> text, number, yes/no, list or dict; days and moments are ISO 8601 text, bytes
are base64. `record_from` and `checked` raise LibraryError with the field, the value and what is allowed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, TypeVar

from ..errors import LibraryError
from .fields import specs
from .record import Record
from .values import checked_uid, to_plain

R = TypeVar("R", bound=Record)

# What a maker calls a kind of record, where its own word is not that.
_WORDS = {"cement_lot": "bag of cement", "pigment_lot": "jar", "tile": "test tile", "shade": "measured shade"}


def plain(record: Record) -> dict[str, Any]:
    """Field name -> plain value, without uid and version; None where unknown."""
    return {name: to_plain(getattr(record, name)) for name in specs(type(record))}


def record_from(kind: type[R], content: Mapping[str, Any], *, uid: str = "", version: int = 0) -> R:
    """A checked record from plain content; missing fields take their default, unknown ones are refused."""
    known = specs(kind)
    for name in content:
        if name not in known:
            raise LibraryError(f"A {kind.KIND} has no field {name!r}. It has: {', '.join(known)}.")
    return _whole(kind(uid=checked_uid(uid) if uid else "", version=version, **_settled(kind, content, uid)))


def trusted_record(kind: type[R], content: Mapping[str, Any], *, uid: str, version: int) -> R:
    """A record from plain content that was checked when it was stored."""
    known = specs(kind)
    there = {name: value for name, value in content.items() if name in known and value is not None}
    return kind(uid=uid, version=version, **{name: known[name].FROM_PLAIN(value) for name, value in there.items()})


def checked(record: R) -> R:
    """The same record with every field checked and in its one settled form."""
    kind = type(record)
    if record.uid:
        checked_uid(record.uid)
    values = {name: getattr(record, name) for name in specs(kind)}
    return _whole(replace(record, **_settled(kind, values, record.uid)))


def _settled(kind: type[Record], content: Mapping[str, Any], uid: str) -> dict[str, Any]:
    """What the fields of a record shall be; those that are unknown are left out."""
    owner = f"{said(kind)}{f' {uid[:40]}' if uid else ''}"
    settled = {}
    for name, spec in specs(kind).items():
        whose = f"The {name.replace('_', ' ')} of {owner}"
        if content.get(name) is not None:
            settled[name] = spec.check(content[name], whose)
        elif spec.required:
            raise LibraryError(f"{whose} is missing; it must be given.")
    return settled


def _whole(record: R) -> R:
    record.check_whole()
    return record


def said(kind: type[Record] | str) -> str:
    """A kind of record, or its name, in a maker's words."""
    name = kind if isinstance(kind, str) else kind.KIND
    return _WORDS.get(name, name.replace("_", " "))
