"""The archive as the page's threads use it: one opened for each, so that acts do not run together."""

from __future__ import annotations

import threading
from pathlib import Path

from flask import current_app

from archive.records.archive import Archive, open_archive

DOOR = "browser page"


class Archives:
    """Opens the archive once for each thread that asks."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._mine = threading.local()
        self._all: list[Archive] = []
        self._adding = threading.Lock()

    def mine(self) -> Archive:
        """Return this thread's archive."""
        held: Archive | None = getattr(self._mine, "archive", None)
        if held is None:
            held = self._mine.archive = open_archive(self.folder, door=DOOR)
            with self._adding:
                self._all.append(held)
        return held

    def close(self) -> None:
        """Close what every thread opened."""
        with self._adding:
            for each in self._all:
                each.close()
            self._all.clear()


def archive() -> Archive:
    """Return the archive of the request that is being answered."""
    archives: Archives = current_app.extensions["archives"]
    return archives.mine()
