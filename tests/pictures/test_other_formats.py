"""HEIC, AVIF, WebP, TIFF, raw files and PDF drawings, made here, come out upright like any photo."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import made_pictures as made
import numpy as np
import pytest
from PIL import Image

from archive import pictures
from archive.errors import PictureNotReadable
from archive.pictures import boxes, tiff, views


@pytest.fixture
def file(tmp_path: Path):
    def write(data: bytes, name: str) -> Path:
        path = tmp_path / name
        path.write_bytes(data)
        return path

    return write


def saved(image: Image.Image, form: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def heic(image: Image.Image, **options: object) -> bytes:
    import pillow_heif

    out = io.BytesIO()
    pillow_heif.from_pillow(image).save(out, quality=95, **options)
    return out.getvalue()


def box(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", 8 + len(content)) + name + content


def with_turn(data: bytes, *properties: bytes) -> bytes:
    """The same file whose primary item has more properties: everything behind 'ipco' moves, offsets too."""
    with views.open_view_of(data) as view:
        found = boxes.read_items(view)
    assert found is not None
    listed = data.index(b"ipco") - 4
    size = int.from_bytes(data[listed : listed + 4], "big")
    before = sum(1 for _ in boxes.boxes(views.view_of_bytes(data[listed + 8 : listed + size])))
    ipma = data.index(b"ipma") - 4
    head = ipma + 16  # size, type, version and flags, number of entries
    count_at = head + 2
    assert int.from_bytes(data[head : head + 2], "big") == found.primary
    numbers = bytes(before + 1 + n for n in range(len(properties)))
    grown = len(b"".join(properties)) + len(numbers)
    out = bytearray(data)
    last = count_at + 1 + data[count_at]
    out[last:last] = numbers
    out[count_at] += len(properties)
    out[listed + size : listed + size] = b"".join(properties)
    for name, more in ((b"ipco", grown - len(numbers)), (b"ipma", len(numbers)), (b"iprp", grown), (b"meta", grown)):
        at = bytes(out).index(name) - 4
        out[at : at + 4] = struct.pack(">I", int.from_bytes(out[at : at + 4], "big") + more)
    with views.open_view_of(data) as view:
        return _with_moved_extents(bytes(out), boxes.read_items(view), grown)


def _with_moved_extents(data: bytes, found: boxes.ItemFile | None, by: int) -> bytes:
    assert found is not None
    out = bytearray(data)
    place = data.index(b"iloc")
    end = place - 4 + int.from_bytes(data[place - 4 : place], "big")
    for item in found.items.values():
        for offset, _ in item.extents:
            at = data.index(struct.pack(">I", offset), place, end)
            out[at : at + 4] = struct.pack(">I", offset + by)
    return bytes(out)
