"""A folder that appears with everything in it, or not at all."""

from __future__ import annotations

import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from archive.errors import CouldNotWrite, FileNotThere, FolderInTheWay
from archive.records import durable

_PART = ".part-"
_ABANDONED_SECONDS = 3600.0  # a part that nobody has touched for so long was left by a run that was cut off


@contextmanager
def whole_folder(target: Path) -> Iterator[Path]:
    """Hand out an empty folder beside `target` to fill; when the block ends well it becomes `target`.

    Files are flushed to the disk before the rename, so that a pulled plug leaves all of it or none.
    When the block raises, nothing is left. Raises `FolderInTheWay` where `target` is there already,
    even an empty folder, `FileNotThere` where the folder to hold it is not, and `CouldNotWrite`
    where the disk refuses.
    """
    target = target.parent.resolve() / target.name
    part = target.parent / f".{target.name}{_PART}{secrets.token_hex(4)}"
    try:
        _refuse_what_is_there(target)
        if not target.parent.is_dir():
            raise FileNotThere(str(target.parent), "folder")
        _sweep_abandoned(target)
        part.mkdir()
        yield part
        _flush_all(part)
        _refuse_what_is_there(target)  # again: on some systems a rename quietly replaces an empty folder
        part.rename(target)
        durable.flush_folder(target.parent)
    except OSError as error:
        raise CouldNotWrite(str(target), error.strerror or str(error)) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _refuse_what_is_there(target: Path) -> None:
    if target.exists() or target.is_symlink():
        raise FolderInTheWay(str(target))


def _sweep_abandoned(target: Path) -> None:
    before = time.time() - _ABANDONED_SECONDS
    for part in target.parent.iterdir():
        ours = part.name.startswith(f".{target.name}{_PART}")
        if ours and part.is_dir() and not part.is_symlink() and part.stat().st_mtime < before:
            shutil.rmtree(part, ignore_errors=True)


def _flush_all(folder: Path) -> None:
    for path in folder.iterdir():
        if path.is_dir():
            _flush_all(path)
        else:
            durable.flush_file(path)
    durable.flush_folder(folder)
