"""Reading a folder or zip that may come from anyone; nothing is unpacked to the disk by its name.

Refused: names that lead outside (absolute, "..", drive letters, backslashes), links, two files of one name,
encrypted or strangely packed files, files that swell beyond all reason. Sizes are seen before anything is unpacked,
and every read is counted as it happens, as a zip may lie about them.
"""

from __future__ import annotations

import stat
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import IO

from .errors import ExchangeError

# Judged to be beyond any studio, and small enough that a hostile file fills no memory.
MOST_FILES = 50_000
MOST_TEXT = 64 * 2**20
MOST_DATABASE = 2 * 2**30  # a library of 100 000 swatches is about 0.2 GB
MOST_UNPACKED = 2**30  # beyond the size of the zip itself: pictures are stored as they are, tables shrink to a tenth
MOST_SWELLING = 200  # uncompressed to compressed; real tables reach about 20
_SMALL = 2**20  # below this, swelling is no danger


@contextmanager
def opened(path: str | Path, mark: str) -> Iterator[Source]:
    """The files of a folder or of a zip that holds `mark`; ExchangeError when it is neither, or not safe."""
    path = Path(path)
    if path.is_dir():
        yield FolderSource(path, mark)
        return
    if not path.is_file() or not zipfile.is_zipfile(path):
        raise ExchangeError(f"{path} is neither a folder nor a zip. Give the folder or zip that was exported.")
    with _said_of(path, ""):
        packed = zipfile.ZipFile(path)
    with packed:
        yield ZipSource(path, packed, mark)


def zip_holds(path: Path, name: str) -> bool:
    """Whether a file is a zip with a file of that name in it: an earlier export or backup, safe to replace."""
    try:
        with zipfile.ZipFile(path) as archive:
            return name in archive.namelist()
    except Exception:  # whatever damage leads the reader of zips to
        return False


class FolderSource:
    """The files of a folder, at most one folder deep, by their names within it."""

    def __init__(self, folder: Path, mark: str) -> None:
        self._folder = folder
        if not (folder / mark).is_file():
            raise ExchangeError(f"{folder} holds no {mark}, so it is not an exported library.")
        found = [path for pattern in ("*", "*/*") for path in folder.glob(pattern)]
        for path in found:
            if path.is_symlink():
                raise ExchangeError(f"{path} is a link; an exported library holds files only. Remove it.")
        self.names = sorted(path.relative_to(folder).as_posix() for path in found if path.is_file())
        _few_enough(len(self.names))

    def read(self, name: str, limit: int = MOST_TEXT) -> bytes:
        """The bytes of a file; ExchangeError if there are more than `limit`."""
        try:
            with (self._folder / name).open("rb") as file:
                return _within(name, file.read(limit + 1), limit)
        except OSError as error:
            raise ExchangeError(f"{name} in {self._folder} could not be read: {error.strerror}.") from error


class ZipSource:
    """The files of a zip; those of its one top folder, if the mark is in one."""

    def __init__(self, path: Path, packed: zipfile.ZipFile, mark: str) -> None:
        self._path, self._packed = path, packed
        self._most = MOST_UNPACKED + path.stat().st_size
        self._total = 0
        members = packed.infolist()
        _few_enough(len(members))
        for member in members:
            _require_safe(member)
        files = [member for member in members if not member.is_dir()]
        if len({m.filename for m in files}) != len(files):
            raise ExchangeError(f"{path} holds two files of one name; which is meant cannot be known. Export it again.")
        self._count(0, sum(member.file_size for member in files))
        top = _top_folder([member.filename for member in files], mark)
        self._members = {m.filename.removeprefix(top): m for m in files if m.filename.startswith(top)}
        self.names = sorted(self._members)

    def read(self, name: str, limit: int = MOST_TEXT) -> bytes:
        """The bytes of a file, unpacked in memory no further than the limit."""
        with _said_of(self._path, name), self._packed.open(self._members[name]) as file:
            content = file.read(limit + 1)
        self._count(len(content))
        return _within(name, content, limit)

    def unpack(self, name: str, target: Path, limit: int = MOST_DATABASE) -> None:
        """Write a file to the disk, to a place of our own choice, no further than the limit."""
        if self._members[name].file_size > limit:
            raise ExchangeError(f"{name} is larger than the {limit // 2**20} MB that are read.")
        with _said_of(self._path, name):
            file = self._packed.open(self._members[name])
        with file, target.open("wb") as out:
            while chunk := self._next(file, name):  # zipfile stops at the size that was just seen
                out.write(chunk)

    def _next(self, file: IO[bytes], name: str) -> bytes:
        with _said_of(self._path, name):
            return file.read(_SMALL)

    def _count(self, size: int, announced: int = 0) -> None:
        self._total += size
        if self._total + announced > self._most:
            raise ExchangeError(f"{self._path} unpacks to more than {self._most // 2**20} MB; it is not read further.")


Source = FolderSource | ZipSource


@contextmanager
def _said_of(path: Path, name: str) -> Iterator[None]:
    try:
        yield
    except (ExchangeError, MemoryError):
        raise
    except Exception as error:  # zipfile and zlib raise whatever damage leads them to
        what = f"{name} in {path} is damaged and cannot be unpacked" if name else f"{path} is damaged"
        raise ExchangeError(f"{what} ({str(error)[:200]}).") from error


def _require_safe(member: zipfile.ZipInfo) -> None:
    # orig_filename: as it stands in the zip; zipfile cuts `filename` at a NUL and turns some separators round.
    for name in (member.filename, member.orig_filename):
        if not is_safe_name(name.rstrip("/")):
            raise ExchangeError(
                f"The zip holds a file called {name[:80]!r}, which could lead outside its folder. It was refused as a "
                "whole; ask for a fresh export."
            )
    named = f"{member.filename!r} in the zip"
    if stat.S_IFMT(member.external_attr >> 16) not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise ExchangeError(f"{named} is a link or a device, not a file. The zip was refused.")
    if member.flag_bits & 0x1:
        raise ExchangeError(f"{named} is encrypted; export it without a password.")
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):  # others may ask for gigabytes
        raise ExchangeError(f"{named} is packed in a way that no export uses. The zip was refused.")
    if member.file_size > _SMALL and member.file_size > MOST_SWELLING * max(member.compress_size, 1):
        raise ExchangeError(
            f"{named} would swell from {member.compress_size} to {member.file_size} bytes; no table of a library does. "
            "The zip was refused."
        )


def is_safe_name(name: str) -> bool:
    """Whether a name stays within its folder on every system."""
    parts = PurePosixPath(name).parts
    plain = all(character.isprintable() for character in name) and not set(name) & set('\\:*?"<>|')
    return bool(name) and plain and not name.startswith("/") and ".." not in parts and len(name) <= 250


def _top_folder(names: list[str], mark: str) -> str:
    if mark in names:
        return ""
    marks = [name for name in names if name.endswith(f"/{mark}") and name.count("/") == 1]
    if len(marks) != 1:
        raise ExchangeError(f"The zip holds no {mark}, so it is not an exported library.")
    return marks[0].removesuffix(mark)


def _few_enough(count: int) -> None:
    if count > MOST_FILES:
        raise ExchangeError(f"There are {count} files; an exported library holds at most {MOST_FILES}.")


def _within(name: str, content: bytes, limit: int) -> bytes:
    if len(content) > limit:
        raise ExchangeError(f"{name} is larger than the {limit // 2**20} MB that are read.")
    return content
