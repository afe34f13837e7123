"""Fields of several values: a colour and its covariance, rows of numbers, lists of names, loads of pigment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

import numpy as np
import sqlalchemy as sa

from ..errors import InputError, LibraryError
from ..frozen import FrozenMapping
from ..loads import check_totals, checked_load
from ..shade import Shade
from .fields import Field, Number, Text
from .values import cell_of, checked_uid, json_in, number_in, short

LOAD = "load "  # before the uid of a pigment, the name of its column in a CSV


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

    EMPTY, FROM_PLAIN = FrozenMapping(), dict

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
