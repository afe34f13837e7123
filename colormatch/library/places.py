"""A photograph without the place it was taken at: the position is blanked in the file, the picture untouched.

What is blanked, at the same length, so that nothing else in the file moves: the EXIF position (GPS) with its
values; whole XMP packets and IPTC blocks, which may hold a position, a city or an address. Kept: orientation,
camera, date, exposure, colour profile, every pixel. Sources: EXIF 2.32 (4.6.6), TIFF 6.0, PNG 3rd edition, RIFF,
XMP part 3 (JPEG: 1.1.3) and ISO/IEC 23008-12 (A.2.1), these two from memory.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from contextlib import suppress
from typing import TypeAlias

_GPS_POINTER = 0x8825
_BLANKED_TAGS = {700, 33723, 34377}  # of a TIFF: XMP, IPTC, image resources
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_MOST_ENTRIES = 1000  # of one directory; more is no directory
_MOST_IN_ALL = 20_000  # entries of one file, so that a file made to loop takes no longer than another
_XMP = ((b"<x:xmpmeta", b"</x:xmpmeta>"), (b"<rdf:RDF", b"</rdf:RDF>"))
_JPEG_BLOCK = re.compile(
    rb"\xff[\xe1\xed](..)(Photoshop 3\.0\x00|http://ns\.adobe\.com/(?:xap/1\.0|xmp/extension)/\x00)", re.DOTALL
)
_PNG = b"\x89PNG\r\n\x1a\n"
Span: TypeAlias = tuple[int, int]


def without_place(content: bytes) -> bytes:
    """The same file without the place; the same bytes where it holds none. Any file is taken, never an error.

    Takes time in proportion to the file, whatever it holds.
    """
    spans = _Directories(content).spans()
    if content[:2] == b"\xff\xd8":
        spans += _segments(content)
    data = _filled(bytearray(content), spans, b"\0")
    if content[:2] != b"\xff\xd8":
        data = _filled(data, list(_packets(content)), b" ")
    return _png_without_text(data) if content[:8] == _PNG else bytes(data)


def _filled(data: bytearray, spans: list[Span], filler: bytes) -> bytearray:
    """The spans overwritten, where they overlap once only."""
    done = 0
    for start, end in sorted(spans):
        start, end = max(start, done), min(end, len(data))
        if start < end:
            data[start:end] = filler * (end - start)
            done = end
    return data


def _tiff_starts(content: bytes) -> Iterator[int]:
    """Where a TIFF structure with metadata may begin."""
    if content[:4] in (b"II*\x00", b"MM\x00*"):
        yield 0
    for mark in re.finditer(rb"Exif\x00\x00(?=II\*\x00|MM\x00\*)", content):
        yield mark.end()
    if content[:4] == b"RIFF":
        yield from (mark.end() for mark in re.finditer(rb"EXIF.{4}(?=II\*\x00|MM\x00\*)", content, re.DOTALL))
    if content[4:8] == b"ftyp":  # HEIC: an offset of 0 where the word Exif is left out
        yield from (mark.end() for mark in re.finditer(rb"\x00{4}(?=II\*\x00|MM\x00\*)", content))
    if content[:8] == _PNG:
        yield from (mark.end() for mark in re.finditer(rb"eXIf(?=II\*\x00|MM\x00\*)", content))


class _Directories:
    """A walk through the TIFF directories of a file, each once, for the position and the packets they hold."""

    def __init__(self, content: bytes) -> None:
        self.content, self.left = content, _MOST_IN_ALL
        self.seen: set[int] = set()
        self.found: list[Span] = []

    def spans(self) -> list[Span]:
        for start in _tiff_starts(self.content):
            if self.left <= 0:
                break
            with suppress(struct.error):  # it points beyond the file: damaged, or no TIFF
                self.walk(start, "<" if self.content[start : start + 2] == b"II" else ">")
        return self.found

    def walk(self, start: int, order: str) -> None:
        at = self.number(order + "I", start + 4)
        while at and self.entries(start + at, order):
            count = self.number(order + "H", start + at)
            for entry in range(start + at + 2, start + at + 2 + 12 * count, 12):
                tag = self.number(order + "H", entry)
                if tag == _GPS_POINTER:
                    self.directory(start, start + self.number(order + "I", entry + 8), order)
                elif tag in _BLANKED_TAGS:
                    self.value(start, entry, order)
            at = self.number(order + "I", start + at + 2 + 12 * count)

    def directory(self, start: int, at: int, order: str) -> None:
        """A directory of a place: blanked with all its values."""
        count = self.entries(at, order)
        for entry in range(at + 2, at + 2 + 12 * count, 12):
            self.value(start, entry, order)
        self.found.append((at, at + 2 + 12 * count if count else at))

    def entries(self, at: int, order: str) -> int:
        """How many entries the directory has; 0 for one seen before, one too large, and when all are spent."""
        count = self.number(order + "H", at)
        if at in self.seen or count > min(_MOST_ENTRIES, self.left):
            return 0
        self.seen.add(at)
        self.left -= count + 1
        return count

    def value(self, start: int, entry: int, order: str) -> None:
        kind, many = self.number(order + "H", entry + 2), self.number(order + "I", entry + 4)
        length = _SIZES.get(kind, 1) * many
        at = entry + 8 if length <= 4 else start + self.number(order + "I", entry + 8)
        self.found.append((at, at + max(length, 4)))

    def number(self, code: str, at: int) -> int:
        return int(struct.unpack_from(code, self.content, at)[0])


def _packets(content: bytes) -> Iterator[Span]:
    """XMP, from its opening to its closing mark."""
    for opening, closing in _XMP:
        start = content.find(opening)
        while start >= 0 and (end := content.find(closing, start)) >= 0:
            yield start, end + len(closing)
            start = content.find(opening, end)


def _segments(content: bytes) -> list[Span]:
    """IPTC and XMP in the segments of a JPEG, also of the further pictures some cameras put behind the first.

    One by one, and never their heads: a large XMP packet goes on in the next segment.
    """
    return [
        (mark.end(), mark.end() + struct.unpack(">H", mark[1])[0] - 2 - len(mark[2]))
        for mark in _JPEG_BLOCK.finditer(content)
    ]


def _png_without_text(data: bytearray) -> bytes:
    """The chunks of a PNG without its texts (one of them may be a compressed packet), checksums put right."""
    out, at = bytearray(_PNG), len(_PNG)
    while at + 12 <= len(data):
        (length,) = struct.unpack_from(">I", data, at)
        end = min(at + 8 + length, len(data))
        kind, body = bytes(data[at + 4 : at + 8]), data[at + 4 : end]
        if kind == b"eXIf":
            out += struct.pack(">I", length) + body + struct.pack(">I", zlib.crc32(body))
        elif kind not in (b"tEXt", b"zTXt", b"iTXt"):
            out += data[at : at + 12 + length]
        at += 12 + length
    return bytes(out + data[at:])
