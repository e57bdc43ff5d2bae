"""The index that a thread holds open from one search to the next."""

from __future__ import annotations

import hashlib
import shutil
import tempfile
import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from archive.records.archive import Archive
from archive.search.index.home import Home
from archive.search.index.opened import OpenIndex

_held = threading.local()  # the library's readers are for one thread each


def up_to_date_index(archive: Archive, newest: tuple[int, str]) -> OpenIndex:
    """Return the archive's index, caught up with its records (`newest`: their last change) or made anew."""
    held: OpenIndex | None = getattr(_held, "index", None)
    if (
        held is not None
        and held.seen == newest
        and held.is_whole()
        and _held.of == archive.settings.archive_id + str(archive.folder)
    ):
        held.message = None
        return held
    for home in _homes(archive):
        opened = home.opened(archive, newest, held)
        if opened is not None:
            if opened is not held:
                let_go()
            _held.index, _held.of = opened, archive.settings.archive_id + str(archive.folder)
            return opened
    raise OSError("no folder takes a search index")


def let_go() -> None:
    """Close the index that this thread holds open."""
    held: OpenIndex | None = getattr(_held, "index", None)
    if held is not None:
        held.close()
    _held.index = None


def distrust(archive: Archive) -> None:
    """Let the index be made anew at the next search, whatever its state says: for one that let a search down."""
    let_go()
    for home in _homes(archive):
        with suppress(OSError):
            home.distrust()


def _homes(archive: Archive) -> Iterator[Home]:
    """Yield where the index may lie: in the archive; where that cannot be written, in the person's cache, or nowhere long."""
    yield Home(archive.folder / "index", archive)
    from platformdirs import user_cache_path  # only where the archive itself cannot be written

    name = hashlib.sha256(str(archive.folder).encode()).hexdigest()[:16]
    yield Home(user_cache_path("rivetbook", appauthor=False) / f"index-{name}", archive)
    yield Home(_fleeting_folder(), archive)


def _fleeting_folder() -> Path:
    import atexit

    folder = Path(tempfile.mkdtemp(prefix="rivetbook-index-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder
