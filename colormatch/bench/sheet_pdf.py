"""The batch sheet as a one-page PDF (A4), drawn with reportlab; import this module only when it is needed."""

from __future__ import annotations

import re
from functools import cache
from html import escape
from io import BytesIO
from itertools import groupby
from typing import Any

from reportlab.lib.colors import HexColor, black
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, KeepInFrame, Paragraph, Spacer, Table

from ..lettering import FURTHER, OF_SYSTEMS, system_files
from .sheet import Block, Chip, Line, Sheet, below

_MARGIN = 10 * mm  # what a desk printer reaches; common practice, no source
_WIDTH, _HEIGHT = A4[0] - 2 * _MARGIN, A4[1] - 2 * _MARGIN
_SCALES = (1.4, 1.3, 1.2, 1.1, 1.0, 0.9, 0.8, 0.7, 0.6)  # the largest that fits one page is taken; sizes by eye
_SHIPPED = ("Vera.ttf", "VeraBd.ttf")  # comes with reportlab, but has Latin letters only
# Fonts that every reader of PDF knows by name, for scripts no typeface here has: the first that takes a letter.
_JAPANESE, _CHINESE, _KOREAN = "HeiseiKakuGo-W5", "STSong-Light", "HYGothic-Medium"
_BY_NAME = (
    (_KOREAN, "[\u1100-\u11ff\u3130-\u318f\uac00-\ud7af]"),
    (_JAPANESE, "[\u0370-\u03ff\u0400-\u045f\u3040-\u30ff\uff66-\uff9f]"),  # its Greek and Cyrillic have no accents
    (_CHINESE, "[\u3000-\u303f\u3400-\u9fff\uff00-\uff65]"),
)
REGULAR, _BOLD = "BenchSheet", "BenchSheet-Bold"
_MISSING = "□"


def sheet_pdf(sheet: Sheet) -> bytes:
    """The sheet as the bytes of a PDF: one page, in the largest letters that fit."""
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=A4, invariant=1)
    canvas.setTitle(f"{sheet.title}, {sheet.code}")
    canvas.setSubject("Batch sheet")
    for scale in _SCALES:
        content = _Page(sheet, scale).content()
        if sum(part.wrap(_WIDTH, _HEIGHT)[1] for part in content) <= _HEIGHT:
            break
    page = KeepInFrame(_WIDTH, _HEIGHT, content, mode="shrink", name="page")
    frame = Frame(_MARGIN, _MARGIN, _WIDTH, _HEIGHT, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)
    frame.addFromList([page], canvas)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


@cache
def _letters() -> frozenset[int]:
    """Register a pair of fonts once; the characters it can show."""
    for pair in (*OF_SYSTEMS, _SHIPPED):
        found = system_files(pair)
        files = [str(path) for path in found] if len(found) == 2 else pair
        try:
            plain, strong = TTFont(REGULAR, files[0]), TTFont(_BOLD, files[1])
        except TTFError:
            continue
        pdfmetrics.registerFont(plain)
        pdfmetrics.registerFont(strong)
        pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=_BOLD, italic=REGULAR, boldItalic=_BOLD)
        return frozenset(plain.face.charToGlyph)
    raise RuntimeError("reportlab came without its own fonts")  # a broken installation


def safe(text: str) -> str:
    """Escaped for reportlab's markup; letters the font lacks in one that has them, else an empty box."""
    _letters()
    japanese = re.search("[\u3040-\u30ff]", text) is not None  # its Han letters are then Japanese too
    shown = [_shown(letter, japanese) for letter in text if letter != "\u200d"]
    parts = []
    for font, run in groupby(shown, lambda pair: pair[0]):
        words = escape("".join(letter for _, letter in run))
        parts.append(f'<font name="{font}">{words}</font>' if font else words)
    return "".join(parts)


def _below(line: Line) -> str:
    return safe(below(line, "_" * 8)) or "&nbsp;"


def _shown(letter: str, japanese: bool) -> tuple[str, str]:
    """(font by name, or "" for the font of the line; the letter, or what stands for it)."""
    letters = _letters()
    if letter == " " or ord(letter) in letters:
        return "", letter
    for font, known in _further():
        if ord(letter) in known:
            return font, letter
    for font, those in _BY_NAME:
        if re.match(those, letter):
            return _by_name(_JAPANESE if japanese and font == _CHINESE else font), letter
    return "", _MISSING if ord(_MISSING) in letters else "?"


@cache
def _further() -> list[tuple[str, frozenset[int]]]:
    """Further fonts of this machine, registered, each with the letters it has."""
    found = []
    for number, file in enumerate(system_files(tuple(regular for regular, _ in OF_SYSTEMS + FURTHER))):
        try:
            font = TTFont(f"{REGULAR}-{number}", str(file))
        except TTFError:
            continue
        pdfmetrics.registerFont(font)
        found.append((font.fontName, frozenset(font.face.charToGlyph)))
    return found


@cache
def _by_name(font: str) -> str:
    pdfmetrics.registerFont(UnicodeCIDFont(font))
    return font


def _table(rows: list[list[Any]], widths: list[float], *style: tuple[Any, ...]) -> Table:
    plain = [
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]
    return Table(rows, colWidths=widths, style=[*plain, *style])


def _box(width: float, height: float, colour: str = "") -> Table:
    """An empty box to tick, or one filled with a colour."""
    fill = [("BACKGROUND", (0, 0), (0, 0), HexColor(colour))] if colour else []
    return Table([[""]], [width], [height], style=[*fill, ("BOX", (0, 0), (0, 0), 1, black)], hAlign="LEFT")


class _Page:
    """The parts of one sheet with all letters `scale` times their usual size."""

    def __init__(self, sheet: Sheet, scale: float) -> None:
        _letters()
        self.sheet, self.scale = sheet, scale

    def content(self) -> list[Flowable]:
        gap = Spacer(1, 2.5 * mm)
        notes = [self.text(safe(note), 7.5) for note in self.sheet.notes]
        return [self.header(), gap, self.bowls(), gap, self.steps(), Spacer(1, 1 * mm), *notes]

    def text(self, markup: str, size: float, *, bold: bool = False, align: int = 0) -> Paragraph:
        points = size * self.scale
        font = _BOLD if bold else REGULAR
        style = ParagraphStyle("sheet", fontName=font, fontSize=points, leading=points * 1.2, alignment=align)
        return Paragraph(markup, style)

    def header(self) -> Table:
        box_width = 38 * mm * self.scale
        left = _table(
            [[self.text(safe(self.sheet.title), 19, bold=True)], [self.text(safe(" · ".join(self.sheet.facts)), 10)]],
            [_WIDTH - box_width - 4 * mm],
        )
        code = [[self.text("find it again", 7, align=1)], [self.text(self.sheet.code, 18, bold=True, align=1)]]
        box = _table(code, [box_width], ("BOX", (0, 0), (-1, -1), 2, black), ("BOTTOMPADDING", (0, 1), (0, 1), 4))
        return _table(
            [[left, box]],
            [_WIDTH - box_width, box_width],
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEBELOW", (0, 0), (-1, 0), 2.5, black),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
        )

    def bowls(self) -> Table:
        """Bowls side by side in twos, one alone over the full width."""
        across, gap = min(2, len(self.sheet.blocks)), 4 * mm
        width = (_WIDTH - gap * (across - 1)) / across
        cells: list[Any] = [self.bowl(block, width) for block in self.sheet.blocks]
        if across == 1:
            return _table([[cell] for cell in cells], [width])
        cells += [""] * (len(cells) % 2)
        rows = [[cells[i], "", cells[i + 1]] for i in range(0, len(cells), 2)]
        return _table(rows, [width, gap, width], ("VALIGN", (0, 0), (-1, -1), "TOP"))

    def bowl(self, block: Block, width: float) -> Table:
        inner = width - 4 * mm
        tick, grams, weighed = 6 * mm * self.scale, 23 * mm * self.scale, 19 * mm * self.scale
        rows: list[list[Any]] = [["", "", *(self.text(f"g {word}", 7.5, align=2) for word in ("to weigh", "weighed"))]]
        for line in block.lines:
            name = self.text(f'{safe(line.name)}<br/><font size="{7.5 * self.scale:.1f}">{_below(line)}</font>', 10.5)
            side = 4.5 * mm * self.scale
            rows.append([_box(side, side), name, self.grams(line), "." * 14])
        widths = [tick, inner - grams - weighed - tick, grams, weighed]
        parts: list[list[Any]] = [
            [self.text(safe(block.title), 14, bold=True)],
            [_table(rows, widths, ("LINEABOVE", (0, 1), (-1, -1), 0.5, black), *self.blanks())],
            [self.text(safe(block.cap), 9)],
        ]
        if block.chips:
            parts.append([self.chips(block.chips, inner)])
        return _table(
            parts,
            [width],
            ("BOX", (0, 0), (-1, -1), 1.2, black),
            ("LINEABOVE", (0, 2), (-1, 2), 1, black),
            ("LEFTPADDING", (0, 0), (-1, -1), 2 * mm),
            ("RIGHTPADDING", (0, 0), (-1, -1), 2 * mm),
        )

    def grams(self, line: Line) -> Paragraph:
        size = 13.5 if line.kind == "water" else 17
        up_to = f'<br/><font name="{REGULAR}" size="{7.5 * self.scale:.1f}">up to {line.up_to}</font>'
        return self.text(line.grams + (up_to if line.up_to else ""), size, bold=True, align=2)

    def blanks(self) -> list[tuple[Any, ...]]:
        """The dotted lines on which what was weighed is written."""
        cells = ((3, 1), (3, -1))
        return [("VALIGN", *cells, "BOTTOM"), ("ALIGN", *cells, "RIGHT"), ("FONTSIZE", *cells, 8 * self.scale)]

    def chips(self, chips: tuple[Chip, ...], width: float) -> Table:
        each = width / len(chips)
        colours = [_box(each - 2 * mm, 8 * mm * self.scale, chip.hex) for chip in chips]
        words = [
            self.text(f"<b>{chip.letter}</b> {safe(chip.state)}<br/>{safe(chip.numbers)}<br/>{safe(chip.likely)}", 7)
            for chip in chips
        ]
        return _table([colours, words], [each] * len(chips), ("VALIGN", (0, 0), (-1, -1), "TOP"))

    def steps(self) -> Table:
        rows, small = [], 8.5 * self.scale
        for number, step in enumerate(self.sheet.steps, start=1):
            caution = f'<font size="{small:.1f}"><b>!</b> {safe(step.caution)}</font>'
            words = self.text(f"<b>{safe(step.name)}.</b> {safe(step.work)} {caution}", 9.5)
            rows.append([self.text(str(number), 12, bold=True), words])
        number_width = 7 * mm * self.scale
        return _table(
            rows,
            [number_width, _WIDTH - number_width],
            ("LINEABOVE", (0, 0), (-1, -1), 0.5, black),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        )
