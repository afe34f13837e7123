"""Records as the text of an exchange file, and back: TOML for what is read, CSV for what is long.

Text in, text out; nothing here touches a disk or a database. FORMAT.md describes the result.
"""

from __future__ import annotations

import csv
import io
import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, fields
from typing import Any

import tomli_w

from ..errors import LibraryError
from .errors import ExchangeError
from .fields import Spec, specs
from .plain import plain, record_from
from .records import Record
from .schema import LAB_COLUMNS

_APART = ("blob",)  # kept in files of their own
_SPECTRUM = ("wavelength_nm", "reflectance")  # kept in spectra.csv
_COVARIANCE = ("var_l", "cov_la", "cov_lb", "var_a", "cov_ab", "var_b")
_UPPER = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
_LOAD = "load "
# What spreadsheets take for the start of a formula (OWASP, "CSV Injection"), and the apostrophe that wards it
# off.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20", "'")

Content = dict[str, Any]


# --- TOML --------------------------------------------------------------------------------------------


def to_toml(kind: type[Record], records: Sequence[Record]) -> str:
    """`[[kind]]` tables, one per record; fields that hold their default are left out."""
    return tomli_w.dumps({kind.KIND: [{"uid": each.uid, **told(each)} for each in records]})


def told(record: Record) -> Content:
    """The plain content of a record, without fields that hold their default or are kept in other files."""
    defaults = {
        each.name: each.default_factory() if each.default_factory is not MISSING else each.default
        for each in fields(record)
    }
    apart = {name for name, spec in specs(type(record)).items() if spec.form in _APART}
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
    return [
        _made(
            kind,
            str(table.get("uid", "")),
            {k: v for k, v in table.items() if k != "uid"},
            f"{file}, number {i}",
        )
        for i, table in enumerate(tables, start=1)
    ]


def toml_content(text: str, file: str) -> Content:
    """The content of a TOML file; ExchangeError, also for numbers and nesting beyond all reason."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # TOMLDecodeError is a ValueError
        raise ExchangeError(f"{file} is not readable TOML: {error}.") from None


# --- CSV ---------------------------------------------------------------------------------------------


def to_csv(kind: type[Record], records: Sequence[Record]) -> str:
    """A header and one line per record."""
    known = _told_in_csv(kind)
    pigments = sorted({uid for each in records for uid in getattr(each, "loads", {})})
    header = ["uid"]
    for name, spec in known.items():
        header += _columns(name, spec, pigments)
    lines = []
    for each in records:
        line = [each.uid]
        for name, spec in known.items():
            line += _cells(spec, getattr(each, name), pigments)
        lines.append(line)
    return csv_text([header, *lines])


def from_csv(kind: type[Record], text: str, file: str) -> list[Record]:
    """The records of a CSV file, checked; ExchangeError with the file and the line."""
    header, *lines = csv_lines(text, file)
    if not header or header[0] != "uid":
        raise ExchangeError(f"{file} must begin with a column 'uid', columns parted by commas.")
    known = _told_in_csv(kind)
    understood = {"uid", *(c for name, spec in known.items() for c in _columns(name, spec, ()))}
    strange = [c for c in header if c not in understood and not c.startswith(_LOAD)]
    if strange or len(set(header)) != len(header):
        raise ExchangeError(f"{file} has columns that are not understood or come twice: {strange or header}.")
    found = []
    for number, line in enumerate(lines, start=2):
        place = f"{file}, line {number}"
        if len(line) != len(header):
            raise ExchangeError(f"{place} has {len(line)} cells; the header has {len(header)}.")
        cells = dict(zip(header, line, strict=True))
        content = {name: _read(name, spec, cells, place) for name, spec in known.items()}
        found.append(_made(kind, cells["uid"], content, place))
    return found


def to_spectra_csv(spectra: Sequence[tuple[str, Mapping[float, float]]]) -> str:
    """Measured spectra: uid and one column per nm, blank where not measured."""
    grid = sorted({nm for _, spectrum in spectra for nm in spectrum})
    lines = [[uid, *(repr(s[nm]) if nm in s else "" for nm in grid)] for uid, s in spectra]
    return csv_text([["uid", *(f"{nm:g}" if float(f"{nm:g}") == nm else repr(nm) for nm in grid)], *lines])


def from_spectra_csv(text: str, file: str) -> dict[str, tuple[tuple[float, ...], tuple[float, ...]]]:
    """uid -> (wavelength_nm, reflectance)."""
    header, *lines = csv_lines(text, file)
    grid = [_number(cell, f"{file}, its header") for cell in header[1:]]
    found = {}
    for number, line in enumerate(lines, start=2):
        pairs = [
            (nm, _number(cell, f"{file}, line {number}")) for nm, cell in zip(grid, line[1:], strict=False) if cell
        ]
        found[line[0]] = (tuple(nm for nm, _ in pairs), tuple(r for _, r in pairs))
    return found


def csv_text(lines: Sequence[Sequence[str]]) -> str:
    """Lines of cells as CSV (RFC 4180, but line ends \\n)."""
    # By hand: the standard library's writer leaves a lone carriage return bare, which its reader takes for a line end.
    return "".join(",".join(map(_quoted, line)) + "\n" for line in lines)


def csv_lines(text: str, file: str) -> list[list[str]]:
    """Lines of cells of a CSV; at least the header."""
    try:
        lines = [line for line in csv.reader(io.StringIO(text, newline=""), strict=True) if line]
    except csv.Error as error:
        raise ExchangeError(f"{file} is not readable CSV: {error}.") from None
    if not lines:
        raise ExchangeError(f"{file} is empty; it must have a header.")
    return lines


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if set(cell) & set(',"\r\n') else cell


def _told_in_csv(kind: type[Record]) -> dict[str, Spec]:
    return {n: s for n, s in specs(kind).items() if n not in _SPECTRUM and s.form not in _APART}


def _columns(name: str, spec: Spec, pigments: Sequence[str]) -> list[str]:
    match spec.form:
        case "lab":
            return [f"{name}_{axis}" for axis in LAB_COLUMNS]
        case "matrix":
            return list(_COVARIANCE)
        case "loads":
            return [f"{_LOAD}{uid}" for uid in pigments]
    return [name]


def _cells(spec: Spec, value: Any, pigments: Sequence[str]) -> list[str]:
    match spec.form:
        case "lab":
            return ["" if value is None else repr(value[i]) for i in range(3)]
        case "matrix":
            return [repr(value[i][j]) if value else "" for i, j in _UPPER]
        case "loads":
            return [repr(value[uid]) if uid in value else "" for uid in pigments]
        case "text" | "reference":
            return [shielded(value or "")]
        case "names" | "mapping":
            return [json.dumps(value, ensure_ascii=False, sort_keys=True) if value else ""]
        case "flag":
            return ["true" if value else "false"]
        case "day" | "moment":
            return ["" if value is None else value.isoformat()]
    return ["" if value is None else repr(value)]


def _read(name: str, spec: Spec, cells: Mapping[str, str], place: str) -> Any:
    if spec.form == "loads":
        return {c.removeprefix(_LOAD): _number(v, place) for c, v in cells.items() if c.startswith(_LOAD) and v}
    parts = [cells.get(column, "") for column in _columns(name, spec, ())]
    if spec.form == "lab":
        return [_number(part, place) for part in parts] if any(parts) else None
    if spec.form == "matrix":
        if not any(parts):
            return None
        upper = dict(zip(_UPPER, (_number(part, place) for part in parts), strict=True))
        return [[upper[min(i, j), max(i, j)] for j in range(3)] for i in range(3)]
    return _read_one(spec, cells[name], place) if name in cells else None


def _read_one(spec: Spec, cell: str, place: str) -> Any:
    match spec.form:
        case "text":
            return unshielded(cell)
        case "reference":
            return unshielded(cell) or None
        case "names" | "mapping":
            return _json(cell, place) if cell else None
        case "flag":
            return {"true": True, "false": False, "": None}.get(cell.lower(), cell)
        case "number" | "whole":
            return _number(cell, place) if cell else None
    return cell or None


def shielded(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe before what could begin one."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def unshielded(cell: str) -> str:
    """The text behind shielded()."""
    return cell.removeprefix("'")


def _number(cell: str, place: str) -> float:
    try:
        return float(cell)
    except ValueError:
        raise ExchangeError(f"{place}: {cell[:40]!r} is not a number (write 0.02, with a point).") from None


def _json(cell: str, place: str) -> Any:
    try:
        return json.loads(cell)
    except (ValueError, RecursionError):
        raise ExchangeError(f"{place}: {cell[:40]!r} is not readable JSON.") from None


def _made(kind: type[Record], uid: str, content: Content, place: str) -> Record:
    try:
        if not uid:
            raise LibraryError("the uid is missing; give it one of its own")
        return record_from(kind, content, uid=uid)
    except LibraryError as error:
        raise ExchangeError(f"{place}: {error}") from None
