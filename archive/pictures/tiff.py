"""Directories of TIFF-structured data: TIFF files, raw files, EXIF blocks (TIFF 6.0, CIPA DC-008).

Nothing is trusted: directories that point at themselves are walked once, and what points outside is noted.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from archive.pictures.views import View, view_of_bytes

Number = int | float | tuple[int, int]  # a rational is (numerator, denominator)
Value = bytes | tuple[Number, ...]
Order = Literal["little", "big"]

ORIENTATION, SUB_DIRECTORIES, EXIF, GPS = 0x0112, 0x014A, 0x8769, 0x8825
_MOST_DIRECTORIES = 10_000
_MOST_ENTRIES = 2_000
_MOST_VALUE_BYTES = 1 << 20
_BYTES = frozenset({1, 2, 6, 7, 129})
_SIZES = {
    1: 1,
    2: 1,
    3: 2,
    4: 4,
    5: 8,
    6: 1,
    7: 1,
    8: 2,
    9: 4,
    10: 8,
    11: 4,
    12: 8,
    13: 4,
    16: 8,
    17: 8,
    18: 8,
    129: 1,
}
_CODES = {3: "H", 4: "I", 8: "h", 9: "i", 11: "f", 12: "d", 13: "I", 16: "Q", 17: "q", 18: "Q"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One tag of a directory and where its value lies."""

    tag: int
    type: int
    count: int
    value_at: int

    @property
    def length(self) -> int:
        """Bytes of the value."""
        return _SIZES.get(self.type, 0) * self.count


@dataclass(frozen=True, slots=True)
class Directory:
    """The entries of one directory; `kind` is 'main', 'sub', 'exif' or 'gps'."""

    kind: str
    offset: int
    entries: dict[int, Entry]


@dataclass(slots=True)
class Tree:
    """All directories that can be reached, and what was found wrong on the way."""

    view: View
    order: Order
    directories: list[Directory] = field(default_factory=list)
    damage: list[str] = field(default_factory=list)

    def first(self, kind: str) -> Directory | None:
        """The first directory of a kind."""
        return next((directory for directory in self.directories if directory.kind == kind), None)

    def all(self, *kinds: str) -> Iterator[Directory]:
        """The directories of some kinds, in the order found."""
        return (directory for directory in self.directories if directory.kind in kinds)

    def value(self, directory: Directory | None, tag: int) -> Value | None:
        """A tag's value: bytes for text and undefined, else a tuple of numbers; None if it is not there."""
        entry = directory.entries.get(tag) if directory else None
        if entry is None or entry.length > _MOST_VALUE_BYTES:
            return None
        data = self.view.at(entry.value_at, entry.length)
        if len(data) < entry.length:
            return None
        return data if entry.type in _BYTES else _numbers(data, entry, self.order)

    def integer(self, directory: Directory | None, tag: int) -> int | None:
        """The first number of a tag when it is a whole number, else None."""
        value = self.value(directory, tag)
        if isinstance(value, tuple) and value and isinstance(value[0], int):
            return value[0]
        entry = directory.entries.get(tag) if directory else None
        return value[0] if isinstance(value, bytes) and value and entry and entry.type in (1, 6) else None

    def integers(self, directory: Directory | None, tag: int) -> tuple[int, ...]:
        """All whole numbers of a tag."""
        value = self.value(directory, tag)
        if isinstance(value, bytes):
            return tuple(value)
        return tuple(number for number in value or () if isinstance(number, int))

    def text(self, directory: Directory | None, tag: int) -> str:
        """A tag's text up to the first NUL, '' if there is none."""
        value = self.value(directory, tag)
        return value.split(b"\0")[0].decode("utf-8", "replace").strip() if isinstance(value, bytes) else ""


def _numbers(data: bytes, entry: Entry, order: Order) -> tuple[Number, ...] | None:
    mark = "<" if order == "little" else ">"
    if entry.type in (5, 10):
        flat = struct.unpack(f"{mark}{2 * entry.count}{'I' if entry.type == 5 else 'i'}", data)
        return tuple(zip(flat[::2], flat[1::2], strict=True))
    code = _CODES.get(entry.type)
    return struct.unpack(f"{mark}{entry.count}{code}", data) if code else None


def read_tree(source: View | bytes) -> Tree | None:
    """Walk all directories, or None when the data is not TIFF-structured."""
    view = view_of_bytes(source) if isinstance(source, bytes) else source
    head = view.at(0, 16)
    order: Order
    if head[:2] == b"II":
        order = "little"
    elif head[:2] == b"MM":
        order = "big"
    else:
        return None
    magic = int.from_bytes(head[2:4], order)
    if magic not in (42, 43, 0x4F52, 0x5352, 0x55) or len(head) < 8:  # 43 BigTIFF; the rest are raw files
        return None
    big = magic == 43
    first = int.from_bytes(head[8:16], order) if big else int.from_bytes(head[4:8], order)
    tree = Tree(view, order)
    _walk(tree, first, big)
    return tree


def _walk(tree: Tree, first: int, big: bool) -> None:
    waiting = [("main", first)]
    seen: set[int] = set()
    while waiting and len(tree.directories) < _MOST_DIRECTORIES:
        kind, offset = waiting.pop(0)
        if offset in seen:
            tree.damage.append("a directory of its metadata points back at itself")
            continue
        seen.add(offset)
        read = _directory(tree, kind, offset, big)
        if read is None:
            continue
        directory, following = read
        tree.directories.append(directory)
        if following and kind == "main":
            waiting.append(("main", following))
        for tag, below in ((EXIF, "exif"), (GPS, "gps"), (SUB_DIRECTORIES, "sub")):
            if tag not in directory.entries or kind not in ("main", "sub"):
                continue
            pointers = tree.integers(directory, tag) if directory.entries[tag].type not in _BYTES else ()
            if not pointers:
                tree.damage.append(f"its {below} directory cannot be reached")
            waiting += [(below, pointer) for pointer in pointers[:32]]


def _directory(tree: Tree, kind: str, offset: int, big: bool) -> tuple[Directory, int] | None:
    view, order = tree.view, tree.order
    count_size, entry_size, inline, code = (8, 20, 8, "Q") if big else (2, 12, 4, "I")
    raw_count = view.at(offset, count_size)
    count = int.from_bytes(raw_count, order)
    if len(raw_count) < count_size or count > _MOST_ENTRIES or offset < 8:
        tree.damage.append(
            f"its {kind} directory lies outside the data" if kind != "main" else "a directory is broken"
        )
        return None
    data = view.at(offset + count_size, count * entry_size)
    if len(data) < count * entry_size:
        tree.damage.append("a directory is cut off")
    mark = "<" if order == "little" else ">"
    entries: dict[int, Entry] = {}
    for index in range(len(data) // entry_size):
        tag, type_, n = struct.unpack_from(f"{mark}HH{code}", data, index * entry_size)
        at = offset + count_size + index * entry_size + entry_size - inline
        size = _SIZES.get(type_)
        if size is None:
            tree.damage.append(f"an entry has the unknown type {type_}")
            continue
        if size * n > inline:
            at = int.from_bytes(data[(index + 1) * entry_size - inline : (index + 1) * entry_size], order)
        entries.setdefault(tag, Entry(tag, type_, n, at))
    following = int.from_bytes(view.at(offset + count_size + count * entry_size, inline), order)
    return Directory(kind, offset, entries), following


Field = tuple[int, int, int, bytes]  # tag, type, count, the value's bytes
_MOST_FIELD_BYTES = 64 << 10
_POINTERS = frozenset({EXIF, GPS, SUB_DIRECTORIES, 0xA005})
_NOT_WORTH_CARRYING = frozenset(
    {0x02BC, 0x83BB, 0x8649, 0x8773, 0x927C}
)  # blocks read elsewhere, maker notes


def fields(tree: Tree, directory: Directory | None) -> list[Field]:
    """A directory's values as they stand, without pointers, maker notes and what is larger than 64 KiB."""
    found = []
    for entry in directory.entries.values() if directory else ():
        if entry.tag in _POINTERS or entry.tag in _NOT_WORTH_CARRYING or entry.length > _MOST_FIELD_BYTES:
            continue
        data = tree.view.at(entry.value_at, entry.length)
        if len(data) == entry.length:
            found.append((entry.tag, entry.type, entry.count, data))
    return found


def compact_block(tree: Tree) -> bytes:
    """The first, EXIF and GPS directories of a large file as one small EXIF block, values untouched."""
    parts = [fields(tree, tree.first(kind)) for kind in ("main", "exif", "gps")]
    return block_of(tree.order, *parts)


def block_of(order: Order, main: list[Field], exif: list[Field], gps: list[Field]) -> bytes:
    """An EXIF block of three directories; an empty one is left out."""
    mark = "<" if order == "little" else ">"
    below = [(tag, part) for tag, part in ((EXIF, exif), (GPS, gps)) if part]
    start = 8 + _size_of(main, len(below))
    pointers: list[Field] = []
    directories = b""
    for tag, part in below:
        pointers.append((tag, 4, 1, struct.pack(f"{mark}I", start + len(directories))))
        directories += _coded(mark, start + len(directories), part)
    head = (b"II*\0" if order == "little" else b"MM\0*") + struct.pack(f"{mark}I", 8)
    return head + _coded(mark, 8, [*main, *pointers]) + directories


def _size_of(part: list[Field], pointers: int) -> int:
    outside = sum(len(data) + len(data) % 2 for *_, data in part if len(data) > 4)
    return 2 + 12 * (len(part) + pointers) + 4 + outside


def _coded(mark: str, start: int, part: list[Field]) -> bytes:
    entries, values = b"", b""
    outside = start + 2 + 12 * len(part) + 4
    for tag, type_, count, data in sorted(part):
        entries += struct.pack(f"{mark}HHI", tag, type_, count)
        if len(data) > 4:
            entries += struct.pack(f"{mark}I", outside + len(values))
            values += data + bytes(len(data) % 2)
        else:
            entries += data.ljust(4, b"\0")
    return struct.pack(f"{mark}H", len(part)) + entries + bytes(4) + values
