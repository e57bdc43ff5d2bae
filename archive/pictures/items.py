"""The items of HEIC and AVIF files, and how they refer to one another (ISO/IEC 14496-12, 23008-12)."""

from __future__ import annotations

from dataclasses import dataclass, field

from archive.pictures.boxes import Box, boxes, child
from archive.pictures.views import View

MOST_ITEM_BYTES = 4 << 20
_MOST_ITEMS = 20_000
_NEVER_SHOWN = frozenset({"thmb", "auxl", "cdsc"})


@dataclass(slots=True)
class Item:
    """One item of a picture file: a coded picture, a tile, or metadata."""

    number: int
    type: str = ""
    content_type: str = ""
    hidden: bool = False
    type_at: int = 0  # where the type stands in the file
    in_data_box: bool = False
    extents: list[tuple[int, int]] = field(default_factory=list)
    properties: list[Box] = field(default_factory=list)

    def reaches(self) -> int:
        """The offset behind its last byte."""
        return max((offset + length for offset, length in self.extents), default=0)


@dataclass(slots=True)
class ItemFile:
    """The items of a HEIC or AVIF file and how they refer to one another."""

    view: View
    primary: int = 0
    items: dict[int, Item] = field(default_factory=dict)
    primary_at: tuple[int, int] = (
        0,
        0,
    )  # where the file says which item is the picture, and in how many bytes
    references: list[tuple[str, int, tuple[int, ...]]] = field(default_factory=list)
    references_at: list[int] = field(
        default_factory=list
    )  # where the type of each reference stands in the file
    data_box: View | None = None

    def data(self, item: Item) -> bytes:
        """An item's bytes, up to 4 MiB."""
        view = self.data_box if item.in_data_box else self.view
        if view is None:
            return b""
        left, pieces = MOST_ITEM_BYTES, []
        for offset, length in item.extents:
            pieces.append(view.at(offset, min(length or view.size, left)))
            left -= len(pieces[-1])
        return b"".join(pieces)

    def described_by(self, number: int, wanted: str, content_type: str = "") -> Item | None:
        """The metadata item of a type that describes an item; else the first of that type."""
        of_type = [i for i in self.items.values() if i.type == wanted and i.content_type == content_type]
        describing = {source for kind, source, to in self.references if kind == "cdsc" and number in to}
        return next((i for i in of_type if i.number in describing), of_type[0] if of_type else None)

    def tiles(self, number: int) -> tuple[int, ...]:
        """The items that a picture is put together from."""
        return tuple(
            n for kind, source, to in self.references if kind == "dimg" and source == number for n in to
        )

    def thumbnail(self, number: int) -> tuple[Item, int] | None:
        """The small picture that a picture carries, and where the type of its reference stands in the file."""
        for (kind, source, to), at in zip(self.references, self.references_at, strict=True):
            if kind == "thmb" and to == (number,) and source in self.items:
                return self.items[source], at
        return None

    def pictures(self) -> int:
        """How many pictures of equal rank there are: no thumbnails, gain maps, tiles or hidden ones."""
        below = {source for kind, source, _ in self.references if kind in _NEVER_SHOWN}
        below |= {n for kind, _, to in self.references if kind == "dimg" for n in to}
        shown = [i for i in self.items.values() if i.properties and not i.hidden and i.number not in below]
        return max(len([item for item in shown if any(b.type == "ispe" for b in item.properties)]), 1)


def read_items(view: View) -> ItemFile | None:
    """The items of the file's 'meta' box; None when there is none."""
    meta = child(view, "meta")
    if meta is None:
        return None
    inside = meta.part(4)
    found = ItemFile(view)
    for box in boxes(inside):
        if box.type == "pitm":
            wide = 4 if box.content.at(0, 1) > b"\0" else 2
            found.primary = box.content.integer(4, wide)
            found.primary_at = box.content.start + 4, wide
        elif box.type == "iinf":
            _read_infos(found, box.content)
        elif box.type == "iloc":
            _read_places(found, box.content)
        elif box.type == "iref":
            _read_references(found, box.content)
        elif box.type == "iprp":
            _read_properties(found, box.content)
        elif box.type == "idat":
            found.data_box = box.content
    return found


def _item(found: ItemFile, number: int) -> Item | None:
    if number not in found.items and len(found.items) >= _MOST_ITEMS:
        return None
    return found.items.setdefault(number, Item(number))


def _read_infos(found: ItemFile, view: View) -> None:
    first = 6 if view.at(0, 1) == b"\0" else 8
    for box in boxes(view.part(first)):
        version = box.content.integer(0, 1)
        if box.type != "infe" or version < 2:
            continue
        size = 2 if version == 2 else 4
        item = _item(found, box.content.integer(4, size))
        if item is None:
            return
        at = 4 + size + 2
        item.hidden = box.content.integer(3, 1) & 1 == 1
        item.type = box.content.at(at, 4).decode("latin-1")
        item.type_at = box.content.start + at
        names = box.content.at(at + 4, 1024).split(b"\0")
        item.content_type = names[1].decode("latin-1") if item.type == "mime" and len(names) > 1 else ""


def _read_places(found: ItemFile, view: View) -> None:
    version, sizes = view.integer(0, 1), view.integer(4, 2)
    offset_size, length_size, base_size = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
    index_size = sizes & 15 if version in (1, 2) else 0
    wide = 4 if version == 2 else 2
    count, at = view.integer(6, wide), 6 + wide
    for _ in range(min(count, _MOST_ITEMS)):
        item = _item(found, view.integer(at, wide))
        if item is None or at >= view.size:
            return
        at += wide
        if version in (1, 2):
            item.in_data_box = view.integer(at, 2) & 15 == 1
            at += 2
        at += 2  # data reference
        base = view.integer(at, base_size)
        extents = view.integer(at + base_size, 2)
        at += base_size + 2
        for _ in range(extents):
            if at >= view.size:
                return
            at += index_size
            offset, length = view.integer(at, offset_size), view.integer(at + offset_size, length_size)
            item.extents.append((base + offset, length))
            at += offset_size + length_size


def _read_references(found: ItemFile, view: View) -> None:
    wide = 4 if view.at(0, 1) > b"\0" else 2
    for box in boxes(view.part(4)):
        count = min(box.content.integer(wide, 2), _MOST_ITEMS)
        numbers = box.content.at(wide + 2, wide * count)
        to = tuple(int.from_bytes(numbers[at : at + wide], "big") for at in range(0, len(numbers), wide))
        found.references.append((box.type, box.content.integer(0, wide), to))
        found.references_at.append(box.content.start - 4)


def _read_properties(found: ItemFile, view: View) -> None:
    container = child(view, "ipco")
    listed = list(boxes(container)) if container else []
    for box in boxes(view):
        if box.type != "ipma":
            continue
        head = box.content.at(0, 4)
        wide = 4 if head[:1] > b"\0" else 2
        long_index = head[3:] and head[3] & 1 == 1
        at = 8
        for _ in range(min(box.content.integer(4, 4), _MOST_ITEMS)):
            item = _item(found, box.content.integer(at, wide))
            if item is None or at >= box.content.size:
                return
            count = box.content.integer(at + wide, 1)
            at += wide + 1
            for _ in range(count):
                index = (
                    box.content.integer(at, 2) & 0x7FFF if long_index else box.content.integer(at, 1) & 0x7F
                )
                at += 2 if long_index else 1
                if 1 <= index <= len(listed):
                    item.properties.append(listed[index - 1])


# How a quarter-turn count (anticlockwise) and a mirroring that follows it are one EXIF orientation.
_TURNS = {
    (0, None): 1, (1, None): 8, (2, None): 3, (3, None): 6,
    (0, 1): 2, (1, 1): 7, (2, 1): 4, (3, 1): 5,
    (0, 0): 4, (1, 0): 5, (2, 0): 2, (3, 0): 7,
}  # fmt: skip


def turn_of_item(item: Item) -> int:
    """What the container asks for, as an EXIF orientation number (ISO/IEC 23008-12, 6.5.10 and 6.5.12)."""
    quarter, mirror = 0, None
    for box in item.properties:
        if box.type == "irot":
            quarter = box.content.integer(0, 1) & 3
        elif box.type == "imir":
            mirror = box.content.integer(0, 1) & 1
    return _TURNS[quarter, mirror]


def size_of_item(item: Item) -> tuple[int, int] | None:
    """Width and height as coded, px."""
    for box in item.properties:
        if box.type == "ispe":
            return box.content.integer(4, 4), box.content.integer(8, 4)
    return None


def clean_size_of_item(item: Item) -> tuple[int, int] | None:
    """Width and height after the container's crop ('clap'), before any turn, px."""
    size = size_of_item(item)
    for box in item.properties:
        if box.type == "clap" and size is not None:
            width, height = box.content.integer(0, 4), box.content.integer(8, 4)
            over, under = box.content.integer(4, 4) or 1, box.content.integer(12, 4) or 1
            size = min(width // over, size[0]), min(height // under, size[1])
    return size


def colour_profile_of_item(item: Item) -> bytes | None:
    """Its ICC profile, where it has one."""
    for box in item.properties:
        if box.type == "colr" and box.content.at(0, 4) in (b"prof", b"rICC"):
            return box.content.at(4, MOST_ITEM_BYTES) or None
    return None
