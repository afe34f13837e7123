"""What every record has. A record without a `uid` is given one when it is saved; `version` counts its edits."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from typing import ClassVar

from . import fields as f

NAME, NOTES = f.Text(required=True), f.Text(limit=20_000)


def new_uid() -> str:
    """A fresh random uid (32 hexadecimal digits)."""
    return uuid.uuid4().hex


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every record has: its uid, and the number of the version that was read (0: not yet saved)."""

    KIND: ClassVar[str] = ""
    TABLE: ClassVar[str] = ""
    SEARCHED: ClassVar[tuple[str, ...]] = ()
    uid: str = ""
    version: int = field(default=0, compare=False)

    def __init_subclass__(cls, kind: str = "", table: str = "") -> None:
        """Name the kind and its table; dataclass makes the class anew for its slots, and then these stay."""
        if kind:
            cls.KIND, cls.TABLE = kind, table

    def check_whole(self) -> None:
        """Raise LibraryError for what only several fields together show."""
