"""The file store of photographs: content addressed by sha256, so a photograph is kept once and never changes.

On SQLite they are files in `photographs/` beside the database, written to the disk in full before any row may
name them; on a database server they are rows of its own table, so that every work place sees them. A file
that no row names is left over from an interrupted write: harmless, and swept away with the bin.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

import sqlalchemy as sa

from ..errors import LibraryError, PhotoError
from .errors import NotInLibrary
from .schema import photograph_files

MOST_BYTES = 100 * 2**20  # of a photograph; a judgement
_A_DAY = 24 * 3600.0  # seconds
THUMBNAIL_PX = 320  # sharp at half that on a phone's screen; a judgement
_SHA256 = re.compile(r"[0-9a-f]{64}")
MEDIA_TYPES = {
    "JPEG": "image/jpeg", "MPO": "image/jpeg", "PNG": "image/png", "TIFF": "image/tiff", "WEBP": "image/webp",
    "HEIF": "image/heif",
}  # fmt: skip
SUFFIXES = {
    "image/jpeg": ".jpg", "image/png": ".png", "image/tiff": ".tif", "image/webp": ".webp",
    "image/heif": ".heic",
}  # fmt: skip


class FolderStore:
    """Photographs as files, `<folder>/ab/abcdef....`; every call is part of the transaction of its connection."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, connection: sa.Connection, sha256: str, content: bytes) -> None:
        """Keep the bytes, at once on the disk and whole or not at all; to keep the same again is no error."""
        path = self._path(sha256)
        if path.exists() and sha256_of(path.read_bytes()) == sha256:  # a damaged one is written again
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)

    def get(self, connection: sa.Connection, sha256: str) -> bytes:
        """The bytes, checked against their sha256; NotInLibrary or LibraryError."""
        try:
            content = self._path(sha256).read_bytes()
        except FileNotFoundError:
            raise NotInLibrary(_missing(sha256)) from None
        return _verified(sha256, content)

    def held(self, connection: sa.Connection) -> set[str]:
        """Every file of the store."""
        return {path.name for path in self._files() if len(path.name) == 64}

    def drop(self, connection: sa.Connection, sha256: str) -> None:
        """Remove the file; no error if it is not there."""
        with suppress(FileNotFoundError):
            self._path(sha256).unlink()

    def sweep(self) -> None:
        """Remove files whose writing was interrupted."""
        for path in self._files():
            if len(path.name) != 64:
                path.unlink(missing_ok=True)

    def _files(self) -> Iterator[Path]:
        return (path for path in self.folder.glob("??/*") if path.is_file())

    def _path(self, sha256: str) -> Path:
        if not _SHA256.fullmatch(sha256):  # it becomes part of a path
            raise NotInLibrary(_missing(sha256))
        return self.folder / sha256[:2] / sha256


class TableStore:
    """Photographs as rows of the table `photograph_files`."""

    def put(self, connection: sa.Connection, sha256: str, content: bytes) -> None:
        """Insert, unless it is there."""
        table = photograph_files
        there = connection.execute(sa.select(table.c.sha256).where(table.c.sha256 == sha256)).first()
        if there is None:
            connection.execute(sa.insert(table), {"sha256": sha256, "content": content})

    def get(self, connection: sa.Connection, sha256: str) -> bytes:
        """Read and check."""
        table = photograph_files
        content = connection.execute(sa.select(table.c.content).where(table.c.sha256 == sha256)).scalar()
        if content is None:
            raise NotInLibrary(_missing(sha256))
        return _verified(sha256, bytes(content))

    def held(self, connection: sa.Connection) -> set[str]:
        """Every row of the table."""
        return set(connection.execute(sa.select(photograph_files.c.sha256)).scalars())

    def drop(self, connection: sa.Connection, sha256: str) -> None:
        """Delete the row."""
        connection.execute(sa.delete(photograph_files).where(photograph_files.c.sha256 == sha256))


PhotographStore = FolderStore | TableStore


@contextmanager
def whole(path: Path) -> Iterator[IO[bytes]]:
    """A file to write that, whatever happens, is at `path` whole or not at all (flushed, then renamed)."""
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    flush_folder(path.parent)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    with whole(path) as file:
        file.write(content)


def sweep_parts(folder: Path) -> None:
    """Remove what writing that was cut short more than a day ago left in a folder; younger ones may be in use."""
    for left in folder.glob(".part-*"):
        with suppress(OSError):
            if time.time() - left.stat().st_mtime > _A_DAY:
                shutil.rmtree(left) if left.is_dir() else left.unlink()


def flush_folder(folder: Path) -> None:
    """Flush the names in a folder to the disk, where the system can."""
    with suppress(OSError):  # not possible on Windows
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def sha256_of(content: bytes) -> str:
    """The sha256 of bytes, 64 hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def describe(content: bytes) -> tuple[str, int, int]:
    """(media type, width, height) of a photograph, from its header; LibraryError when it is not one."""
    if not content or len(content) > MOST_BYTES:
        raise LibraryError(
            f"The photograph has {len(content)} bytes; 1 to {MOST_BYTES} are kept. Save it again at a lower quality."
        )
    from PIL import Image  # slow to import

    from ..photo.load import most_pixels

    formats = _openable(content)
    try:
        with Image.open(io.BytesIO(content), formats=formats) as picture:
            form, (width, height) = picture.format or "", picture.size
    except Exception as error:  # Pillow's readers raise whatever a damaged header leads them to
        raise LibraryError("This is not a photograph that can be read: use JPEG, PNG, TIFF, WebP or HEIC.") from error
    most = most_pixels(form)
    if width * height > most:
        raise LibraryError(
            f"The photograph is {width} x {height} pixels; at most {most // 1_000_000} megapixels are kept."
        )
    return MEDIA_TYPES[form], width, height


def thumbnail(content: bytes, size_px: int = THUMBNAIL_PX) -> bytes:
    """A small upright JPEG of a photograph, at most size_px on its longer side."""
    from PIL import Image, ImageOps

    describe(content)
    try:
        with Image.open(io.BytesIO(content), formats=_openable(content)) as picture:
            picture.draft("RGB", (size_px, size_px))
            deep = picture.mode.startswith("I")  # 16 bits of grey, which Pillow neither averages nor converts
            picture.thumbnail((size_px, size_px), Image.Resampling.NEAREST if deep else Image.Resampling.BICUBIC)
            small = picture.convert("I").point(lambda value: value * (1 / 256)).convert("L") if deep else picture
            upright = ImageOps.exif_transpose(small).convert("RGB")
    except Exception as error:  # as above: whatever damaged pixels lead to
        raise LibraryError("The photograph is damaged: its header can be read, its pixels cannot.") from error
    out = io.BytesIO()
    upright.save(out, format="JPEG", quality=85)
    return out.getvalue()


def _openable(content: bytes) -> list[str]:
    """Of what is kept, what this may be; LibraryError for HEIC without its package."""
    from ..photo.load import formats_of

    try:
        return [name for name in formats_of(content[:16]) if name in MEDIA_TYPES]
    except PhotoError as error:
        raise LibraryError(str(error)) from None


def _verified(sha256: str, content: bytes) -> bytes:
    if sha256_of(content) != sha256:
        raise LibraryError(
            f"The photograph {sha256[:12]} is damaged: its sha256 does not fit. Restore it from a backup."
        )
    return content


def _missing(sha256: str) -> str:
    return f"There is no photograph {sha256[:12]} in the library."
