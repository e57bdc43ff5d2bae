"""A whole picture held ready, given out in tiles: for looking closely at what is too large to send at once."""

from __future__ import annotations

import io
from math import ceil

from PIL import Image

from archive.pictures.render import upright_array
from archive.pictures.views import PathOrName

TILE_PX = 512
_QUALITY = 88


class Closeup:
    """The upright picture of a file, in sRGB at full resolution, 3 bytes a pixel in memory.

    Raises PictureNotReadable as `upright_array` does.
    """

    def __init__(self, path: PathOrName, page: int = 0) -> None:
        self._image = Image.fromarray(upright_array(path, page))

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self._image.size

    def tile(self, level: int, column: int, row: int) -> bytes | None:
        """Return a tile as JPEG, or None where the picture has none.

        A tile of level n shows `TILE_PX` * 2^n pixels a side of the picture at `TILE_PX` a side, level 0
        the pixels themselves; columns and rows count from 0 at the top left. Those at the right and the
        bottom are as small as what is left of the picture.
        """
        step = TILE_PX << level
        left, top = column * step, row * step
        right, bottom = min(left + step, self._image.width), min(top + step, self._image.height)
        if left >= right or top >= bottom:
            return None
        size = (max(1, (right - left) >> level), max(1, (bottom - top) >> level))
        if level == 0:
            cut = self._image.crop((left, top, right, bottom))
        else:
            cut = self._image.resize(size, Image.Resampling.BOX, box=(left, top, right, bottom))
        out = io.BytesIO()
        cut.save(out, "JPEG", quality=_QUALITY)
        return out.getvalue()


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
