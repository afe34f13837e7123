"""A whole shade card from a table: name,L,a,b or name,hex, one wanted shade a line."""

from __future__ import annotations

import csv
import io

from ..colorimetry import hex_to_lab
from ..errors import InputError
from ..shade import Shade

MOST_SHADES = 1000  # a large card holds some hundreds; a judgement


def read_shade_card(content: bytes, file_name: str) -> dict[str, Shade]:
    """Shades by name, in their order; a name that comes again is numbered. Raises InputError.

    Comma, or semicolon with decimal commas, as spreadsheets write it where the comma is the decimal sign.
    """
    try:
        text = content.decode("utf-8-sig")
        between = ";" if ";" in text.partition("\n")[0] else ","
        rows = list(csv.DictReader(io.StringIO(text, newline=""), delimiter=between))
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"The shades could not be read from {file_name!r} ({error}). Give a CSV in UTF-8.") from None
    if not rows:
        raise InputError(f"{file_name!r} holds no shade. Its first line names the columns: name,L,a,b or name,hex.")
    if len(rows) > MOST_SHADES:
        raise InputError(f"{file_name!r} holds {len(rows)} shades; at most {MOST_SHADES} at once. Split it.")
    found: dict[str, Shade] = {}
    for number, row in enumerate(rows, start=2):
        given = {(key or "").strip().casefold(): (value or "").strip() for key, value in row.items() if key}
        name = given.get("name") or f"line {number}"
        found[name if name not in found else f"{name} (line {number})"] = _shade(given, number, file_name)
    return found


def _shade(given: dict[str, str], number: int, file_name: str) -> Shade:
    try:
        if given.get("hex"):
            return Shade(hex_to_lab(given["hex"]))
        return Shade([float(given[axis].replace(",", ".")) for axis in "lab"])
    except (KeyError, ValueError):
        there = ", ".join(f"{name} {value!r:.40}" for name, value in given.items() if name in ("l", "a", "b", "hex"))
        raise InputError(
            f"Line {number} of {file_name!r} has no shade{f' ({there})' if there else ''}. "
            "Fill in L (0 to 100), a and b as numbers, or hex as #rrggbb."
        ) from None
