"""Reading files that may be hostile: bounded looks at a part, and a stream stitched from chosen parts."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from os import PathLike
from pathlib import Path
from typing import BinaryIO

PathOrName = str | PathLike[str]


class View:
    """A file, or a part of one, read by offset. Reads past its end come back short, never as an error."""

    def __init__(self, file: BinaryIO, start: int, size: int) -> None:
        self._file, self.start, self.size = file, start, max(size, 0)

    def at(self, offset: int, length: int) -> bytes:
        """Up to `length` bytes from `offset` of this view; b'' outside it."""
        if offset < 0 or offset >= self.size or length <= 0:
            return b""
        self._file.seek(self.start + offset)
        return self._file.read(min(length, self.size - offset))

    def integer(self, offset: int, size: int) -> int:
        """The whole number of `size` bytes at `offset`, big-endian."""
        return int.from_bytes(self.at(offset, size), "big")

    def part(self, offset: int, length: int | None = None) -> View:
        """The view of a part, cut to what there is."""
        offset = min(max(offset, 0), self.size)
        left = self.size - offset
        return View(self._file, self.start + offset, left if length is None else min(max(length, 0), left))

    def find(self, wanted: bytes, offset: int) -> int:
        """Where `wanted` first stands at or after `offset`, or -1; reads in pieces of 1 MiB."""
        kept = b""
        while piece := self.at(offset, 1 << 20):
            found = (kept + piece).find(wanted)
            if found >= 0:
                return offset - len(kept) + found
            kept = piece[1 - len(wanted) :] if len(wanted) > 1 else b""
            offset += len(piece)
        return -1


def view_of_bytes(data: bytes) -> View:
    """A view of bytes that are already in memory."""
    return View(io.BytesIO(data), 0, len(data))


@contextmanager
def open_view(path: PathOrName) -> Iterator[View]:
    """The view of a whole file; an `OSError` of the file system is left to the caller."""
    with Path(path).open("rb") as file:
        yield View(file, 0, file.seek(0, io.SEEK_END))


class Stitched(io.RawIOBase):
    """A read-only stream of chosen parts of a view and of given bytes, in order.

    A decoder that is fed with it sees what the pixels need and nothing else, so that damaged or
    hostile metadata never reaches it. `padding` is repeated after the end: with the end-of-image
    mark a cut-off JPEG still decodes as far as it goes.
    """

    def __init__(self, view: View, pieces: list[tuple[int, int] | bytes], padding: bytes = b"") -> None:
        super().__init__()
        self._view, self._padding, self._position = view, padding, 0
        self._pieces: list[tuple[int, int, tuple[int, int] | bytes]] = []
        end = 0
        for piece in pieces:
            length = len(piece) if isinstance(piece, bytes) else piece[1]
            if length > 0:
                self._pieces.append((end, end + length, piece))
                end += length
        self._size = end

    def readable(self) -> bool:
        """Always."""
        return True

    def seekable(self) -> bool:
        """Always."""
        return True

    def tell(self) -> int:
        """The offset of the next byte."""
        return self._position

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Move; the end is that of the chosen parts, before any padding."""
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._position, io.SEEK_END: self._size}[whence]
        self._position = max(base + offset, 0)
        return self._position

    def read(self, length: int = -1) -> bytes:
        """The next bytes; without a length, up to the end of the chosen parts."""
        wanted = max(self._size - self._position, 0) if length < 0 else length
        got = []
        for first, last, piece in self._pieces:
            if wanted <= 0 or last <= self._position:
                continue
            skip = self._position - first
            take = min(wanted, last - self._position)
            data = (
                piece[skip : skip + take]
                if isinstance(piece, bytes)
                else self._view.at(piece[0] + skip, take)
            )
            got.append(data)
            self._position += len(data)
            wanted -= len(data)
            if len(data) < take:  # the file became shorter meanwhile
                return b"".join(got)
        if self._padding and wanted > 0 and length > 0:
            repeated = self._padding * (min(wanted, 1 << 16) // len(self._padding) + 1)
            got.append(repeated[: min(wanted, 1 << 16)])
            self._position += len(got[-1])
        return b"".join(got)

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        """As of `io.RawIOBase`."""
        data = self.read(len(buffer))
        buffer[: len(data)] = data
        return len(data)
