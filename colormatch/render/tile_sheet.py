"""The cast list as one HTML page: what to weigh for each tile, and its predicted shade."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from ..arrays import FloatArray
from ..colorimetry import lab_to_hex

THEN = (
    "Scratch its number into the back of each. When they are dry, lay them out in this order, in straight rows, "
    "beside the chart, and photograph all of them at once."
)
_STYLE = """
@page { size: A4 portrait; margin: 12mm; }
* { box-sizing: border-box; }
html { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
body { margin: 0 auto; max-width: 186mm; padding: 12px; font: 16px/1.35 "DejaVu Sans", Arial, Helvetica, sans-serif;
  color: #000; background: #fff; overflow-wrap: anywhere; }
h1 { font-size: 1.6em; margin: 0; } p { margin: .2em 0; } ol { list-style: none; margin: .8em 0; padding: 0; }
li { display: flex; gap: .8em; align-items: center; border-top: 1px solid #000; padding: .5em 0; break-inside: avoid; }
li > b { font-size: 1.6em; width: 1.5em; flex: none; } li > div { flex: 1; min-width: 0; }
li > i { flex: none; width: 3.2em; height: 2.6em; border: 1px solid #000; }
.tick { flex: none; width: 1.1em; height: 1.1em; border: 1.5px solid #000; }
ul { list-style: none; margin: 0; padding: 0; } ul li { border: 0; padding: .15em 0; gap: .6em; }
small { display: block; font-size: .85em; }
"""


def tile_sheet_html(tiles: Sequence[tuple[str, FloatArray]], *, water: str = "", cautions: Sequence[str] = ()) -> str:
    """A whole HTML document, nothing loaded from elsewhere, every name escaped.

    tiles: (what to weigh, parts separated by "; "; predicted dry CIELAB (3,)) in the order they are laid out.
    water: how much goes into each, in a sentence.
    """
    rows = "".join(_tile(number, words, lab) for number, (words, lab) in enumerate(tiles, start=1))
    notes = "".join(f"<p><small>! {escape(caution)}</small></p>" for caution in cautions)
    return (
        "<!doctype html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta http-equiv='Content-Security-Policy' content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        "<meta name='viewport' content='width=device-width, initial-scale=1'>"
        f"<title>Tiles to cast</title><style>{_STYLE}</style></head><body><h1>Tiles to cast</h1>"
        f"<p>{escape(water)} {THEN}</p>{notes}<ol>{rows}</ol></body></html>\n"
    )


def _tile(number: int, words: str, lab: FloatArray) -> str:
    lines = "".join(f"<li><span class='tick'></span>{escape(part)}</li>" for part in words.split("; "))
    return f"<li><b>{number}</b><div><ul>{lines}</ul></div><i style='background:{lab_to_hex(lab)}'></i></li>"
