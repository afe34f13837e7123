"""Records as the text of an exchange file, and back: TOML for what is read, CSV for what is long.

Text in, text out; nothing here touches a disk or a database. FORMAT.md describes the result.
"""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import MISSING, fields
from itertools import islice
from typing import Any

import tomli_w

from ..errors import LibraryError
from .compounds import LOAD
from .errors import ExchangeError
from .fields import Blob, Field, specs
from .plain import plain, record_from
from .record import Record
from .values import number_in

SPECTRUM = ("wavelength_nm", "reflectance")  # kept in spectra.csv

Content = dict[str, Any]

# What the reader of TOML does in a few seconds; some 15 000 recipes. A key of many parts takes it the square of them.
_MOST_TOML, _MOST_PIECES = 8_000_000, 300_000
_KEY = r"""(?>[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_CHAIN = re.compile(rf"(?<![A-Za-z0-9_-]){_KEY}(?:[ \t]*\.[ \t]*{_KEY}){{50}}")
# A cell holds a whole table of free content; the standard library stops at 131 072 characters.
_LONGEST_CELL = 16_000_000
MOST_LINES = 100_000  # beyond any studio's


# --- TOML --------------------------------------------------------------------------------------------


def to_toml(kind: type[Record], records: Sequence[Record]) -> str:
    """`[[kind]]` tables, one per record; fields that hold their default are left out."""
    return tomli_w.dumps({kind.KIND: [{"uid": each.uid, **exported(each)} for each in records]})


def exported(record: Record) -> Content:
    """The plain content of a record, without fields that hold their default or are kept in other files."""
    defaults = {
        each.name: each.default_factory() if each.default_factory is not MISSING else each.default
        for each in fields(record)
    }
    apart = {name for name, spec in specs(type(record)).items() if isinstance(spec, Blob)}
    return {
        name: value
        for name, value in plain(record).items()
        if name not in apart and getattr(record, name) != defaults[name]
    }


def from_toml(kind: type[Record], text: str, file: str) -> list[Record]:
    """The records of a TOML file, checked; ExchangeError with the file and the place."""
    tables = toml_content(text, file).get(kind.KIND, [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise ExchangeError(f"{file} must hold [[{kind.KIND}]] tables.")
    found = []
    for number, table in enumerate(tables, start=1):
        with at(f"{file}, number {number}"):
            found.append(_made(kind, str(table.pop("uid", "")), table))
    return found


def toml_content(text: str, file: str) -> Content:
    """The content of a TOML file; ExchangeError, also for length, numbers and nesting beyond all reason."""
    pieces = sum(map(text.count, ",\n{"))
    if len(text) > _MOST_TOML or pieces > _MOST_PIECES or _CHAIN.search(text):
        raise ExchangeError(
            f"{file} has {len(text)} characters in {pieces} lines and values; at most {_MOST_TOML} in {_MOST_PIECES} "
            "are read, and keys of at most 50 parts. Export it in two selections."
        )
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # TOMLDecodeError is a ValueError
        raise ExchangeError(f"{file} is not readable TOML: {error}.") from None


# --- CSV ---------------------------------------------------------------------------------------------


def to_csv(kind: type[Record], records: Sequence[Record]) -> str:
    """A header and one line per record."""
    known = _in_csv(kind)
    pigments = sorted({uid for each in records for uid in getattr(each, "loads", {})})
    header = ["uid"]
    for name, spec in known.items():
        header += spec.headers(name, pigments)
    lines = []
    for each in records:
        line = [each.uid]
        for name, spec in known.items():
            line += spec.cells(getattr(each, name), pigments)
        lines.append(line)
    return csv_text([header, *lines])


def from_csv(kind: type[Record], text: str, file: str) -> list[Record]:
    """The records of a CSV file, checked; ExchangeError with the file and the line."""
    header, *lines = csv_lines(text, file)
    if not header or header[0] != "uid":
        raise ExchangeError(f"{file} must begin with a column 'uid', columns parted by commas.")
    known = _in_csv(kind)
    understood = {"uid", *(c for name, spec in known.items() for c in spec.headers(name))}
    strange = [c for c in header if c not in understood and not c.startswith(LOAD)]
    if strange or len(set(header)) != len(header):
        raise ExchangeError(f"{file} has columns that are not understood or come twice: {strange or header}.")
    found = []
    for number, line in enumerate(lines, start=2):
        place = f"{file}, line {number}"
        if len(line) != len(header):
            raise ExchangeError(f"{place} has {len(line)} cells; the header has {len(header)}.")
        cells = dict(zip(header, line, strict=True))
        with at(place):
            content = {name: spec.from_cells(name, cells) for name, spec in known.items()}
            found.append(_made(kind, cells["uid"], content))
    return found


def to_spectra_csv(spectra: Sequence[tuple[str, Mapping[float, float]]]) -> str:
    """Measured spectra: uid and one column per nm, blank where not measured."""
    grid = sorted({nm for _, spectrum in spectra for nm in spectrum})
    lines = [[uid, *(repr(s[nm]) if nm in s else "" for nm in grid)] for uid, s in spectra]
    return csv_text([["uid", *(f"{nm:g}" if float(f"{nm:g}") == nm else repr(nm) for nm in grid)], *lines])


def from_spectra_csv(text: str, file: str) -> dict[str, tuple[tuple[float, ...], tuple[float, ...]]]:
    """uid -> (wavelength_nm, reflectance)."""
    header, *lines = csv_lines(text, file)
    with at(f"{file}, its header"):
        grid = [number_in(cell) for cell in header[1:]]
    found = {}
    for number, (uid, *cells) in enumerate(lines, start=2):
        with at(f"{file}, line {number}"):
            if len(cells) != len(grid) or uid in found:
                raise LibraryError(
                    f"it must have a cell for each of the {len(grid)} columns, and a uid that comes once"
                )
            pairs = [(nm, number_in(cell)) for nm, cell in zip(grid, cells, strict=True) if cell]
            found[uid] = (tuple(nm for nm, _ in pairs), tuple(r for _, r in pairs))
    return found


def csv_text(lines: Sequence[Sequence[str]]) -> str:
    """Lines of cells as CSV (RFC 4180, but line ends \\n)."""
    # By hand: the standard library's writer leaves a lone carriage return bare, which its reader takes for a line end.
    return "".join(",".join(map(_quoted, line)) + "\n" for line in lines)


def csv_lines(text: str, file: str) -> list[list[str]]:
    """Lines of cells of a CSV; at least the header, and 100 000 at most."""
    csv.field_size_limit(_LONGEST_CELL)
    try:
        read = (line for line in csv.reader(io.StringIO(text, newline=""), strict=True) if line)
        lines = list(islice(read, MOST_LINES + 2))
    except csv.Error as error:
        raise ExchangeError(f"{file} is not readable CSV: {error}.") from None
    if not lines:
        raise ExchangeError(f"{file} is empty; it must have a header.")
    if len(lines) > MOST_LINES + 1:
        raise ExchangeError(f"{file} has more than {MOST_LINES} lines. Export it in two selections.")
    return lines


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if set(cell) & set(',"\r\n') else cell


def _in_csv(kind: type[Record]) -> dict[str, Field]:
    return {n: s for n, s in specs(kind).items() if n not in SPECTRUM and not isinstance(s, Blob)}


def _made(kind: type[Record], uid: str, content: Content) -> Record:
    if not uid:
        raise LibraryError("the uid is missing; give it one of its own")
    return record_from(kind, content, uid=uid)


@contextmanager
def at(place: str) -> Iterator[None]:
    """What is wrong within is said with its place."""
    try:
        yield
    except LibraryError as error:
        raise ExchangeError(f"{place}: {error}") from None
