"""Work that must not meet its like: imports and repairs take turns."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from filelock import FileLock, Timeout

from archive.errors import ArchiveBusy, CouldNotWrite
from archive.records.archive import Archive

_WAIT_SECONDS = 30.0


@contextmanager
def taking_turns(archive: Archive) -> Iterator[None]:
    """Let one import or repair run at a time: the next waits for its turn, and then sees what the first did.

    Raises `ArchiveBusy` when its turn does not come in time, or `CouldNotWrite`.
    """
    lock = FileLock(archive.folder / ".import.lock")
    try:
        lock.acquire(timeout=_WAIT_SECONDS)
    except Timeout as error:
        raise ArchiveBusy(str(archive.folder), _WAIT_SECONDS) from error
    except OSError as error:
        raise CouldNotWrite(str(archive.folder), error.strerror or str(error)) from error
    try:
        yield
    finally:
        lock.release()
