"""WebP files: RIFF chunks (RFC 9649)."""

from __future__ import annotations

from dataclasses import dataclass

from archive.pictures.blocks import first_exif
from archive.pictures.facts import Looked, Pixels
from archive.pictures.views import View

_MOST_CHUNKS = 20_000
_MOST_BLOCK_BYTES = 16 << 20
_BYTES_PER_PIXEL = 16  # the decoder's canvases with alpha, the picture, and it on white


@dataclass(frozen=True, slots=True)
class _Chunk:
    name: bytes
    offset: int
    length: int


def look_at_webp(view: View) -> Looked | None:
    """A WebP file; one that is cut off cannot be shown."""
    head = view.at(0, 12)
    if head[:4] != b"RIFF" or head[8:] != b"WEBP":
        return None
    chunks = _chunks(view)
    looked = Looked("WEBP", "image/webp")
    size = _size(view, chunks)
    if size is not None:
        looked.width, looked.height = size
    looked.frames = max(sum(chunk.name == b"ANMF" for chunk in chunks), 1)
    looked.exif = first_exif([_data(view, chunks, b"EXIF")])
    looked.xmp = _data(view, chunks, b"XMP ")
    looked.colour_profile = _data(view, chunks, b"ICCP")
    whole = 8 + int.from_bytes(head[4:8], "little") <= view.size + 1
    if not whole or size is None:
        looked.warn(
            "cut-off", "The file is damaged: it is cut off, and no preview can be made. It is kept as it is."
        )
    else:
        looked.pixels = Pixels(
            "WEBP", view, [(0, view.size)], *size, _BYTES_PER_PIXEL, fixed_bytes=2 * view.size
        )
    return looked


def _chunks(view: View) -> list[_Chunk]:
    found: list[_Chunk] = []
    offset = 12
    while len(found) < _MOST_CHUNKS:
        head = view.at(offset, 8)
        if len(head) < 8:
            break
        length = int.from_bytes(head[4:], "little")
        found.append(_Chunk(head[:4], offset + 8, length))
        offset += 8 + length + length % 2
    return found


def _data(view: View, chunks: list[_Chunk], name: bytes) -> bytes | None:
    for chunk in chunks:
        if chunk.name == name and chunk.length <= _MOST_BLOCK_BYTES:
            return view.at(chunk.offset, chunk.length) or None
    return None


def _size(view: View, chunks: list[_Chunk]) -> tuple[int, int] | None:
    for chunk in chunks:
        data = view.at(chunk.offset, 10)
        if len(data) < 10:
            continue
        if chunk.name == b"VP8X":
            return int.from_bytes(data[4:7], "little") + 1, int.from_bytes(data[7:10], "little") + 1
        if chunk.name == b"VP8L" and data[0] == 0x2F:
            bits = int.from_bytes(data[1:5], "little")
            return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
        if chunk.name == b"VP8 " and data[3:6] == b"\x9d\x01\x2a":
            return int.from_bytes(data[6:8], "little") & 0x3FFF, int.from_bytes(data[8:10], "little") & 0x3FFF
    return None
