"""Reading an exchange folder or zip that may come from anyone; nothing is unpacked to the disk by its name.

Refused: names that lead outside (absolute, "..", drive letters, backslashes), links, two files of one name,
encrypted files, files that swell beyond all reason. Every read is counted as it happens; sizes that a zip
states about itself are not believed.
"""

from __future__ import annotations

import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath
from typing import Protocol

from .errors import ExchangeError

MOST_FILES = 50_000
MOST_TEXT = 64 * 2**20
MOST_TOTAL = 4 * 2**30
MOST_SWELLING = 200  # uncompressed to compressed; real tables reach about 20
_SMALL = 2**20  # below this, swelling is no danger
_MARK = "library.toml"


class Source(Protocol):
    """The files of an exchange folder or zip, by their names within it."""

    names: list[str]

    def read(self, name: str, limit: int = MOST_TEXT) -> bytes:
        """The bytes of a file; ExchangeError if there are more than `limit`."""


def open_source(path: str | Path) -> Source:
    """The files of a folder or of a zip; ExchangeError when it is neither, or not safe."""
    path = Path(path)
    if path.is_dir():
        return FolderSource(path)
    if path.is_file() and zipfile.is_zipfile(path):
        return ZipSource(path)
    raise ExchangeError(f"{path} is neither a folder nor a zip. Give the folder or zip that was exported.")


def zip_holds(path: Path, name: str) -> bool:
    """Whether a file is a zip with a file of that name in it: an earlier export or backup, safe to replace."""
    try:
        with zipfile.ZipFile(path) as archive:
            return name in archive.namelist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return False


class FolderSource:
    """The files of a folder, at most one folder deep."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        if not (folder / _MARK).is_file():
            raise ExchangeError(f"{folder} holds no {_MARK}, so it is not an exported library.")
        found = [path for pattern in ("*", "*/*") for path in folder.glob(pattern)]
        for path in found:
            if path.is_symlink():
                raise ExchangeError(f"{path} is a link; an exported library holds files only. Remove it.")
        self.names = sorted(path.relative_to(folder).as_posix() for path in found if path.is_file())
        _few_enough(len(self.names))

    def read(self, name: str, limit: int = MOST_TEXT) -> bytes:
        """The bytes of a file."""
        try:
            with (self._folder / name).open("rb") as file:
                content = file.read(limit + 1)
        except OSError as error:
            raise ExchangeError(f"{name} in {self._folder} could not be read: {error.strerror}.") from error
        return _within(name, content, limit)


class ZipSource:
    """The files of a zip; those of its one top folder, if library.toml is in one."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._total = 0
        try:
            with zipfile.ZipFile(path) as archive:
                members = archive.infolist()
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
            raise ExchangeError(f"{path} is damaged: it cannot be read as a zip ({error}).") from error
        _few_enough(len(members))
        for member in members:
            _require_safe(member)
        files = [member for member in members if not member.is_dir()]
        top = _top_folder([member.filename for member in files])
        self._members = {m.filename.removeprefix(top): m for m in files if m.filename.startswith(top)}
        if len({m.filename for m in files}) != len(files):
            raise ExchangeError(f"{path} holds two files of one name; which is meant cannot be known. Export it again.")
        self.names = sorted(self._members)

    def read(self, name: str, limit: int = MOST_TEXT) -> bytes:
        """The bytes of a file, unpacked in memory no further than the limit."""
        try:
            with zipfile.ZipFile(self._path) as archive, archive.open(self._members[name]) as file:
                content = file.read(limit + 1)
        except (
            zipfile.BadZipFile,
            zlib.error,
            OSError,
            EOFError,
            RuntimeError,
            NotImplementedError,
        ) as error:
            raise ExchangeError(f"{name} in {self._path} is damaged and cannot be unpacked ({error}).") from error
        self._total += len(content)
        if self._total > MOST_TOTAL:
            raise ExchangeError(f"{self._path} unpacks to more than {MOST_TOTAL // 2**30} GB; it is not read further.")
        return _within(name, content, limit)


def _require_safe(member: zipfile.ZipInfo) -> None:
    # orig_filename: as it stands in the zip; zipfile cuts `filename` at a NUL and turns some separators
    # round.
    for name in (member.filename, member.orig_filename):
        if not is_safe_name(name.rstrip("/")):
            raise ExchangeError(
                f"The zip holds a file called {name[:80]!r}, which could lead outside its folder. It was "
                "refused as a "
                "whole; ask for a fresh export."
            )
    kind = stat.S_IFMT(member.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise ExchangeError(f"{member.filename!r} in the zip is a link or a device, not a file. The zip was refused.")
    if member.flag_bits & 0x1:
        raise ExchangeError(f"{member.filename!r} in the zip is encrypted; export it without a password.")
    if member.file_size > _SMALL and member.file_size > MOST_SWELLING * max(member.compress_size, 1):
        raise ExchangeError(
            f"{member.filename!r} in the zip would swell from {member.compress_size} to {member.file_size} "
            "bytes; "
            "no table of a library does. The zip was refused."
        )


def is_safe_name(name: str) -> bool:
    """Whether a name stays within its folder on every system."""
    parts = PurePosixPath(name).parts
    plain = all(character.isprintable() for character in name) and not set(name) & set('\\:*?"<>|')
    return bool(name) and plain and not name.startswith("/") and ".." not in parts and len(name) <= 250


def _top_folder(names: list[str]) -> str:
    if _MARK in names:
        return ""
    marks = [name for name in names if name.endswith(f"/{_MARK}") and name.count("/") == 1]
    if len(marks) != 1:
        raise ExchangeError(f"The zip holds no {_MARK}, so it is not an exported library.")
    return marks[0].removesuffix(_MARK)


def _few_enough(count: int) -> None:
    if count > MOST_FILES:
        raise ExchangeError(f"There are {count} files; an exported library holds at most {MOST_FILES}.")


def _within(name: str, content: bytes, limit: int) -> bytes:
    if len(content) > limit:
        raise ExchangeError(f"{name} is larger than the {limit // 2**20} MB that are read.")
    return content
