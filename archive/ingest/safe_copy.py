"""Copy a file into a visit's folder so that it is there whole or not at all, hashed on the way."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from archive.errors import CouldNotWrite, SourceNotRead
from archive.ingest.survey import FileSeen
from archive.records import durable
from archive.records.folder import free_name, path_key, safe_file_name

_PIECE = 1 << 20
# What a disk answers that cannot give a file a second name (memory cards, some network disks).
_NO_SECOND_NAMES = {errno.EPERM, errno.EACCES, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EMLINK}


@dataclass(frozen=True, slots=True)
class Part:
    """A copy under its temporary name, flushed to disk."""

    path: Path
    sha256: str
    bytes: int


def hash_file(path: Path) -> str:
    """Return the SHA-256 of a file's bytes; raises `SourceNotRead`."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise _not_read(path, error) from error


def copy_to_part(source: Path, folder: Path, *, seen: FileSeen) -> Part:
    """Copy `source` under a temporary name in `folder`, in one pass with its hash, and flush it.

    The copy keeps the file's time. Raises `SourceNotRead` when it cannot be read or is not as it was
    `seen`, `CouldNotWrite` when the disk does not take it; no temporary file is left then.
    """
    part = durable.part_beside(folder / source.name[:1])
    try:
        with _opened(source) as reading:
            before = os.fstat(reading.fileno())
            copied, sha256 = _copy(reading, source, part)
            after = os.fstat(reading.fileno())
        as_seen = (seen.bytes, seen.modified_ns)
        if {(s.st_size, s.st_mtime_ns) for s in (before, after)} != {as_seen} or copied != seen.bytes:
            raise SourceNotRead(str(source), "it changed while it was being read")
        with contextlib.suppress(OSError):  # a disk that keeps no such time is no reason to refuse
            os.utime(part, ns=(after.st_atime_ns, after.st_mtime_ns))
    except BaseException:
        with contextlib.suppress(OSError):  # where nothing can be written nothing can be taken away
            part.unlink(missing_ok=True)
        raise
    return Part(part, sha256, copied)


def _opened(source: Path) -> BinaryIO:
    try:
        return source.open("rb")
    except OSError as error:
        raise _not_read(source, error) from error


def _copy(reading: BinaryIO, source: Path, part: Path) -> tuple[int, str]:
    digest, copied = hashlib.sha256(), 0
    try:
        with part.open("xb") as writing:
            while piece := _read(reading, source):
                digest.update(piece)
                writing.write(piece)
                copied += len(piece)
            writing.flush()
            os.fsync(writing.fileno())
    except OSError as error:
        raise CouldNotWrite(str(part.parent), error.strerror or str(error)) from error
    return copied, digest.hexdigest()


def _read(file: BinaryIO, source: Path) -> bytes:
    try:
        return file.read(_PIECE)
    except OSError as error:  # not one of the disk that is written to
        raise _not_read(source, error) from error


def _not_read(path: Path, error: OSError) -> SourceNotRead:
    return SourceNotRead(str(path), f"it could not be read ({error.strerror or error})")


def settle(part: Part, folder: Path, name_as_found: str, taken: Collection[str]) -> str:
    """Give a copy its own name in the visit's folder; returns the name. No other file is ever replaced.

    `taken` are the names that records know, as `path_key` writes them. A file of the wanted name which no
    record knows is what an import that was cut off had put there: if it holds the same bytes it is taken as
    it is, else the next free name is used. Raises `CouldNotWrite`.
    """
    wanted, in_the_way = safe_file_name(name_as_found), set[str]()
    while True:
        name = free_name(wanted, taken if not in_the_way else {*taken, *in_the_way})
        try:
            _give_name(part.path, folder / name)
        except FileExistsError:
            if _holds(folder / name, part):
                part.path.unlink()
                return name
            in_the_way.add(path_key(name))
        except OSError as error:
            with contextlib.suppress(OSError):
                part.path.unlink(missing_ok=True)
            raise CouldNotWrite(str(folder / name), error.strerror or str(error)) from error
        else:
            return name


def _give_name(part: Path, target: Path) -> None:
    """Rename; raises `FileExistsError` where a plain POSIX rename would replace what is there."""
    if os.name == "nt":
        part.rename(target)  # refuses by itself
        return
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError as error:
        if error.errno not in _NO_SECOND_NAMES:
            raise
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from error
        part.rename(target)
    else:
        part.unlink()


def _holds(file: Path, part: Part) -> bool:
    if file.is_symlink() or not file.is_file() or file.stat().st_size != part.bytes:
        return False
    try:
        return hash_file(file) == part.sha256
    except SourceNotRead:
        return False
