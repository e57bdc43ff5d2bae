"""The boxes that HEIC, AVIF and CR3 files are made of (ISO/IEC 14496-12)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from archive.pictures.views import View

_MOST_BOXES = 20_000


@dataclass(frozen=True, slots=True)
class Box:
    """One box: its type (for 'uuid' its 16 bytes as well) and the view of its content."""

    type: str
    uuid: bytes
    content: View
    whole: bool  # its content ends within what holds it


def boxes(view: View) -> Iterator[Box]:
    """The boxes that follow one another in a view; stops at what is no box."""
    offset = 0
    for _ in range(_MOST_BOXES):
        head = view.at(offset, 32)
        if len(head) < 8:
            return
        size, name, used = int.from_bytes(head[:4], "big"), head[4:8], 8
        if size == 1:
            size, used = int.from_bytes(head[8:16], "big"), 16
        elif size == 0:
            size = view.size - offset
        uuid = head[used : used + 16] if name == b"uuid" else b""
        used += len(uuid)
        if size < used:
            return
        content = view.part(offset + used, size - used)
        yield Box(name.decode("latin-1"), uuid, content, offset + size <= view.size)
        offset += size


def child(view: View, *path: str) -> View | None:
    """The content of the first box down a path of types; 'meta' and other full boxes keep their 4 bytes."""
    for name in path:
        found = next((box.content for box in boxes(view) if box.type == name), None)
        if found is None:
            return None
        view = found
    return view


def brands(view: View) -> tuple[str, ...]:
    """The major and compatible brands, () when the file does not begin with them."""
    head = view.at(0, 8)
    if head[4:] != b"ftyp":
        return ()
    size = min(int.from_bytes(head[:4], "big"), 4096)
    listed = view.at(8, size - 8)
    return tuple(listed[at : at + 4].decode("latin-1") for at in range(0, len(listed) - 3, 4) if at != 4)
