"""Where files for an import come from: every file in what was named, or left out with the reason."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from archive.records.history import Act
from archive.records.names import natural_key

# What computers and cameras leave beside the files; nobody misses it.
_LITTER = {".ds_store", "thumbs.db", "desktop.ini", ".nomedia"}
_LITTER_FOLDERS = {".trashes", ".spotlight-v100", ".fseventsd", "system volume information", "$recycle.bin", ".thumbnails", "__macosx"}  # fmt: skip
_IN_THE_ARCHIVE = "it lies in the archive itself"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A file that was not imported, and why; `act` is the one that took its photo out, and can be taken back."""

    file: str
    reason: str
    act: Act | None = None


class Source(Protocol):
    """A file that was given to an import. Files of one `place` may belong together."""

    @property
    def shown(self) -> str:
        """Where it is, printable whatever bytes its name is made of."""

    @property
    def name(self) -> str:
        """Its own name, with undecodable bytes escaped."""

    @property
    def place(self) -> str:
        """The folder that it lies in."""

    def at_hand(self) -> AbstractContextManager[Path]:
        """Give a path where its bytes can be read; raises `SourceNotRead`."""


@dataclass(frozen=True, slots=True)
class File(Source):
    """A file on a disk."""

    path: Path

    @property
    def shown(self) -> str:
        """Its path."""
        return shown_path(self.path)

    @property
    def name(self) -> str:
        """Its own name, with undecodable bytes escaped."""
        return shown_path(Path(self.path.name))

    @property
    def place(self) -> str:
        """The folder that it lies in."""
        return str(self.path.parent)

    def at_hand(self) -> AbstractContextManager[Path]:
        """Give its own path."""
        return nullcontext(self.path)


def sources_in(path: Path, inside_archive: Path, left_out: list[LeftOut]) -> Iterator[File]:
    """Yield the files of a folder and of the folders in it, or the file itself; note what is left out."""

    def not_opened(error: OSError) -> None:
        left_out.append(LeftOut(shown_path(Path(error.filename)), f"it could not be read ({error.strerror})"))

    if path.resolve().is_relative_to(inside_archive):
        left_out.append(LeftOut(shown_path(path), _IN_THE_ARCHIVE))
    elif not path.is_dir():
        yield File(path)
    else:
        for folder, folders, names in os.walk(path, onerror=not_opened):
            here = Path(folder)
            folders[:] = [
                name
                for name in sorted(folders, key=natural_key)
                if _goes_into(here / name, inside_archive, left_out)
            ]
            for name in sorted(names, key=natural_key):
                if not is_litter(name):
                    yield File(here / name)


def is_litter(name: str) -> bool:
    """Tell whether a file of this name is one that computers leave in every folder."""
    return name.casefold() in _LITTER or name.startswith("._")


def is_litter_folder(name: str) -> bool:
    """Tell whether a folder of this name holds what computers keep for themselves."""
    return name.casefold() in _LITTER_FOLDERS


def is_litter_path(path: str) -> bool:
    """Tell whether a file is litter, or lies in a folder of it; the path may be written with either slash."""
    *folders, name = re.split(r"[/\\]", path)
    return is_litter(name) or any(map(is_litter_folder, folders))


def _goes_into(folder: Path, inside_archive: Path, left_out: list[LeftOut]) -> bool:
    if is_litter_folder(folder.name):
        return False
    why_not = None
    if folder.is_symlink():  # it may lead round in a circle
        why_not = "it is a link to a folder; name that folder itself to import from it"
    elif folder.name == inside_archive.name and folder.resolve() == inside_archive:
        why_not = _IN_THE_ARCHIVE
    if why_not is not None:
        left_out.append(LeftOut(shown_path(folder), why_not))
    return why_not is None


def shown_path(path: Path) -> str:
    """Return a path that can be printed whatever bytes its name is made of."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")
