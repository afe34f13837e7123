"""The printed frame of the tile board as a one-page PDF, in black only."""

from __future__ import annotations

from io import BytesIO

from ..errors import InputError
from ..photo.board import BAND, HEIGHT, HOLE, HOLES, WIDTH, WINDOW, window_middles

PAPERS = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}  # mm, lying on their sides
_ABOVE = "Glue a measured, matte tile into the middle of each window, and write down which is where."
_BELOW = "Print at 100 %, plain paper, black: the border is 246 mm long. Photograph it flat, whole and evenly lit."
_HAIR, _SMALL, _NUMBER = 0.7, 7.5, 9.0  # points: a thin line, letters, numbers


def board_pdf(paper: str = "A4") -> bytes:
    """The frame on A4 or Letter, lying on its side, as the bytes of a PDF; raises InputError for other papers."""
    if paper not in PAPERS:
        raise InputError(f"The paper {paper!r} is not known here; choose one of: {', '.join(PAPERS)}.")
    from reportlab.lib.units import mm
    from reportlab.pdfgen.canvas import Canvas

    size = [side * mm for side in PAPERS[paper]]
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=tuple(size), invariant=1)
    canvas.setTitle(f"Tile board, {paper}")
    # From here on in mm from the border's outer corner at window 1, y down, as in photo/board.py.
    left, top = (size[0] - WIDTH * mm) / 2, (size[1] + HEIGHT * mm) / 2

    def box(x: float, y: float, wide: float, high: float, **how: int) -> None:
        canvas.rect(left + x * mm, top - (y + high) * mm, wide * mm, high * mm, **how)

    def centred(x: float, y: float, text: str, points: float) -> None:
        canvas.setFont("Helvetica", points)
        canvas.drawCentredString(left + x * mm, top - y * mm, text)

    canvas.setFillGray(0)
    box(0, 0, WIDTH, HEIGHT, stroke=0, fill=1)
    canvas.setFillGray(1)
    box(BAND, BAND, WIDTH - 2 * BAND, HEIGHT - 2 * BAND, stroke=0, fill=1)
    for x, y in HOLES:
        box(x - HOLE / 2, y - HOLE / 2, HOLE, HOLE, stroke=0, fill=1)
    canvas.setFillGray(0)
    canvas.setLineWidth(_HAIR)
    for number, (x, y) in enumerate(window_middles(), start=1):
        box(x - WINDOW / 2, y - WINDOW / 2, WINDOW, WINDOW, stroke=1, fill=0)
        centred(x, y + WINDOW / 2 + 4, str(number), _NUMBER)
    first, last = window_middles()[[0, -1], 1]
    centred(WIDTH / 2, first - WINDOW / 2 - 2, _ABOVE, _SMALL)
    centred(WIDTH / 2, last + WINDOW / 2 + 8, _BELOW, _SMALL)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()
