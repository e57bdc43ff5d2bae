"""Metadata blocks as containers wrap them, unwrapped."""

from __future__ import annotations

from archive.pictures import tiff
from archive.pictures.views import view_of_bytes


def iptc_of_resources(resources: bytes) -> bytes | None:
    """The IPTC-IIM data within Photoshop image resources (resource 0x0404)."""
    offset = 0
    while resources[offset : offset + 4] in (b"8BIM", b"PHUT", b"AgHg", b"DCSR", b"MeSa"):
        number = int.from_bytes(resources[offset + 4 : offset + 6], "big")
        name_length = resources[offset + 6] if offset + 6 < len(resources) else 0
        at = offset + 6 + (name_length + 2) // 2 * 2
        length = int.from_bytes(resources[at : at + 4], "big")
        if number == 0x0404:
            return resources[at + 4 : at + 4 + length] or None
        offset = at + 4 + (length + 1) // 2 * 2
    return None


def unwrapped_iptc(block: bytes) -> bytes | None:
    """The IPTC-IIM data of a block that is it, or wraps it in image resources."""
    if block.startswith(b"\x1c"):
        return block
    return iptc_of_resources(block.removeprefix(b"Photoshop 3.0\0"))


_MOST_EXIF_BYTES = 16 << 20


def first(blocks: list[bytes]) -> bytes | None:
    """The first of some blocks, if there is any."""
    return blocks[0] if blocks else None


def joined_exif(segments: list[bytes]) -> bytes | None:
    """The EXIF block of a JPEG: one larger than a segment goes on in those that follow without a header of their own."""
    block: bytes | None = None
    for segment in segments:
        begins = first_exif([segment])
        if block is None:
            block = begins
        elif begins is None and len(block) < _MOST_EXIF_BYTES:
            block += segment[1:] if segment.startswith(b"\0") else segment
    return block


def first_exif(blocks: list[bytes] | list[bytes | None]) -> bytes | None:
    """The first block that holds a TIFF header, without what stands before it."""
    for block in blocks:
        for lead in (b"", b"\0", b"\xff", b"Exif\0\0"):
            if (
                block
                and block.startswith(lead)
                and tiff.read_tree(view_of_bytes(block[len(lead) :][:8] + bytes(8)))
            ):
                return block[len(lead) :]
    return None
