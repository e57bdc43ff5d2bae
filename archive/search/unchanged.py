"""What was worked out of the records and is kept for as long as nothing changes: who types asks nearly the same at every letter."""

from __future__ import annotations

from typing import Generic, TypeVar

Key = TypeVar("Key")
Value = TypeVar("Value")


class WhileUnchanged(Generic[Key, Value]):
    """Keeps values by key; all are let go of when something changes, or when they have become too many."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: tuple[object, dict[Key, Value]] = (None, {})

    def kept(self, stamp: object) -> dict[Key, Value]:
        """Return what is kept, to be read and added to; `stamp` tells the archive and its newest change."""
        held = self._held
        if held[0] != stamp or len(held[1]) > self._most:
            held = self._held = (stamp, {})
        return held[1]
