"""Copy a file into a visit's folder so that it is there whole or not at all, hashed on the way."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from archive.errors import CouldNotWrite, RivetbookError
from archive.records import durable
from archive.records.folder import free_name, path_key, safe_file_name

_PIECE = 1 << 20


class SourceNotRead(RivetbookError):
    """The file to copy could not be read to its end, or changed meanwhile."""

    def __init__(self, path: str, why: str) -> None:
        super().__init__(path, why)
        self.path, self.why = path, why

    def __str__(self) -> str:
        return f"'{self.path}' was not imported: {self.why}. Nothing of it was kept; import it again when it is whole."


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
        raise SourceNotRead(str(path), f"it could not be read ({error.strerror or error})") from error


def copy_to_part(source: Path, folder: Path) -> Part:
    """Copy `source` under a temporary name in `folder`, in one pass with its hash, and flush it.

    Raises `SourceNotRead` when it cannot be read or changes meanwhile, `CouldNotWrite` when the disk
    does not take it; no temporary file is left then.
    """
    part = durable.part_beside(folder / "x")
    try:
        return _copy(source, part)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _copy(source: Path, part: Path) -> Part:
    digest = hashlib.sha256()
    copied = 0
    try:
        reading = source.open("rb")
    except OSError as error:
        raise SourceNotRead(str(source), f"it could not be read ({error.strerror or error})") from error
    with reading:
        before = os.fstat(reading.fileno())
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
        after = os.fstat(reading.fileno())
    if copied != after.st_size or before.st_mtime_ns != after.st_mtime_ns:
        raise SourceNotRead(str(source), "it changed while it was being read")
    return Part(part, digest.hexdigest(), copied)


def _read(file: object, source: Path) -> bytes:
    try:
        return file.read(_PIECE)  # type: ignore[attr-defined, no-any-return]
    except OSError as error:
        raise SourceNotRead(
            str(source), f"it could not be read to its end ({error.strerror or error})"
        ) from error


def settle(part: Part, folder: Path, name_as_found: str, taken: set[str], prefix: str) -> str:
    """Give a copy its own name in the visit's folder; returns the name, and notes it in `taken`.

    A file of that name which no record knows is what an import that was cut off had put there: if it
    holds the same bytes it is taken as it is, else the next free name is used.
    """
    wanted = safe_file_name(name_as_found)
    while True:
        name = _free(wanted, taken, prefix)
        taken.add(path_key(prefix + name))
        target = folder / name
        if not os.path.lexists(target):
            break
        if target.is_file() and target.stat().st_size == part.bytes and hash_file(target) == part.sha256:
            part.path.unlink()
            return name
    try:
        part.path.rename(target)
    except OSError as error:
        part.path.unlink(missing_ok=True)
        raise CouldNotWrite(str(target), error.strerror or str(error)) from error
    return name


def _free(name: str, taken: set[str], prefix: str) -> str:
    in_folder = {key[len(path_key(prefix)) :] for key in taken}
    return free_name(name, in_folder)
