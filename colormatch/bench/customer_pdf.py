"""A customer's card as one page (A4): its picture, and its words as text that can be read aloud and searched."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from .sheet_pdf import REGULAR, safe

_MARGIN = 15 * mm  # this and the sizes below: by eye


def customer_pdf(title: str, maker: str, picture: bytes, lines: Sequence[str]) -> bytes:
    """The bytes of a PDF of one page; picture: the card as a PNG."""
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=A4, invariant=1)
    canvas.setTitle(title)
    canvas.setAuthor(maker)
    image = ImageReader(BytesIO(picture))
    width = A4[0] - 2 * _MARGIN
    wide, high = image.getSize()
    height = min(width * high / wide, 0.6 * A4[1])
    y = A4[1] - _MARGIN - height
    canvas.drawImage(image, _MARGIN, y, height * wide / high, height)
    style = ParagraphStyle("line", fontName=REGULAR, fontSize=11, leading=15)
    for line in (f"<b>{safe(title)}</b>", safe(maker), *(safe(each) for each in lines)):
        paragraph = Paragraph(line, style)
        y -= paragraph.wrap(width, A4[1])[1] + 4
        paragraph.drawOn(canvas, _MARGIN, y)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()
