"""What a field of a record holds: one small class for each kind of field, asked by all that handle records.

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
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np
import sqlalchemy as sa

from ..errors import InputError, LibraryError
from ..loads import check_totals, checked_load
from ..shade import Shade
from .values import cell_of, checked_uid, flag_in, json_in, number_in, short, text_in, to_plain

_FREE_TEXT_LIMIT = 200_000  # characters; the notes and marks of a whole session of work are some thousand
_DEEPEST = 20  # of free content; what is kept is five deep, and the readers of JSON and TOML stop at some hundreds
_LARGEST_WHOLE = 2**53  # above it a float is no longer exact
LOAD = "load "  # before the uid of a pigment, the name of its column in a CSV


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
    limit: int = 200

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


class _InParts(Field):
    """Several numbers, a column each in a CSV: all of them, or none."""

    @staticmethod
    def parts(value: Any) -> list[float]:
        """The numbers."""
        return list(value)

    @staticmethod
    def whole(parts: list[float]) -> Any:
        """The plain content they make."""
        return parts

    def cells(self, value: Any, pigments: Sequence[str] = ()) -> list[str]:
        """One for each."""
        return [cell_of(part) for part in self.parts(value)] if value else ["" for _ in self.headers("")]

    def from_cells(self, name: str, cells: Mapping[str, str]) -> Any:
        """All, or none."""
        found = [cells.get(each, "") for each in self.headers(name)]
        return self.whole([number_in(cell) for cell in found]) if any(found) else None


class Lab(_InParts):
    """A colour: L*, a*, b*, a column each in the table too."""

    FROM_PLAIN = tuple

    def check(self, value: Any, whose: str) -> Any:
        """What a Shade takes."""
        try:
            return tuple(float(x) for x in Shade(value).lab)
        except InputError as wrong:
            raise LibraryError(f"{whose}: {wrong}") from None

    def columns(self, name: str, *key: sa.ForeignKey) -> list[sa.Column[Any]]:
        """One for each."""
        return [sa.Column(each, sa.Double, nullable=not self.required) for each in self.headers(name)]

    def to_row(self, name: str, value: Any) -> dict[str, Any]:
        """One for each."""
        return dict(zip(self.headers(name), value or (None, None, None), strict=True))

    def from_row(self, name: str, row: Mapping[Any, Any]) -> Any:
        """All three, or none."""
        found = tuple(row[each] for each in self.headers(name))
        return None if None in found else found

    def headers(self, name: str, pigments: Sequence[str] = ()) -> list[str]:
        """One for each."""
        return [f"{name}_{axis}" for axis in "lab"]


class Numbers(Number):
    """A row of real numbers."""

    COLUMN, EMPTY, JSON, FROM_CELL = sa.Text, (), True, staticmethod(json_in)
    FROM_PLAIN = staticmethod(lambda row: tuple(map(float, row)))

    def check(self, value: Any, whose: str) -> Any:
        """Every number within the range."""
        if isinstance(value, str) or not isinstance(value, (Sequence, np.ndarray)):
            raise LibraryError(f"{whose} must be a row of numbers, not {short(value)}.")
        return tuple(super(Numbers, self).check(each, whose) for each in value)


class Matrix(_InParts):
    """A covariance as three rows, empty when unknown; in a CSV its upper half."""

    EMPTY, JSON = (), True
    FROM_PLAIN = staticmethod(lambda rows: tuple(tuple(map(float, row)) for row in rows))

    def check(self, value: Any, whose: str) -> Any:
        """What a Shade takes for its covariance."""
        try:
            rows = Shade((50.0, 0.0, 0.0), covariance=value).covariance if len(value) else ()
        except (InputError, TypeError) as wrong:
            raise LibraryError(f"{whose}: {wrong}") from None
        return tuple(tuple(float(x) for x in row) for row in rows)

    def headers(self, name: str, pigments: Sequence[str] = ()) -> list[str]:
        """Variances and covariances, row by row."""
        return ["var_l", "cov_la", "cov_lb", "var_a", "cov_ab", "var_b"]

    @staticmethod
    def parts(value: Any) -> list[float]:
        """The upper half, row by row."""
        return [value[i][j] for i in range(3) for j in range(i, 3)]

    @staticmethod
    def whole(parts: list[float]) -> Any:
        """Both halves."""
        ll, la, lb, aa, ab, bb = parts
        return [[ll, la, lb], [la, aa, ab], [lb, ab, bb]]


class Free(Field):
    """Free content: text keys; text, numbers, yes or no, lists and further tables as values."""

    EMPTY, JSON, FROM_CELL = MappingProxyType({}), True, staticmethod(json_in)
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


class Names(Field):
    """An ordered list of texts or uids, in a table of its own; in a CSV as JSON."""

    EMPTY: ClassVar[Any] = ()
    FROM_PLAIN: ClassVar[Any] = tuple
    LINKED, FROM_CELL = True, staticmethod(json_in)

    def check(self, value: Any, whose: str) -> Any:
        """Each once; uids where it points at something."""
        if isinstance(value, str) or not isinstance(value, Sequence):
            raise LibraryError(f"{whose} must be a list, not {short(value)}.")
        settled = (checked_uid(each) if self.kind else Text().check(each, whose) for each in value)
        return tuple(dict.fromkeys(settled))

    def link_rows(self, value: Any) -> list[dict[str, Any]]:
        """What the rows of that table hold beside their owner."""
        return [{"position": i, "item": each} for i, each in enumerate(value)]

    def from_links(self, rows: Sequence[Mapping[Any, Any]]) -> Any:
        """The value in rows of that table, in their order."""
        return tuple(row["item"] for row in rows)


class Loads(Names):
    """Pigment uid -> load, in a table of its own; in a CSV one column for each pigment."""

    EMPTY, FROM_PLAIN = MappingProxyType({}), dict

    def check(self, value: Any, whose: str) -> Any:
        """What may be in a bowl: each load, and all together, from 0 to 0.10."""
        if not isinstance(value, Mapping):
            raise LibraryError(f"{whose} must be pigments with their loads, not {short(value)}.")
        try:
            loads = {checked_uid(uid): Number().check(load, f"{whose} of {uid}") for uid, load in sorted(value.items())}
            settled = {uid: checked_load(uid, load) for uid, load in loads.items()}
            check_totals(np.array([*settled.values()]))
        except InputError as wrong:
            raise LibraryError(f"{whose}: {wrong}") from None
        return settled

    def link_rows(self, value: Any) -> list[dict[str, Any]]:
        """With the load."""
        return [{"position": i, "item": uid, "amount": value[uid]} for i, uid in enumerate(value)]

    def from_links(self, rows: Sequence[Mapping[Any, Any]]) -> Any:
        """With the load."""
        return {row["item"]: row["amount"] for row in rows}

    def headers(self, name: str, pigments: Sequence[str] = ()) -> list[str]:
        """One for each pigment."""
        return [f"{LOAD}{uid}" for uid in pigments]

    def cells(self, value: Any, pigments: Sequence[str] = ()) -> list[str]:
        """Blank where there is none of it."""
        return [cell_of(value.get(uid)) for uid in pigments]

    def from_cells(self, name: str, cells: Mapping[str, str]) -> Any:
        """From every column of a load."""
        return {c.removeprefix(LOAD): number_in(cell) for c, cell in cells.items() if c.startswith(LOAD) and cell}


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
