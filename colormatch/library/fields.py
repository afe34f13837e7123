"""What a field of a record holds: one small class for each kind of field, asked by all that handle records.

Those of several values (a colour, a covariance, loads, lists) are in compounds.py.

Each field of a record (records.py) is `kept(...)` one of these. It checks a value (`check`), has plain content for JSON
and TOML (`to_plain`, `from_plain`), columns in the table of its record (`columns`, `to_row`, `from_row`) and cells in
a CSV (`headers`, `cells`, `from_cells`). Most follows from the plain content, so that a class says little more than
what it allows.
"""

from __future__ import annotations

import base64
import binascii
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import UTC, date, datetime
from typing import Any, ClassVar

import numpy as np
import sqlalchemy as sa

from ..errors import LibraryError
from ..frozen import FrozenMapping
from ..naming import LONGEST_NAME
from .values import cell_of, checked_uid, flag_in, json_in, number_in, short, text_in, to_plain

_FREE_TEXT_LIMIT = 200_000  # characters; the notes and marks of a whole session of work are some thousand
_DEEPEST = 20  # of free content; what is kept is five deep, and the readers of JSON and TOML stop at some hundreds
_LARGEST_WHOLE = 2**53  # above it a float is no longer exact


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Any field. `kind`: the kind of record it points at; `owned`: its record belongs to that one."""

    COLUMN: ClassVar[Any] = sa.Text
    EMPTY: ClassVar[Any] = None
    JSON: ClassVar[bool] = False  # stored as JSON, an empty text for nothing
    LINKED: ClassVar[bool] = False  # in a table of its own
    FROM_PLAIN: ClassVar[Any] = staticmethod(lambda value: value)
    FROM_CELL: ClassVar[Any] = staticmethod(text_in)
    required: bool = False
    kind: str | None = None
    owned: bool = False

    def check(self, value: Any, whose: str) -> Any:
        """The value in its one settled form, or LibraryError with the field (`whose`) and what is allowed."""
        return checked_uid(value)

    def uids(self, value: Any) -> list[str]:
        """The uids it points at."""
        return ([*value] if self.LINKED else [value]) if self.kind and value else []

    def columns(self, name: str, *key: sa.ForeignKey) -> list[sa.Column[Any]]:
        """Its columns in the table of its record."""
        nullable = self.EMPTY is None and not self.required
        return [] if self.LINKED else [sa.Column(name, self.COLUMN, *key, nullable=nullable, index=bool(key))]

    def to_row(self, name: str, value: Any) -> dict[str, Any]:
        """Column -> what is stored."""
        if self.LINKED:
            return {}
        plain = None if value is None else to_plain(value)
        return {name: (json.dumps(plain, ensure_ascii=False) if plain else "") if self.JSON else plain}

    def from_row(self, name: str, row: Mapping[Any, Any]) -> Any:
        """The value in a row of the table; None for none."""
        stored = row[name]
        if stored is None or (self.JSON and not stored):
            return None
        return self.FROM_PLAIN(json.loads(stored) if self.JSON else stored)

    def headers(self, name: str, pigments: Sequence[str] = ()) -> list[str]:
        """Its columns in a CSV."""
        return [name]

    def cells(self, value: Any, pigments: Sequence[str] = ()) -> list[str]:
        """What stands in them."""
        return [cell_of(value)]

    def from_cells(self, name: str, cells: Mapping[str, str]) -> Any:
        """Plain content from the cells of a line; None for none; LibraryError."""
        return self.FROM_CELL(cells[name]) if cells.get(name) else None


class Reference(Field):
    """The uid of another record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Text(Field):
    """A text of at most `limit` characters, empty when unknown."""

    EMPTY: ClassVar[Any] = ""
    limit: int = LONGEST_NAME

    def check(self, value: Any, whose: str) -> Any:
        """Text without what is no character; not empty where it is required."""
        if not isinstance(value, str):
            raise LibraryError(f"{whose} must be text, not {short(value)}.")
        if len(value) > self.limit:
            raise LibraryError(f"{whose} has {len(value)} characters; at most {self.limit} are kept. Shorten it.")
        if "\x00" in value or any("\ud800" <= c <= "\udfff" for c in value):
            raise LibraryError(f"{whose} holds characters that are not text ({short(value)}); type it again.")
        if self.required and not value.strip():
            raise LibraryError(f"{whose} is empty; give it a name.")
        return value

    def from_cells(self, name: str, cells: Mapping[str, str]) -> Any:
        """A blank cell is an empty text, whatever the default."""
        return text_in(cells[name]) if name in cells else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Number(Field):
    """A real number from `low` to `high`, None when unknown."""

    COLUMN: ClassVar[Any] = sa.Double
    FROM_CELL: ClassVar[Any] = staticmethod(number_in)
    low: float | None = None
    high: float | None = None

    def check(self, value: Any, whose: str) -> Any:
        """A finite float within the range."""
        if isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
            raise LibraryError(f"{whose} must be a number, not {short(value)}.")
        number = float(value) if isinstance(value, float) or abs(int(value)) < 2**1000 else math.inf
        below = self.low is not None and number < self.low
        above = self.high is not None and number > self.high
        if not math.isfinite(number) or below or above:
            low = "any number" if self.low is None else f"{self.low:g} or more"
            allowed = low if self.high is None else f"{self.low:g} to {self.high:g}"
            raise LibraryError(f"{whose} is {number:g}; it must be {allowed}.")
        return number + 0.0  # -0.0 becomes 0.0


class Whole(Number):
    """A whole number."""

    COLUMN = sa.BigInteger

    def check(self, value: Any, whose: str) -> Any:
        """A whole number that a float holds exactly."""
        number = super().check(value, whose)
        if number != int(number) or abs(number) > _LARGEST_WHOLE:
            raise LibraryError(f"{whose} is {number:g}; it must be a whole number.")
        return int(number)


class Flag(Field):
    """Yes or no."""

    COLUMN, EMPTY, FROM_CELL = sa.Boolean, False, staticmethod(flag_in)
    FROM_PLAIN = bool  # SQLite has 0 and 1

    def check(self, value: Any, whose: str) -> Any:
        """A bool, nothing that is merely like one."""
        if not isinstance(value, (bool, np.bool_)):
            raise LibraryError(f"{whose} must be true or false, not {short(value)}.")
        return bool(value)


class Day(Field):
    """A calendar date."""

    FROM_PLAIN = date.fromisoformat

    def check(self, value: Any, whose: str) -> Any:
        """A date, or its text."""
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        try:
            return date.fromisoformat(value)
        except (TypeError, ValueError):
            raise LibraryError(f"{whose} must be a date such as 2026-03-31, not {short(value)}.") from None


class Moment(Field):
    """A date and time, kept in UTC."""

    FROM_PLAIN = datetime.fromisoformat

    def check(self, value: Any, whose: str) -> Any:
        """A moment with its offset from UTC, or its text."""
        try:
            moment = value if isinstance(value, datetime) else datetime.fromisoformat(value)
            if moment.tzinfo is not None:
                return moment.astimezone(UTC)
        except (TypeError, ValueError, OverflowError):
            pass
        raise LibraryError(
            f"{whose} must be a date and time with its offset from UTC, such as 2026-03-31T14:05:00+02:00, "
            f"not {short(value)}."
        )


class Free(Field):
    """Free content: text keys; text, numbers, yes or no, lists and further tables as values."""

    EMPTY, JSON, FROM_CELL = FrozenMapping(), True, staticmethod(json_in)
    FROM_PLAIN = dict

    def check(self, value: Any, whose: str) -> Any:
        """What JSON and TOML hold alike; None is the same as not there."""
        if not isinstance(value, Mapping):
            raise LibraryError(f"{whose} must be a table of keys and values, not {short(value)}.")
        return self._settled(value, whose, 0)

    def _settled(self, value: Any, whose: str, depth: int) -> Any:
        if depth > _DEEPEST:
            raise LibraryError(f"{whose} is nested more than {_DEEPEST} deep.")
        if isinstance(value, Mapping):
            there = {Text().check(key, whose): each for key, each in value.items() if each is not None}
            return {key: self._settled(there[key], whose, depth + 1) for key in sorted(there)}
        if isinstance(value, str):
            return Text(limit=_FREE_TEXT_LIMIT).check(value, whose)
        if isinstance(value, (bool, np.bool_)):
            return bool(value)
        if isinstance(value, (int, np.integer)):
            return Whole().check(value, whose)
        if isinstance(value, (float, np.floating)):
            return Number().check(value, whose)
        if isinstance(value, date):
            return value.isoformat()
        if isinstance(value, (Sequence, np.ndarray)):
            return [self._settled(each, whose, depth + 1) for each in value]
        raise LibraryError(f"{whose} holds {short(value)}; it may hold text, numbers, true or false, lists and tables.")


class Blob(Field):
    """Bytes; in the exchange format a file of their own."""

    COLUMN, EMPTY, FROM_PLAIN = sa.LargeBinary, b"", staticmethod(base64.b64decode)

    def check(self, value: Any, whose: str) -> Any:
        """Bytes, or their base64."""
        if isinstance(value, (bytes, bytearray)):
            return bytes(value)
        try:
            return base64.b64decode(value, validate=True)
        except (TypeError, ValueError, binascii.Error):
            raise LibraryError(f"{whose} must be bytes, not {short(value)}.") from None

    def to_row(self, name: str, value: Any) -> dict[str, Any]:
        """As they are."""
        return {name: value}

    def from_row(self, name: str, row: Mapping[Any, Any]) -> Any:
        """As they are."""
        return bytes(row[name])


def kept(spec: Field, default: Any = None) -> Any:
    """A field of a record that is kept as `spec` says; without a default where it is required."""
    if spec.required:
        return field(metadata={"spec": spec})
    empty = spec.EMPTY if default is None else default
    if isinstance(empty, Mapping):
        return field(default_factory=dict, metadata={"spec": spec})
    return field(default=empty, metadata={"spec": spec})


_SPECS: dict[type[Any], Mapping[str, Field]] = {}


def specs(kind: type[Any]) -> Mapping[str, Field]:
    """Field name -> Field of a record class, in the order of its fields (without uid and version)."""
    if kind not in _SPECS:
        _SPECS[kind] = {each.name: each.metadata["spec"] for each in fields(kind) if "spec" in each.metadata}
    return _SPECS[kind]
