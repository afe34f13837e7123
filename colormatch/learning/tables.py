"""Tiles read from a CSV file."""

from __future__ import annotations

import csv
import io
from collections import Counter
from pathlib import Path

from ..errors import InputError
from .tile import Tile


def read_tiles(path: str | Path) -> list[Tile]:
    """Tiles from a CSV file (UTF-8; comma, or semicolon and decimal comma): `Tile.from_table`; raises InputError."""
    return Tile.from_table(read_columns(path))


def read_columns(source: str | Path | bytes) -> dict[str, list[str]]:
    """The columns of a CSV file or of its content (UTF-8; comma, or semicolon where the heading has one)."""
    name = "what was given" if isinstance(source, bytes) else repr(str(source))
    try:
        text = (source if isinstance(source, bytes) else Path(source).read_bytes()).decode("utf-8-sig")
        first = text.partition("\n")[0]
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if ";" in first else ",")
        header, rows = next(reader, []), [row for row in reader if any(cell.strip() for cell in row)]
    except (OSError, TypeError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"The tiles in {name} could not be read: {error}.") from None
    header = [title.strip() for title in header]
    if twice := [title for title, count in Counter(header).items() if title and count > 1]:
        raise InputError(f"There are two columns called {twice[0]!r}; leave one of them.")
    for number, row in enumerate(rows, start=1):
        if len(row) != len(header):
            raise InputError(f"Row {number} has {len(row)} cells, but there are {len(header)} columns.")
    return {title: [row[at] for row in rows] for at, title in enumerate(header)}
