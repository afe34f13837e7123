"""One look at a library: what one thread reads over and over while it draws a page is read from the database once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

T = TypeVar("T")


class Look(threading.local):
    """What this thread has read since its look began; None: it is not looking, and everything is read anew."""

    read: dict[Hashable, Any] | None = None

    @contextmanager
    def begin(self) -> Iterator[None]:
        """A look begins; it ends with the block."""
        before, self.read = self.read, {}
        try:
            yield
        finally:
            self.read = before

    def forget(self) -> None:
        """Something was written: read anew."""
        if self.read is not None:
            self.read = {}

    def at(self, key: Hashable, reading: Callable[[], T]) -> T:
        """What was read for this key, or is read now."""
        if self.read is None:
            return reading()
        if key not in self.read:
            self.read[key] = reading()
        found: T = self.read[key]
        return found
