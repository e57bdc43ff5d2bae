"""A sheet of pictures with their names beneath, as one JPEG: to look at rather than to read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from archive.errors import CouldNotWrite, NotAccepted, PictureNotReadable
from archive.packs.lettering import clean

if TYPE_CHECKING:
    from PIL import Image
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

MOST_PICTURES = 200
_COLUMNS = 4
_PICTURE_PX = (360, 270)
_GAP_PX = 24
_NAME_PX, _DETAIL_PX = 22, 17
_DETAIL_LINES = 2
_TEXT_PX = _NAME_PX + _DETAIL_LINES * (_DETAIL_PX + 4) + 16
_PAPER, _INK, _GREY, _BLANK = "white", (20, 20, 20), (90, 90, 90), (232, 232, 232)


@dataclass(frozen=True, slots=True)
class Tile:
    """One place on the sheet: a name, what to say beneath it, and the file of its picture (None: it has none)."""

    name: str
    detail: str
    picture: Path | None
    page: int = 0  # of a file with several, from 0


def check_sheet_name(file: Path) -> None:
    """Raise `NotAccepted` for a name that is not a JPEG's or a file that is there, `CouldNotWrite` for no folder."""
    if file.suffix.lower() not in (".jpg", ".jpeg"):
        raise NotAccepted(f"'{file}' is not the name of a JPEG", "Give it a name that ends in .jpg.")
    if file.exists():
        raise NotAccepted(f"'{file}' is there already and was left as it is", "Name a new file.")
    if not file.parent.is_dir():
        raise CouldNotWrite(str(file), "there is no such folder")


def write_contact_sheet(file: Path, heading: str, tiles: Sequence[Tile]) -> int:
    """Write the first `MOST_PICTURES` tiles into a new JPEG file; returns how many.

    A picture that cannot be read leaves its place empty, with its name. Raises as `check_sheet_name`
    does, and `NotAccepted` where there is nothing to show.
    """
    check_sheet_name(file)
    if not tiles:
        raise NotAccepted("Nothing was found, so there is nothing to put on a sheet", "Ask for less.")
    shown = tiles[:MOST_PICTURES]
    sheet = BytesIO()
    _drawn(heading, shown).save(sheet, "JPEG", quality=88)
    try:
        with file.open("xb") as written:
            written.write(sheet.getvalue())
    except (OSError, ValueError) as error:
        raise CouldNotWrite(str(file), getattr(error, "strerror", None) or str(error)) from error
    return len(shown)


def _drawn(heading: str, tiles: Sequence[Tile]) -> Image.Image:
    from PIL import Image, ImageDraw

    columns = min(_COLUMNS, len(tiles))
    rows = -(-len(tiles) // columns)
    width = max(columns, 2) * (_PICTURE_PX[0] + _GAP_PX) + _GAP_PX
    top = _GAP_PX + (_NAME_PX + _GAP_PX if heading else 0)
    sheet = Image.new("RGB", (width, top + rows * (_PICTURE_PX[1] + _TEXT_PX + _GAP_PX)), _PAPER)
    draw = ImageDraw.Draw(sheet)
    if heading:
        draw.text((_GAP_PX, _GAP_PX), fitted(heading, font(_NAME_PX, bold=True), width - 2 * _GAP_PX),
                  fill=_INK, font=font(_NAME_PX, bold=True))  # fmt: skip
    for number, tile in enumerate(tiles):
        row, column = divmod(number, columns)
        left = _GAP_PX + column * (_PICTURE_PX[0] + _GAP_PX)
        _draw_tile(sheet, draw, tile, left, top + row * (_PICTURE_PX[1] + _TEXT_PX + _GAP_PX))
    return sheet


def _draw_tile(sheet: Image.Image, draw: ImageDraw, tile: Tile, left: int, top: int) -> None:
    picture = _picture(tile)
    if picture is None:
        right, bottom = left + _PICTURE_PX[0], top + _PICTURE_PX[1]
        draw.rectangle((left, top, right - 1, bottom - 1), fill=_BLANK)
        draw.text((left + 12, top + 12), "no picture", fill=_GREY, font=font(_DETAIL_PX))
    else:
        spare = [box - side for box, side in zip(_PICTURE_PX, picture.size, strict=True)]
        sheet.paste(picture, (left + spare[0] // 2, top + spare[1]))  # names line up under the pictures
    at = top + _PICTURE_PX[1] + 8
    bold, plain = font(_NAME_PX, bold=True), font(_DETAIL_PX)
    draw.text((left, at), fitted(tile.name, bold, _PICTURE_PX[0]), fill=_INK, font=bold)
    at += _NAME_PX + 6
    for line in _lines(tile.detail, plain, _PICTURE_PX[0]):
        draw.text((left, at), line, fill=_GREY, font=plain)
        at += _DETAIL_PX + 4


def _picture(tile: Tile) -> Image.Image | None:
    from PIL import Image

    from archive import pictures

    if tile.picture is None:
        return None
    try:
        picture = Image.fromarray(
            pictures.upright_array(tile.picture, tile.page, longest_px=max(_PICTURE_PX))
        )
    except (PictureNotReadable, FileNotFoundError):
        return None
    picture.thumbnail(_PICTURE_PX, Image.Resampling.LANCZOS)
    return picture


@cache
def font(size_px: int, *, bold: bool = False) -> FreeTypeFont:
    """Return the letters that pictures are written with."""
    from PIL import ImageFont

    name = "DejaVuSansCondensed-Bold.ttf" if bold else "DejaVuSansCondensed.ttf"
    return ImageFont.truetype(str(Path(__file__).with_name("fonts") / name), size_px)


def fitted(text: str, font: FreeTypeFont, width_px: int) -> str:
    """Return the text, ending in '…' where it had to be cut to the width."""
    text = clean(text)
    if font.getlength(text) <= width_px:
        return text
    while text and font.getlength(text + "…") > width_px:
        text = text[:-1]
    return text.rstrip() + "…"


def _lines(text: str, font: FreeTypeFont, width_px: int) -> list[str]:
    lines: list[str] = []
    rest = clean(text).split()
    while rest and len(lines) < _DETAIL_LINES:
        taken = 1
        while taken < len(rest) and font.getlength(" ".join(rest[: taken + 1])) <= width_px:
            taken += 1
        last = len(lines) == _DETAIL_LINES - 1
        lines.append(fitted(" ".join(rest if last else rest[:taken]), font, width_px))
        rest = rest[taken:]
    return lines
