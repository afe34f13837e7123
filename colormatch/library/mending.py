"""One kept record put right, field by field as an export's tables write it: also one that is not allowed any more."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from ..errors import LibraryError
from .compounds import LOAD, Loads
from .fields import Blob, specs
from .plain import plain, record_from, said
from .record import Record
from .records import KINDS
from .store import Library

R = TypeVar("R", bound=Record)


def kind_called(name: str) -> type[Record]:
    """The kind of record of this name, its own or a maker's: shade or measured shade, drying weight."""
    words = name.strip().lower().replace("-", " ").replace("_", " ")
    kind = next((each for each in KINDS.values() if words in (said(each), each.KIND.replace("_", " "))), None)
    if kind is None:
        raise LibraryError(f"There is no kind {name[:60]!r}. There are: {', '.join(map(said, KINDS.values()))}.")
    return kind


def mend(library: Library, kind: type[R], uid: str, cells: Mapping[str, str]) -> R:
    """Keep a record with some fields as these cells say; the rest stays, what was before is in its history.

    cells: a column's name in an export's table -> its text, blank for unknown: {"state": "dry", "load red": "0.02"}.
    Raises LibraryError for a column that is none and a value that is not allowed; NotInLibrary.
    """
    return library.update(kind, uid, lambda record: mended(record, cells))


def mended(record: R, cells: Mapping[str, str]) -> R:
    """The record with these cells in place of its own; checked."""
    kind, content, columns = type(record), plain(record), []
    pigments = sorted({*getattr(record, "loads", {}), *(c.removeprefix(LOAD) for c in cells if c.startswith(LOAD))})
    for name, spec in specs(kind).items():
        if isinstance(spec, Blob):
            continue
        headers = spec.headers(name, pigments)
        columns += [*headers, LOAD + "PIGMENT"] if isinstance(spec, Loads) else headers
        if not cells.keys().isdisjoint(headers):
            own = dict(zip(headers, spec.cells(getattr(record, name), pigments), strict=True))
            content[name] = spec.from_cells(name, own | {c: cells[c] for c in headers if c in cells})
    strange = [column for column in cells if column not in columns]
    if strange:
        raise LibraryError(f"A {said(kind)} has no {strange[0][:60]!r}. It has: {', '.join(columns)}.")
    return record_from(
        kind, {k: v for k, v in content.items() if v is not None}, uid=record.uid, version=record.version
    )
