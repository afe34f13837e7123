"""Typefaces for pictures: one for most, others for names in scripts it lacks; none is shipped with this package.

In this order: Bitstream Vera, which comes with reportlab (Latin); Source Sans, which comes with streamlit (Latin,
Greek, Cyrillic); what this machine has. A letter that no typeface here has is drawn as an empty box.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

_HIDDEN_LETTER = "\uffff"  # no typeface has it: what is drawn for it is the empty box
# Typefaces that systems bring along, by file name, regular and bold: for most scripts, ...
OF_SYSTEMS = (
    ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"),
    ("Arial Unicode.ttf", "Arial Unicode.ttf"),
    ("arial.ttf", "arialbd.ttf"),
)
# ... and for scripts that those lack.
FURTHER = (
    ("DroidSansFallbackFull.ttf", "DroidSansFallbackFull.ttf"),
    ("NotoSansCJK-Regular.ttc", "NotoSansCJK-Bold.ttc"),
    ("wqy-microhei.ttc", "wqy-microhei.ttc"),
    ("PingFang.ttc", "PingFang.ttc"),
    ("msyh.ttc", "msyhbd.ttc"),
    ("malgun.ttf", "malgunbd.ttf"),
)


def face(size: int, bold: bool = False, text: str = "") -> FreeTypeFont:
    """The first typeface that has every letter of `text`, else the one that has most; `size` in pixels."""
    opened = (_opened(str(path), size, bold) for path in _files(bold))
    best: FreeTypeFont | None = None
    most = -1
    letters = {letter for letter in text if letter.isprintable() and not letter.isspace()}
    for one in opened:
        if one is None:
            continue
        known = sum(_has(one, letter) for letter in letters) if letters else 0
        if known > most:
            best, most = one, known
        if most == len(letters):
            break
    return best if best is not None else _pillows_own(size)


def system_files(names: tuple[str, ...]) -> list[Path]:
    """Where files of these names are among the typefaces of this machine, in the order of the names."""
    places = _on_this_machine()
    return [places[name.lower()] for name in names if name.lower() in places]


@cache
def _files(bold: bool) -> tuple[Path, ...]:
    shipped = [*_in_package("reportlab", "fonts/VeraBd.ttf" if bold else "fonts/Vera.ttf")]
    shipped += _in_package("streamlit", "static/static/media/SourceSans*Upright*.woff2")
    return (*shipped, *system_files(tuple(pair[bold] for pair in OF_SYSTEMS + FURTHER)))


def _in_package(package: str, pattern: str) -> Iterator[Path]:
    spec = find_spec(package)
    for folder in (spec.submodule_search_locations or []) if spec else []:
        yield from sorted(Path(folder).glob(pattern))


@cache
def _on_this_machine() -> dict[str, Path]:
    """Typeface files of this machine, by their names in small letters."""
    folders = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), Path.home() / ".local/share/fonts"]
    if sys.platform == "darwin":
        folders = [Path("/System/Library/Fonts"), Path("/Library/Fonts"), Path.home() / "Library/Fonts"]
    elif sys.platform == "win32":
        folders = [Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts"]
    return {
        name.lower(): Path(folder) / name
        for top in folders
        for folder, _, names in os.walk(top)
        for name in names
        if name.lower().endswith((".ttf", ".ttc", ".otf"))
    }


@lru_cache(maxsize=256)
def _opened(path: str, size: int, bold: bool) -> FreeTypeFont | None:
    from PIL import ImageFont

    try:
        # The basic layout puts the same letters at the same places whatever else is installed.
        one = ImageFont.truetype(path, size, layout_engine=ImageFont.Layout.BASIC)
        if bold and path.endswith(".woff2"):
            one.set_variation_by_name("Bold")
    except (OSError, NotImplementedError):  # not readable here, or not variable
        return None
    return one


@lru_cache(maxsize=4096)
def _has(one: FreeTypeFont, letter: str) -> bool:
    return bytes(one.getmask(letter)) != bytes(one.getmask(_HIDDEN_LETTER))


@lru_cache(maxsize=64)
def _pillows_own(size: int) -> FreeTypeFont:
    from PIL import ImageFont

    fallback = ImageFont.load_default(size)
    assert isinstance(fallback, ImageFont.FreeTypeFont)
    return fallback
