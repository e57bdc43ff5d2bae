"""ZIP files as sources (PKWARE APPNOTE 6.3): hostile until read, unpacked one file at a time, never by their own paths."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
import time
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from archive.errors import CouldNotWrite, SourceNotRead
from archive.ingest.sources import LeftOut, Source, is_litter_path
from archive.records.folder import safe_file_name

_MOST_MEMBERS = 200_000
# Pictures hardly shrink; what grows to more than this by unpacking was made to fill disks.
_MOST_GROWTH = 100
_SMALL_BYTES = 16 << 20
_SPARE_BYTES = 64 << 20
_PIECE = 1 << 20
_UTF8_NAME, _LOCKED = 0x800, 0x1
_DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, UnicodeDecodeError)


class ZipSources:
    """An open ZIP file and the folder that its files are unpacked into, one at a time."""

    def __init__(self, source: Source, file: Path, keep_open: ExitStack) -> None:
        """Open it for as long as `keep_open`; raises `SourceNotRead` when it is damaged or a trap."""
        self.shown = source.shown
        try:
            self._zip = keep_open.enter_context(zipfile.ZipFile(file))
        except _DAMAGED as error:
            raise SourceNotRead(self.shown, "the ZIP file is damaged or only half copied") from error
        self._folder = Path(
            keep_open.enter_context(tempfile.TemporaryDirectory(prefix="rivetbook-unpacked-"))
        )
        members = self._zip.infolist()
        if len(members) > _MOST_MEMBERS:
            raise SourceNotRead(self.shown, f"the ZIP file holds more than {_MOST_MEMBERS} files")
        if sum(member.compress_size for member in members) > file.stat().st_size:
            raise SourceNotRead(self.shown, "its files lie over one another, as only a trap's do")
        names = {member.filename for member in members[:50]}
        if "[Content_Types].xml" in names or (members and members[0].filename == "mimetype"):
            raise SourceNotRead(self.shown, "it is not a picture: it is a document")

    def sources(self, left_out: list[LeftOut]) -> Iterator[ZipMember]:
        """Yield the files in it; note what is left out."""
        for member in self._zip.infolist():
            path = _path_in(member)
            parts = PurePosixPath(path).parts
            if member.is_dir() or not parts or is_litter_path(path):
                continue
            why_not = _why_not(member, path)
            if why_not:
                left_out.append(LeftOut(f"{self.shown}/{_printable(path)}", why_not))
            else:
                yield ZipMember(self, member, path)

    @contextmanager
    def unpacked(self, member: zipfile.ZipInfo, path: str) -> Iterator[Path]:
        """Give one file unpacked under a safe name; raises `SourceNotRead` or `CouldNotWrite`."""
        shown = f"{self.shown}/{_printable(path)}"
        if shutil.disk_usage(self._folder).free < member.file_size + _SPARE_BYTES:
            raise SourceNotRead(
                shown, "there is no room to unpack it; unpack the ZIP file and import the folder"
            )
        with tempfile.TemporaryDirectory(dir=self._folder) as place:
            file = Path(place) / safe_file_name(PurePosixPath(path).name)
            try:
                with self._zip.open(member) as packed:
                    _write(packed, file)
            except _DAMAGED as error:
                raise SourceNotRead(shown, "it is damaged within the ZIP file") from error
            with suppress(ValueError, OverflowError, OSError):  # a ZIP may give no or an impossible time
                seconds = time.mktime((*member.date_time, 0, 0, -1))
                os.utime(file, (seconds, seconds))
            yield file


def _write(packed: IO[bytes], file: Path) -> None:
    try:
        with file.open("xb") as out:
            while piece := packed.read(_PIECE):
                out.write(piece)
    except OSError as error:
        raise CouldNotWrite(str(file), error.strerror or str(error)) from error


@dataclass(frozen=True, slots=True, eq=False)
class ZipMember(Source):
    """One file in a ZIP file; `path` is its path in it, which is never used as a path of this machine."""

    within: ZipSources
    member: zipfile.ZipInfo
    path: str

    @property
    def shown(self) -> str:
        """Where it is, printable."""
        return f"{self.within.shown}/{_printable(self.path)}"

    @property
    def name(self) -> str:
        """Its own name."""
        return _printable(PurePosixPath(self.path).name)

    @property
    def place(self) -> str:
        """The folder of the ZIP file that it lies in."""
        return f"{self.within.shown}/{PurePosixPath(self.path).parent}"

    @contextmanager
    def at_hand(self) -> Iterator[Path]:
        """Give it unpacked; raises `SourceNotRead` when it is damaged."""
        with self.within.unpacked(self.member, self.path) as file:
            yield file


def is_zip(file: Path) -> bool:
    """Tell whether a file is a ZIP file, whole or not."""
    with file.open("rb") as opened:
        return opened.read(4) in (b"PK\x03\x04", b"PK\x05\x06")


def _why_not(member: zipfile.ZipInfo, path: str) -> str | None:
    parts = path.split("/")
    if path.startswith("/") or ".." in parts or (len(path) > 1 and path[1] == ":"):
        return "its path leads out of the ZIP file, as only a trap's does"
    if stat.S_ISLNK(member.external_attr >> 16):
        return "it is a link"
    if member.flag_bits & _LOCKED:
        return "it is locked with a password; unpack the ZIP file with it and import the folder"
    if member.file_size > max(_SMALL_BYTES, _MOST_GROWTH * member.compress_size):
        return "it would grow to many times its size by unpacking, as only a trap does"
    return None


def _path_in(member: zipfile.ZipInfo) -> str:
    """The path as text: UTF-8 where the file says so or it happens to be, else the code page of old (D.1)."""
    path = member.orig_filename
    if not member.flag_bits & _UTF8_NAME:
        with suppress(UnicodeError):
            path = path.encode("cp437").decode("utf-8")
    return path.partition("\0")[0].replace("\\", "/")


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text)
