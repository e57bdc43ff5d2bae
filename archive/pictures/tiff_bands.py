"""Very large TIFF pictures made small band by band: no more of one is decoded at a time than its strips or tiles ask.

Each band is handed to the decoder as a TIFF of its own: the directory of the whole with another height, and
the coded bytes of its strips or tiles where they lie (TIFF 6.0, sections 3 and 15).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from contextlib import suppress
from itertools import accumulate
from math import ceil
from typing import IO, cast

from PIL import Image, TiffImagePlugin

from archive.pictures import tiff
from archive.pictures.colour import is_deep, to_plain_8_bit
from archive.pictures.facts import Band, Pixels
from archive.pictures.views import Stitched

_BAND_PX = 8_000_000
_MOST_PX = 600_000_000  # a sheet of A0 at 600 dots an inch is 560 megapixels
_WIDTH, _HEIGHT, _BITS, _COMPRESSION, _SAMPLES, _PLANES = 0x0100, 0x0101, 0x0102, 0x0103, 0x0115, 0x011C
_STRIPS, _ROWS, _STRIP_BYTES = 0x0111, 0x0116, 0x0117
_TILE_WIDTH, _TILE_HEIGHT, _TILES, _TILE_BYTES = 0x0142, 0x0143, 0x0144, 0x0145
# What the decoder must know of pixels: bits, coding, colours, bit order, samples, fax options, predictor, palette,
# alpha, number format, JPEG tables, and how colour is sampled and ranged.
_OF_PIXELS = frozenset(
    {0x0102, 0x0103, 0x0106, 0x010A, 0x0115, 0x0124, 0x0125, 0x013D, 0x0140, 0x0152, 0x0153, 0x015B, 0x0211, 0x0212, 0x0214}
)  # fmt: skip
_UNCODED = 1


def bands_of(tree: tiff.Tree, page: tiff.Directory) -> tuple[Band, ...]:
    """Return the bands of a page from the top; () where they do not tell where each row lies, or would take minutes."""
    width, height = tree.integer(page, _WIDTH) or 0, tree.integer(page, _HEIGHT) or 0
    if not 0 < width * height <= _MOST_PX or (tree.integer(page, _PLANES) or 1) != 1:
        return ()
    tiled = _TILES in page.entries
    at_tag, length_tag = (_TILES, _TILE_BYTES) if tiled else (_STRIPS, _STRIP_BYTES)
    places = list(zip(tree.integers(page, at_tag), tree.integers(page, length_tag), strict=False))
    tile_width = tree.integer(page, _TILE_WIDTH) if tiled else width
    rows = tree.integer(page, _TILE_HEIGHT) if tiled else min(tree.integer(page, _ROWS) or height, height)
    if not rows or not tile_width or len(places) < ceil(width / tile_width) * ceil(height / rows):
        return ()
    if not tiled and (tree.integer(page, _COMPRESSION) or _UNCODED) == _UNCODED:
        rows, places = _cut_small(tree, page, width, height, rows, places)
    many = max(_BAND_PX // (width * rows), 1)  # rows of tiles, or strips, of a band
    step = many * ceil(width / tile_width)
    shape = [(_TILE_WIDTH, tile_width), (_TILE_HEIGHT, rows)] if tiled else [(_ROWS, rows)]
    kept = [field for field in tiff.fields(tree, page) if field[0] in _OF_PIXELS]
    found = []
    for number, first in enumerate(range(0, height, rows * many)):
        own = min(rows * many, height - first)
        sizes = [(_WIDTH, width), (_HEIGHT, own), *shape]
        of_it = places[number * step : (number + 1) * step]
        found.append(Band(own, _file_of(tree.order, kept, sizes, of_it, tiled=tiled)))
    return tuple(found)


def _cut_small(
    tree: tiff.Tree, page: tiff.Directory, width: int, height: int, rows: int, places: list[tuple[int, int]]
) -> tuple[int, list[tuple[int, int]]]:
    """Strips that are not coded, cut into ones of a band at most: many writers make the whole picture one strip."""
    bits = sum(tree.integers(page, _BITS) or (1,))
    row_bytes = ceil(width * bits / 8)
    few = max(_BAND_PX // width, 1)
    if rows <= few or len(places) > 1:  # several strips of many rows: cut, they would not be alike
        return rows, places
    start = places[0][0]
    return few, [
        (start + row * row_bytes, min(few, height - row) * row_bytes) for row in range(0, height, few)
    ]


def _file_of(
    order: tiff.Order,
    kept: list[tiff.Field],
    sizes: list[tuple[int, int]],
    places: list[tuple[int, int]],
    *,
    tiled: bool,
) -> tuple[tuple[int, int] | bytes, ...]:
    """The pieces of a TIFF file of some strips or tiles, its directory first."""

    def head(start: int) -> bytes:
        at = list(accumulate((length for _, length in places[:-1]), initial=start))
        lists = [
            (_TILES if tiled else _STRIPS, at),
            (_TILE_BYTES if tiled else _STRIP_BYTES, [n for _, n in places]),
        ]
        numbers = [(tag, [value]) for tag, value in sizes] + lists
        return tiff.block_of(order, kept + [_longs(order, tag, values) for tag, values in numbers], [], [])

    return (head(len(head(0))), *places)


def _longs(order: tiff.Order, tag: int, values: list[int]) -> tiff.Field:
    return tag, 4, len(values), struct.pack(f"{'<' if order == 'little' else '>'}{len(values)}I", *values)


def made_small(_: IO[bytes], pixels: Pixels, longest_px: int | None) -> Image.Image:
    """The picture at the least whole part of its size that is no smaller than `longest_px`; a decoder as the others are.

    One that is cut off comes with the bands that are there; raises when none can be decoded.
    """
    longest = max(pixels.width, pixels.height)
    part = max(longest // (longest_px or longest), 1)
    whole: Image.Image | None = None
    at = 0
    for piece in _in_whole_cells(_decoded(pixels), part):
        small = piece.reduce(part)
        if whole is None:
            whole = Image.new(small.mode, (small.width, ceil(pixels.height / part)))
        whole.paste(small, (0, at))
        at += small.height
    if whole is None:
        raise ValueError("none of its bands can be decoded")
    return whole


def _decoded(pixels: Pixels) -> Iterator[Image.Image]:
    with suppress(Exception):  # a decoder may fail in any way on hostile bytes: the bands before it are good
        for band in pixels.bands:
            image: Image.Image = TiffImagePlugin.TiffImageFile(
                cast("IO[bytes]", Stitched(pixels.view, list(band.pieces)))
            )
            if image.size != (pixels.width, band.rows):
                return
            image.load()
            yield image.convert("I").convert("F") if is_deep(image) else to_plain_8_bit(image)


def _in_whole_cells(bands: Iterator[Image.Image], part: int) -> Iterator[Image.Image]:
    """The bands cut anew so that each but the last has a multiple of `part` rows."""
    left: Image.Image | None = None
    for band in bands:
        joined = band
        if left is not None:
            joined = Image.new(band.mode, (band.width, left.height + band.height))
            joined.paste(left, (0, 0))
            joined.paste(band, (0, left.height))
        rows = joined.height // part * part
        if rows:
            yield joined.crop((0, 0, joined.width, rows))
        left = joined.crop((0, rows, joined.width, joined.height)) if rows < joined.height else None
    if left is not None:
        yield left
