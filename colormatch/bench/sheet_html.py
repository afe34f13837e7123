"""The batch sheet as one HTML page: prints on one A4 page, also in black and white, and reads well on a phone."""

from __future__ import annotations

from html import escape
from math import ceil

from .sheet import Block, Chip, Line, Sheet, below

# Every length hangs on the size of the letters, so that one number fits the sheet to the page.
_STYLE = """
@page { size: A4 portrait; margin: 10mm; }
* { box-sizing: border-box; }
html { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
body { margin: 0 auto; max-width: 188mm; font-family: "DejaVu Sans", Arial, Helvetica, sans-serif; line-height: 1.2;
  color: #000; background: #fff; overflow-wrap: anywhere; }
header { display: flex; gap: .5em 1.5em; align-items: flex-start; border-bottom: .3em solid #000;
  padding-bottom: .5em; }
header > div:first-child { flex: 1; min-width: 0; }
h1 { font-size: 2em; line-height: 1.1; margin: 0 0 .2em; max-height: 2.2em; overflow: hidden; }
h2 { font-size: 1.4em; margin: 0; line-height: 1.2; max-height: 2.4em; overflow: hidden; }
p { margin: 0; }
.code { border: .2em solid #000; padding: .2em .8em; text-align: center; white-space: nowrap; }
.code b { font: bold 1.9em monospace; } .code small { display: block; font-size: .75em; }
.bowls { display: flex; flex-wrap: wrap; gap: .7em 1.2em; margin: .7em 0; align-items: flex-start; }
.bowl { border: .12em solid #000; padding: .4em .6em; flex: 1 1 40%; min-width: 0; break-inside: avoid; }
table { width: 100%; border-collapse: collapse; table-layout: fixed; }
th { font-size: .75em; font-weight: normal; text-align: right; }
col.box { width: 1.7em; } col.grams { width: 6.8em; } col.weighed { width: 5.2em; }
td { border-top: .06em solid #000; padding: .15em 0; vertical-align: middle; overflow: hidden; }
td.name { padding-right: .4em; }
td.name > bdi { display: block; max-height: 2.4em; overflow: hidden; }
td.name small, td.grams small { display: block; font-size: .72em; font-weight: normal; }
td.grams { font-weight: bold; text-align: right; white-space: nowrap; }
td.grams span { font-size: 1.7em; line-height: 1.1; } tr.water td.grams span { font-size: 1.35em; }
td.weighed { padding-left: .7em; vertical-align: bottom; }
td.weighed i { display: block; border-bottom: .06em dotted #000; }
.tick { display: block; width: 1.1em; height: 1.1em; border: .1em solid #000; }
.cap { font-size: .9em; border-top: .12em solid #000; padding-top: .2em; }
.chips { display: flex; gap: .5em; margin-top: .3em; }
.chip { flex: 1; min-width: 0; font-size: .72em; line-height: 1.2; }
.chip i { display: block; height: 3em; border: .12em solid #000; }
ol { margin: 0; padding: 0; list-style: none; counter-reset: step; }
li { counter-increment: step; border-top: .06em solid #000; padding: .2em 0 .2em 1.8em; position: relative; }
li::before { content: counter(step); position: absolute; left: 0; font-weight: bold; font-size: 1.2em; line-height: 1; }
.caution { font-size: .88em; } .caution::before { content: "! "; font-weight: bold; }
footer { border-top: .12em solid #000; margin-top: .3em; padding-top: .2em; font-size: .72em; }
"""
_PHONE = """
@media screen and (max-width: 700px) {
  body { font-size: 16px; padding: 12px; } header, .bowls { flex-direction: column; }
  .code { align-self: flex-start; } .bowl { width: 100%; } footer, .chip, small { font-size: 13px !important; }
  h1, h2, td.name > bdi { max-height: none; } td.name > bdi { overflow: visible; }
  col.grams { width: 5.6em; } col.weighed { width: 4em; }
}
"""
_BLANK = "_" * 8
_PAGE_MM, _WIDTH_MM = 276.0, 188.0  # A4 less the margins above, and a little to spare
_POINT_MM = 25.4 / 72
_LETTER_EM = 0.58  # mean width of a letter, on the wide side; sizes in em below follow the style sheet above


def sheet_html(sheet: Sheet) -> str:
    """A whole HTML document: no script, nothing loaded from elsewhere, every name escaped."""
    facts = " · ".join(_text(fact) for fact in sheet.facts)
    bowls = "".join(_block(block) for block in sheet.blocks)
    steps = "".join(
        f"<li><b>{_text(s.name)}.</b> {_text(s.work)} <span class='caution'>{_text(s.caution)}</span></li>"
        for s in sheet.steps
    )
    notes = "".join(f"<p>{_text(note)}</p>" for note in sheet.notes)
    return (
        "<!doctype html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta http-equiv='Content-Security-Policy' content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<meta name='viewport' content='width=device-width, initial-scale=1'>"
        f"<title>{escape(sheet.title)}, {escape(sheet.code)}</title>"
        f"<style>{_STYLE}body {{ font-size: {letter_size(sheet):.1f}pt; }}{_PHONE}</style>"
        f"</head><body><header><div><h1>{_text(sheet.title)}</h1><p>{facts}</p></div>"
        f"<div class='code'><small>find it again</small><b>{escape(sheet.code)}</b></div></header>"
        f"<div class='bowls'>{bowls}</div><ol>{steps}</ol><footer>{notes}</footer></body></html>\n"
    )


def letter_size(sheet: Sheet) -> float:
    """The largest size in points, from 15 down to 4, at which the sheet should fit one page."""
    points = 15.0
    while points > 4 and _height_em(sheet, _WIDTH_MM / (points * _POINT_MM)) * points * _POINT_MM > _PAGE_MM:
        points -= 0.5
    return points


def _height_em(sheet: Sheet, width_em: float) -> float:
    """Height of the page in letter heights, at a width in letter heights; a little too much rather than too little."""
    across = 2 if len(sheet.blocks) > 1 else 1
    bowl_width = width_em / across - 2
    heights = [_block_height_em(block, bowl_width) for block in sheet.blocks]
    bowls = sum(max(heights[i : i + across]) + 0.8 for i in range(0, len(heights), across))
    steps = sum(_lines(f"{s.name}. {s.work} {s.caution}", width_em - 2) * 1.2 + 0.5 for s in sheet.steps)
    notes = sum(_lines(note, width_em / 0.72) * 0.72 * 1.2 for note in sheet.notes)
    header = 2.2 * _lines(sheet.title, (width_em - 12) / 2) + 1.2 * _lines(" · ".join(sheet.facts), width_em - 12)
    return max(header, 4.0) + bowls + steps + notes + 4


def _block_height_em(block: Block, width_em: float) -> float:
    name_width = width_em - 14.5
    rows = sum(max(2.6, 1.4 + 1.2 * min(_lines(line.name, name_width), 2)) for line in block.lines)
    chips = 0.72 * (3.2 + 1.2 * 4) + 0.3 if block.chips else 0.0
    title = 1.7 * min(_lines(block.title, width_em / 1.4), 2)
    return title + 1.2 + rows + 1.1 * _lines(block.cap, width_em / 0.9) + 0.3 + chips + 1


def _lines(text: str, width_em: float) -> int:
    return max(1, ceil(len(text) * _LETTER_EM / max(width_em, 1.0)))


def _block(block: Block) -> str:
    chips = "".join(_chip(chip) for chip in block.chips)
    return (
        f"<section class='bowl'><h2>{_text(block.title)}</h2><table><colgroup><col class='box'><col>"
        "<col class='grams'><col class='weighed'></colgroup><tr><th></th><th></th><th>g to weigh</th>"
        f"<th>g weighed</th></tr>{''.join(_row(line) for line in block.lines)}</table>"
        f"<p class='cap'>{_text(block.cap)}</p><div class='chips'>{chips}</div></section>"
    )


def _row(line: Line) -> str:
    up_to = f"<small>up to {escape(line.up_to)}</small>" if line.up_to else ""
    return (
        f"<tr class='{line.kind}'><td><span class='tick'></span></td><td class='name'>{_text(line.name)}"
        f"<small>{_text(below(line, _BLANK))}</small></td><td class='grams'><span>{escape(line.grams)}</span>{up_to}"
        "</td><td class='weighed'><i>&nbsp;</i></td></tr>"
    )


def _chip(chip: Chip) -> str:
    return (
        f"<div class='chip'><i style='background:{escape(chip.hex)}'></i><b>{escape(chip.letter)}</b> "
        f"{_text(chip.state)}<br>{escape(chip.numbers)}<br>{escape(chip.likely)}</div>"
    )


def _text(text: str) -> str:
    """Escaped, and kept from turning the direction of its surroundings."""
    return f"<bdi>{escape(text)}</bdi>"
