"""How a field of a record is stored: what it holds, its limits, and what it points at.

Each record (records.py) is a frozen dataclass whose fields are made by the functions below. The table
definitions, the checks, the history and the exchange format all read the same `Spec`, so a field is
described once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any, Literal

NAME_LIMIT = 200
NOTE_LIMIT = 20_000

Form = Literal[
    "text", "number", "whole", "flag", "day", "moment", "reference",
    "loads", "names", "lab", "numbers", "matrix", "mapping", "blob",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Spec:
    """What a field holds; `kind`: the kind of record it points at; `owned`: it belongs to that one."""

    form: Form
    required: bool = False
    limit: int = NAME_LIMIT
    low: float | None = None
    high: float | None = None
    kind: str | None = None
    owned: bool = False


_EMPTY: dict[str, Any] = {
    "text": "", "flag": False, "names": (), "numbers": (), "matrix": (), "blob": b"",
    "loads": MappingProxyType({}), "mapping": MappingProxyType({}),
}  # fmt: skip


def _make(spec: Spec, default: Any = None) -> Any:
    """A dataclass field that carries its Spec; without a default when it is required."""
    if spec.required:
        return field(metadata={"spec": spec})
    if spec.form in ("loads", "mapping"):
        return field(default_factory=dict, metadata={"spec": spec})
    return field(default=_EMPTY.get(spec.form) if default is None else default, metadata={"spec": spec})


def name() -> Any:
    """A name the maker gives: required, not empty."""
    return _make(Spec("text", required=True))


def text(default: str = "", *, limit: int = NAME_LIMIT) -> Any:
    """A short text, empty when unknown."""
    return _make(Spec("text", limit=limit), default)


def notes() -> Any:
    """A long text."""
    return _make(Spec("text", limit=NOTE_LIMIT))


def number(
    default: float | None = None,
    *,
    low: float | None = None,
    high: float | None = None,
    required: bool = False,
) -> Any:
    """A real number, None when unknown."""
    return _make(Spec("number", required=required, low=low, high=high), default)


def whole(default: int | None = None, *, low: float | None = 0) -> Any:
    """A whole number, None when unknown."""
    return _make(Spec("whole", low=low), default)


def flag(default: bool = False) -> Any:
    """Yes or no."""
    return _make(Spec("flag"), default)


def day() -> Any:
    """A calendar date, None when unknown."""
    return _make(Spec("day"))


def moment() -> Any:
    """A date and time with its offset from UTC, None when unknown."""
    return _make(Spec("moment"))


def reference(kind: str, *, required: bool = False, owned: bool = False) -> Any:
    """The uid of another record; `owned`: this one is binned and purged with that one."""
    return _make(Spec("reference", required=required, kind=kind, owned=owned))


def loads() -> Any:
    """Pigment uid -> load [g pigment per g dry cement]."""
    return _make(Spec("loads", kind="pigment", low=0.0, high=1.0))


def names(kind: str | None = None) -> Any:
    """An ordered list of short texts, or of uids when a kind is named."""
    return _make(Spec("names", kind=kind))


def lab(*, required: bool = False) -> Any:
    """CIELAB, D65, CIE 1931 2 degree observer: (L*, a*, b*)."""
    return _make(Spec("lab", required=required))


def numbers(*, low: float | None = None) -> Any:
    """A row of real numbers."""
    return _make(Spec("numbers", low=low))


def matrix() -> Any:
    """A 3 x 3 covariance as three rows; empty when unknown."""
    return _make(Spec("matrix"))


def mapping() -> Any:
    """Free content: text keys; text, numbers, yes/no, lists and further mappings as values."""
    return _make(Spec("mapping"))


def blob() -> Any:
    """Bytes."""
    return _make(Spec("blob"))


_SPECS: dict[type[Any], Mapping[str, Spec]] = {}


def specs(kind: type[Any]) -> Mapping[str, Spec]:
    """Field name -> Spec of a record class, in the order of its fields (without uid and version)."""
    if kind not in _SPECS:
        found = {each.name: each.metadata["spec"] for each in fields(kind) if "spec" in each.metadata}
        _SPECS[kind] = MappingProxyType(found)
    return _SPECS[kind]
