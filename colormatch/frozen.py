"""One read-only mapping, for use inside frozen records: ordered, copied, pickled, joined with `|`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

Key = TypeVar("Key")
Value = TypeVar("Value", covariant=True)


class FrozenMapping(Mapping[Key, Value]):
    """A copy of a mapping that cannot be changed; equal to any mapping with the same entries, not hashable."""

    __slots__ = ("_entries",)
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, entries: Mapping[Key, Value] | None = None) -> None:
        self._entries = dict(entries or {})

    def __getitem__(self, key: Key) -> Value:
        return self._entries[key]

    def __iter__(self) -> Iterator[Key]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def __or__(self, other: Mapping[Key, Any]) -> FrozenMapping[Key, Any]:
        return FrozenMapping({**self._entries, **other})

    def __repr__(self) -> str:
        return repr(self._entries)
