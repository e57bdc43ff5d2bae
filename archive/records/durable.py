"""Writing that survives a pulled plug: flush the file, rename it, flush the folder, in that order."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from pathlib import Path

# Names of files that are still being written begin so: those of an import or a repair, which take turns, and
# those of files that follow their rows, which only the one writer moves.
PART, MOVED_PART = ".rivetbook-part-", ".rivetbook-moved-part-"


def part_beside(target: Path, beginning: str = PART) -> Path:
    """Return a fresh temporary name in the target's folder, so that a rename stays on one disk."""
    return target.with_name(f"{beginning}{secrets.token_hex(8)}")


def flush_file(path: Path) -> None:
    """Ask the disk to keep the file's bytes."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def flush_folder(folder: Path) -> None:
    """Ask the disk to keep the folder's names; Windows keeps them without being asked and has no way to ask."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network disks know no such request
            raise
    finally:
        os.close(handle)


def write_whole(target: Path, content: bytes, beginning: str = PART) -> None:
    """Put `content` at `target` whole or not at all, replacing what a program put there before."""
    part = part_beside(target, beginning)
    try:
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):  # where nothing can be written nothing can be taken away
            part.unlink(missing_ok=True)
        raise
    flush_folder(target.parent)


def sweep_parts(folder: Path, beginning: str = PART) -> None:
    """Take away half-written files that a cut-off run left; call it only while no other run writes such there."""
    for part in folder.glob(f"{beginning}*"):
        part.unlink(missing_ok=True)
