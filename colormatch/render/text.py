"""Letters for the pictures: the typeface, and names of any length or script made to fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..lettering import face
from ..naming import one_line

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont


def font(size: int, bold: bool = False, text: object = "") -> FreeTypeFont:
    """The typeface for a text; see `lettering`."""
    return face(size, bold, clean(text))


def clean(text: object, longest: int = 400) -> str:
    """One line as it can be drawn, at most `longest` characters."""
    return one_line(str(text), longest).replace("\u200d", "")  # no typeface here joins signs


def shorten(text: str, width: float, face: FreeTypeFont) -> str:
    """`text` cleaned, and cut with an ellipsis where it is wider than `width` pixels."""
    text = clean(text)
    if face.getlength(text) <= width:
        return text
    while text and face.getlength(text + "…") > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrap(text: str, width: float, face: FreeTypeFont, most_lines: int = 4) -> list[str]:
    """`text` in lines of at most `width` pixels; what does not fit in the last one ends in an ellipsis."""
    words = clean(text, 2000).split()
    lines: list[str] = []
    while words and len(lines) < most_lines - 1:
        line = words.pop(0)
        while words and face.getlength(f"{line} {words[0]}") <= width:
            line += " " + words.pop(0)
        if face.getlength(line) > width:  # one word wider than the line: break it
            cut = len(line)
            while cut > 1 and face.getlength(line[:cut]) > width:
                cut -= 1
            words.insert(0, line[cut:])
            line = line[:cut]
        lines.append(line)
    if words:
        lines.append(shorten(" ".join(words), width, face))
    return lines
