"""An index that is open: its shelves, and whether its files are still what they were."""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from pathlib import Path

from archive.search.index.shelf import Shelf, open_shelf

_SEGMENTS_KEPT = 60


@dataclass(slots=True)
class OpenIndex:
    """An index that may be searched; `message` says what had to be done to it first."""

    folder: Path
    seen: tuple[int, str]
    message: str | None = None
    _shelves: dict[str, Shelf] = field(default_factory=dict)
    _segments: dict[str, tuple[int, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._segments = _segments_in(self.folder)

    def is_whole(self) -> bool:
        """Tell whether the files that the library maps into memory are as they were when this was opened.

        The library never writes to one again; to read where one was cut short would end the whole process. One
        that is gone, as after others were put together into a new one, is still whole in memory.
        """
        now = _segments_in(self.folder)
        return all(now.get(path, facts) == facts for path, facts in self._segments.items())

    def shelf(self, name: str) -> Shelf:
        """Return a shelf, open."""
        if name not in self._shelves:
            self._shelves[name] = open_shelf(str(self.folder), name, _known_keys())
        return self._shelves[name]

    def renew(self, seen: tuple[int, str], message: str | None) -> None:
        """Look at the shelves as they are now; those that nothing was written to stay open."""
        self.seen, self.message = seen, message
        self._segments = _segments_in(self.folder)
        for name, shelf in list(self._shelves.items()):
            try:
                self._shelves[name] = shelf.renewed()
            except (
                OSError
            ):  # another process has just put segments together: it is opened when it is asked for
                self._shelves.pop(name).close()

    def close(self) -> None:
        """Let go of the index's files."""
        while self._shelves:
            self._shelves.popitem()[1].close()


_read = threading.local()


def _known_keys() -> dict[str, list[int]]:
    """Return the keys of the segments that this thread has read."""
    known: dict[str, list[int]] = _read.__dict__.setdefault("keys", {})
    while len(known) > _SEGMENTS_KEPT:
        del known[next(iter(known))]
    return known


def _segments_in(folder: Path) -> dict[str, tuple[int, int]]:
    """Return the size and the time of writing of every file that holds a part of a shelf, by its path."""
    try:
        with os.scandir(folder) as entries:
            found = [(entry.path, entry.stat()) for entry in entries if entry.name.endswith(".seg")]
    except FileNotFoundError:
        return {}
    return {path: (facts.st_size, facts.st_mtime_ns) for path, facts in found}
