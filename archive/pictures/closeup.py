"""A whole picture held ready, given out in tiles: for looking closely at what is too large to send at once."""

from __future__ import annotations

import io
from contextlib import suppress
from math import ceil

from PIL import Image

from archive.errors import PictureTooLarge
from archive.pictures.inspection import inspect
from archive.pictures.render import upright_array
from archive.pictures.views import PathOrName

TILE_PX = 512
_QUALITY = 88
_MOST_HALVINGS = 3


class Closeup:
    """The upright picture of a file, in sRGB, 3 bytes a pixel in memory; at full resolution if that can be had.

    One too large for that is held at a half, a quarter or an eighth of it, and its tiles show no more.
    Raises PictureNotReadable as `upright_array` does.
    """

    def __init__(self, path: PathOrName, page: int = 0) -> None:
        self._halved, self._image, self.size_px = _as_large_as_can_be(path, page)

    def tile(self, level: int, column: int, row: int) -> bytes | None:
        """Return a tile as JPEG, or None where the picture has none.

        A tile of level n shows `TILE_PX` * 2^n pixels a side of the picture at `TILE_PX` a side, level 0
        the pixels themselves; columns and rows count from 0 at the top left. Those at the right and the
        bottom are as small as what is left of the picture.
        """
        step, (width, height) = TILE_PX << level, self.size_px
        left, top = column * step, row * step
        right, bottom = min(left + step, width), min(top + step, height)
        if left >= right or top >= bottom:
            return None
        size = (max(1, (right - left) >> level), max(1, (bottom - top) >> level))
        across, down = self._image.width / width, self._image.height / height
        box = (left * across, top * down, right * across, bottom * down)
        how = Image.Resampling.BOX if level >= self._halved else Image.Resampling.BICUBIC
        cut = self._image.resize(size, how, box=box) if level or self._halved else self._image.crop(box)
        out = io.BytesIO()
        cut.save(out, "JPEG", quality=_QUALITY)
        return out.getvalue()


def _as_large_as_can_be(path: PathOrName, page: int) -> tuple[int, Image.Image, tuple[int, int]]:
    """How often the picture had to be halved, it, and its size at full resolution."""
    with suppress(PictureTooLarge):
        whole = Image.fromarray(upright_array(path, page))
        return 0, whole, whole.size
    facts = inspect(path, page)
    size_px = facts.width or 1, facts.height or 1
    for halved in range(1, _MOST_HALVINGS):
        with suppress(PictureTooLarge):
            return halved, _reduced(path, page, size_px, halved), size_px
    return _MOST_HALVINGS, _reduced(path, page, size_px, _MOST_HALVINGS), size_px


def _reduced(path: PathOrName, page: int, size_px: tuple[int, int], halved: int) -> Image.Image:
    return Image.fromarray(upright_array(path, page, max(size_px) >> halved))


def cut_out(jpeg: bytes, shares: tuple[float, float, float, float], most_px: int) -> bytes:
    """Return a part of a JPEG that we made ourselves, at most `most_px` a side.

    `shares` are where its left, top, right and bottom edges lie, from 0 to 1 of the whole's width or height.
    """
    with Image.open(io.BytesIO(jpeg)) as whole:
        left, top = int(shares[0] * whole.width), int(shares[1] * whole.height)
        right, bottom = (
            max(left + 1, ceil(shares[2] * whole.width)),
            max(top + 1, ceil(shares[3] * whole.height)),
        )
        cut = whole.crop((left, top, min(right, whole.width), min(bottom, whole.height)))
    cut.thumbnail((most_px, most_px))
    out = io.BytesIO()
    cut.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()
