"""Upright pictures in sRGB, for looking at, for packs and for measuring."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import PurePath
from typing import TYPE_CHECKING

from PIL import Image

from archive.errors import PictureNotReadable
from archive.pictures.colour import to_plain_8_bit, to_srgb
from archive.pictures.decode import decoded, too_large
from archive.pictures.facts import Looked
from archive.pictures.harmless import harmless_packet
from archive.pictures.look import look, turn_of
from archive.pictures.views import PathOrName, open_view

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def upright_preview(path: PathOrName, longest_px: int = 512, page: int = 0) -> bytes:
    """A small upright picture as JPEG in sRGB, without any metadata; never larger than the original.

    `page` counts from 0, for PDF and TIFF files.
    Raises PictureNotReadable when the file is no picture or none can be had from it safely.
    """
    return _as_jpeg(_upright(path, longest_px, page), quality=85)


def upright_copy_without_metadata(
    path: PathOrName,
    longest_px: int | None = None,
    quality: int = 90,
    keep: Mapping[str, str] | None = None,
    page: int = 0,
) -> bytes:
    """An upright JPEG copy in sRGB with all metadata left off, except the few texts given.

    `keep` may hold 'caption', 'creator', 'rights' and 'date' (ISO 8601); any other key is a ValueError.
    They are written as an XMP packet. Raises PictureNotReadable as `upright_preview` does.
    """
    return _as_jpeg(_upright(path, longest_px, page), quality=quality, xmp=harmless_packet(keep or {}))


def upright_array(path: PathOrName, page: int = 0, longest_px: int | None = None) -> npt.NDArray[np.uint8]:
    """The upright picture in sRGB at full resolution, or reduced to `longest_px`: uint8, shape (height, width, 3).

    Raises PictureNotReadable as `upright_preview` does.
    """
    import numpy as np

    return np.array(_upright(path, longest_px, page).convert("RGB"))


def _upright(path: PathOrName, longest_px: int | None, page: int) -> Image.Image:
    name = PurePath(path).name
    try:
        with open_view(path) as view:
            looked = look(view, name, page)
            if longest_px and looked.thumbnail and looked.pixels and too_large(looked.pixels, longest_px):
                looked.pixels = looked.thumbnail
            with decoded(looked, name, longest_px, copies=3) as image:
                stored = _stored_size(looked, image)
                small = _reduced(to_plain_8_bit(image), longest_px, stored)
                turn = 1 if looked.pixels and looked.pixels.upright else turn_of(looked)
                upright = _turned(to_srgb(small, looked.colour_profile), turn)
    except MemoryError as problem:
        raise PictureNotReadable(name, "there is not enough memory to show this picture") from problem
    return upright


def _reduced(image: Image.Image, longest_px: int | None, stored: tuple[int, int]) -> Image.Image:
    if longest_px is None or longest_px >= max(stored):
        return image
    target = tuple(max(1, round(side * longest_px / max(stored))) for side in stored)
    return image.resize((target[0], target[1]), Image.Resampling.LANCZOS, reducing_gap=2.0)


def _turned(image: Image.Image, turn: int) -> Image.Image:
    return image.transpose(_TURNS[turn]) if turn in _TURNS else image


def _as_jpeg(image: Image.Image, quality: int, xmp: bytes = b"") -> bytes:
    out = io.BytesIO()
    # Whatever the original said about itself is left off: only pixels go on.
    Image.Image.save(image, out, "JPEG", quality=quality, comment=b"", exif=b"", icc_profile=None, xmp=xmp)
    return out.getvalue()


def _stored_size(looked: Looked, image: Image.Image) -> tuple[int, int]:
    """The full size in the frame of the decoded picture, whose own size may be a reduced one."""
    if looked.pixels and (looked.pixels.scales or looked.pixels.bands):
        return looked.pixels.width, looked.pixels.height
    return image.size
