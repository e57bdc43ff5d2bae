"""What was given to an import: every file found, read for what it is, or left out with the reason."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from archive import pictures
from archive.errors import FileNotThere, PictureNotReadable
from archive.ingest.metadata import PhotoMetadata, read_metadata
from archive.pictures import PictureFacts

# Files that computers leave in every folder; nobody misses them.
_LITTER = {".ds_store", "thumbs.db", "desktop.ini", ".nomedia"}


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A file that was not imported, and why."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A picture that can be imported."""

    path: Path
    bytes: int
    facts: PictureFacts
    metadata: PhotoMetadata


def survey(
    paths: Sequence[Path], *, inside_archive: Path, progress: Callable[[str, int, int], None]
) -> tuple[list[Surveyed], list[LeftOut]]:
    """Find every file in `paths` and read what it is; raises `FileNotThere` before anything is read.

    Files that lie in the archive itself are left out: they are in it already.
    """
    for path in paths:
        if not path.exists():
            raise FileNotThere(str(path))
    files = list(dict.fromkeys(file for path in paths for file in _files_in(path)))
    found: list[Surveyed] = []
    left_out: list[LeftOut] = []
    for number, file in enumerate(files):
        progress("Reading", number, len(files))
        looked = _look_at(file, inside_archive)
        if isinstance(looked, Surveyed):
            found.append(looked)
        else:
            left_out.append(looked)
    progress("Reading", len(files), len(files))
    return found, left_out


def _files_in(path: Path) -> Iterator[Path]:
    if not path.is_dir():
        yield path
        return
    for folder, folders, names in os.walk(path):
        folders.sort()
        for name in sorted(names):
            if name.casefold() not in _LITTER and not name.startswith("._"):
                yield Path(folder, name)


def _look_at(file: Path, inside_archive: Path) -> Surveyed | LeftOut:
    shown = shown_path(file)
    try:
        if file.resolve().is_relative_to(inside_archive):
            return LeftOut(shown, "it lies in the archive itself")
        if not file.is_file():
            return LeftOut(shown, "it is no ordinary file")
        size = file.stat().st_size
        facts = pictures.inspect(file)
        return Surveyed(file, size, facts, read_metadata(file))
    except PictureNotReadable as error:
        return LeftOut(shown, error.why)
    except OSError as error:
        return LeftOut(shown, f"it could not be read ({error.strerror or error})")


def shown_path(path: Path) -> str:
    """Return a path that can be printed whatever bytes its name is made of."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")
