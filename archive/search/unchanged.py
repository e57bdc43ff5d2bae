"""What was read from the records and is kept for as long as nothing changes: who types asks nearly the same at every letter."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import Generic, TypeVar

Key = TypeVar("Key")
Value = TypeVar("Value")


class WhileUnchanged(Generic[Key, Value]):
    """Keeps values by key; all are let go of when something changes, or when they have become too many."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: tuple[object, dict[Key, Value]] = (None, {})

    def of(
        self, stamp: object, keys: Collection[Key], read: Callable[[list[Key]], Mapping[Key, Value]]
    ) -> dict[Key, Value]:
        """Return the values of these keys, those that are not kept as `read` gives them.

        `stamp` tells the archive and its newest change. A key that `read` gives nothing for is left out.
        """
        held = self._held
        if held[0] != stamp or len(held[1]) > self._most:
            held = self._held = (stamp, {})
        kept = held[1]
        new = [key for key in keys if key not in kept]
        if new:
            kept.update(read(new))
        return {key: kept[key] for key in keys if key in kept}
