"""Tiles read from a CSV file."""

from __future__ import annotations

import csv
from pathlib import Path

from ..errors import InputError
from .tile import Tile


def read_tiles(path: str | Path) -> list[Tile]:
    """Tiles from a CSV file (UTF-8, comma) with the columns of `Tile.from_table`; raises InputError."""
    try:
        with Path(path).open(newline="", encoding="utf-8-sig") as file:
            reader = csv.reader(file)
            header, rows = next(reader, []), [row for row in reader if any(cell.strip() for cell in row)]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"The tiles in {str(path)!r} could not be read: {error}.") from None
    for number, row in enumerate(rows, start=1):
        if len(row) != len(header):
            raise InputError(f"Row {number} has {len(row)} cells, but there are {len(header)} columns.")
    return Tile.from_table({name: [row[at] for row in rows] for at, name in enumerate(header)})
