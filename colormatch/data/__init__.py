"""Tables shipped with the package, read on first use and kept; see README.md beside this file.

Line 1 of every file is ``# title - source - version - date``.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..frozen import FrozenMapping


@dataclass(frozen=True, slots=True)
class Table:
    """A shipped CSV: its first line (title), its header and its rows of text."""

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def column(self, name: str) -> tuple[str, ...]:
        """The texts of one column."""
        place = self.header.index(name)
        return tuple(row[place] for row in self.rows)

    def numbers(self, *names: str) -> NDArray[np.float64]:
        """Numeric columns, shape (n_rows, n_names); without names, all columns after the first."""
        wanted = names or self.header[1:]
        return np.array([self.column(name) for name in wanted], dtype=np.float64).T


def _read_text(name: str) -> str:
    return files(__name__).joinpath(name).read_text(encoding="utf-8")


@cache
def read_table(name: str) -> Table:
    """Read a shipped CSV, such as ``read_table("chart24.csv")``; FileNotFoundError if there is none."""
    title, *lines = _read_text(name).splitlines()
    header, *rows = csv.reader(lines)
    return Table(title.removeprefix("# "), tuple(header), tuple(tuple(row) for row in rows))


@cache
def read_records(name: str) -> Mapping[str, Mapping[str, Any]]:
    """Read a shipped TOML of named records (``starter_pigments.toml``), in file order, read-only."""
    records = tomllib.loads(_read_text(name))
    return FrozenMapping({key: FrozenMapping(record) for key, record in records.items()})
