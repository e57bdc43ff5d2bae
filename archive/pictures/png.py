"""The layout of a PNG file: its chunks (W3C PNG, third edition)."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

from archive.pictures.views import View

SIGNATURE = b"\x89PNG\r\n\x1a\n"
_MOST_CHUNKS = 200_000
_MOST_TEXT_BYTES = 1 << 20  # unpacked; captions and XMP packets stay far below
_MOST_TEXTS = 200
_FOR_PIXELS = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"})


@dataclass(frozen=True, slots=True)
class Chunk:
    """One chunk; `offset` and `length` are those of its data."""

    name: bytes
    offset: int
    length: int


@dataclass(frozen=True, slots=True)
class PngLayout:
    """The chunks of a PNG and what its header says."""

    chunks: tuple[Chunk, ...]
    width: int
    height: int
    bits: int
    colour_type: int
    interlaced: bool
    complete: bool

    def bytes_per_pixel(self) -> int:
        """Memory of one pixel while it is decoded and made plain 8-bit colour, bytes."""
        see_through = (
            4 if self.colour_type in (4, 6) or any(chunk.name == b"tRNS" for chunk in self.chunks) else 0
        )
        if self.colour_type == 0:
            return (11 if self.bits == 16 else 2) + see_through
        return (5 if self.colour_type == 3 else 4) + see_through


def read_layout(view: View) -> PngLayout | None:
    """Walk the chunks; None if that is no PNG or its header is not there."""
    if view.at(0, 8) != SIGNATURE:
        return None
    header = view.at(16, 13)
    if view.at(12, 4) != b"IHDR" or len(header) < 13:
        return None
    chunks: list[Chunk] = []
    offset, complete = 8, False
    while len(chunks) < _MOST_CHUNKS:
        head = view.at(offset, 8)
        if len(head) < 8:
            break
        chunk = Chunk(head[4:], offset + 8, int.from_bytes(head[:4], "big"))
        chunks.append(chunk)
        offset += 12 + chunk.length
        if chunk.name == b"IEND":
            complete = True
            break
    return PngLayout(
        chunks=tuple(chunks),
        width=int.from_bytes(header[0:4], "big"),
        height=int.from_bytes(header[4:8], "big"),
        bits=header[8],
        colour_type=header[9],
        interlaced=header[12] != 0,
        complete=complete and any(chunk.name == b"IDAT" for chunk in chunks),
    )


def pixel_pieces(layout: PngLayout) -> list[tuple[int, int] | bytes]:
    """The parts that a decoder needs, in order: header, palette, transparency and pixels."""
    pieces: list[tuple[int, int] | bytes] = [SIGNATURE]
    pieces += [(chunk.offset - 8, chunk.length + 12) for chunk in layout.chunks if chunk.name in _FOR_PIXELS]
    return pieces


def unpacked(data: bytes, most: int = _MOST_TEXT_BYTES) -> bytes | None:
    """Zlib-compressed data, or None when it is broken or would grow beyond `most` bytes."""
    unpacker = zlib.decompressobj()
    try:
        out = unpacker.decompress(data, most)
    except zlib.error:
        return None
    return None if unpacker.unconsumed_tail else out


@dataclass(frozen=True, slots=True)
class Texts:
    """Text chunks by keyword, and whether any was left out."""

    by_keyword: dict[str, bytes]
    left_out: bool


def texts(view: View, layout: PngLayout) -> Texts:
    """Read tEXt, zTXt and iTXt; what is damaged, or is or would unpack to more than 1 MiB, is left out."""
    found: dict[str, bytes] = {}
    left_out = False
    for chunk in layout.chunks:
        if chunk.name not in (b"tEXt", b"zTXt", b"iTXt"):
            continue
        if chunk.length > _MOST_TEXT_BYTES or len(found) >= _MOST_TEXTS:
            left_out = True
            continue
        keyword, _, rest = view.at(chunk.offset, chunk.length).partition(b"\0")
        value = _text_value(chunk.name, rest)
        if value is None:
            left_out = True
        else:
            found.setdefault(keyword.decode("latin-1"), value)
    return Texts(found, left_out)


def _text_value(name: bytes, rest: bytes) -> bytes | None:
    if name == b"tEXt":
        return rest
    if name == b"zTXt":
        return unpacked(rest[1:])
    packed, fields = rest[:1] == b"\1", rest[2:].split(b"\0", 2)
    value = fields[2] if len(fields) == 3 else b""
    return unpacked(value) if packed else value


def chunk_data(view: View, layout: PngLayout, name: bytes, most: int = 16 << 20) -> bytes | None:
    """The data of the first chunk called `name`, unless it is larger than `most`."""
    for chunk in layout.chunks:
        if chunk.name == name and chunk.length <= most:
            return view.at(chunk.offset, chunk.length)
    return None


def colour_profile(view: View, layout: PngLayout) -> bytes | None:
    """The ICC profile of the iCCP chunk."""
    data = chunk_data(view, layout, b"iCCP")
    if data is None:
        return None
    _, _, rest = data.partition(b"\0")
    return unpacked(rest[1:]) or None


def raw_profile(text: bytes) -> bytes | None:
    """The bytes of a 'Raw profile type ...' text: a name, a length and hexadecimal digits, a line each."""
    lines = text.strip().split(b"\n", 2)
    try:
        return bytes.fromhex(lines[2].decode("ascii"))[: int(lines[1])] or None
    except (IndexError, ValueError):
        return None
