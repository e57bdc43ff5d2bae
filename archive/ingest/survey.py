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
_IN_THE_ARCHIVE = "it lies in the archive itself"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A file that was not imported, and why."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A picture that can be imported, as it was when it was looked at."""

    path: Path
    bytes: int
    modified_ns: int
    facts: PictureFacts
    metadata: PhotoMetadata


def survey(
    paths: Sequence[Path], *, inside_archive: Path, progress: Callable[[str, int, int], None]
) -> tuple[list[Surveyed], list[LeftOut]]:
    """Find every file in `paths` and read what it is; raises `FileNotThere` before anything is read.

    What lies in the archive itself is left out: it is in it already.
    """
    for path in paths:
        if not os.path.exists(path):  # noqa: PTH110  # a path that may not even be looked at is not there for us
            raise FileNotThere(shown_path(path))
    left_out: list[LeftOut] = []
    files = list(dict.fromkeys(f for path in paths for f in _files_in(path, inside_archive, left_out)))
    found: list[Surveyed] = []
    for number, file in enumerate(files):
        progress("Reading", number, len(files))
        looked = _look_at(file)
        if isinstance(looked, Surveyed):
            found.append(looked)
        else:
            left_out.append(looked)
    progress("Reading", len(files), len(files))
    return found, left_out


def _files_in(path: Path, inside_archive: Path, left_out: list[LeftOut]) -> Iterator[Path]:
    """Yield the files of a folder and of the folders in it, or the file itself; note folders left out."""

    def not_opened(error: OSError) -> None:
        left_out.append(LeftOut(shown_path(Path(error.filename)), f"it could not be read ({error.strerror})"))

    if path.resolve().is_relative_to(inside_archive):
        left_out.append(LeftOut(shown_path(path), _IN_THE_ARCHIVE))
    elif not path.is_dir():
        yield path
    else:
        for folder, folders, names in os.walk(path, onerror=not_opened):
            here = Path(folder)
            folders[:] = [
                name for name in sorted(folders) if _goes_into(here / name, inside_archive, left_out)
            ]
            for name in sorted(names):
                if name.casefold() not in _LITTER and not name.startswith("._"):
                    yield here / name


def _goes_into(folder: Path, inside_archive: Path, left_out: list[LeftOut]) -> bool:
    why_not = None
    if folder.is_symlink():  # it may lead round in a circle
        why_not = "it is a link to a folder; name that folder itself to import from it"
    elif folder.name == inside_archive.name and folder.resolve() == inside_archive:
        why_not = _IN_THE_ARCHIVE
    if why_not is not None:
        left_out.append(LeftOut(shown_path(folder), why_not))
    return why_not is None


def _look_at(file: Path) -> Surveyed | LeftOut:
    shown = shown_path(file)
    try:
        if not file.is_file():
            return LeftOut(shown, "it is no ordinary file")
        as_seen = file.stat()
        facts, metadata = pictures.inspect(file), read_metadata(file)
        return Surveyed(file, as_seen.st_size, as_seen.st_mtime_ns, facts, metadata)
    except PictureNotReadable as error:
        return LeftOut(shown, error.why)
    except OSError as error:
        return LeftOut(shown, f"it could not be read ({error.strerror or error})")


def shown_path(path: Path) -> str:
    """Return a path that can be printed whatever bytes its name is made of."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")
