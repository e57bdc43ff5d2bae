"""A picture to check a worked-out size by eye: the photo with its marks, and its plane as seen from straight before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from archive import pictures, wording
from archive.dimensions.explaining import Explanation, Stretch
from archive.errors import CouldNotWrite, NotAccepted
from archive.packs.contact_sheet import fitted, font
from archive.packs.label_places import LabelPlaces
from archive.records import originals
from archive.records.archive import Archive
from archive.records.names import name_key

if TYPE_CHECKING:
    from PIL import Image
    from PIL.ImageDraw import ImageDraw

    from archive.photogrammetry.marks import Array

_FORMATS = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG"}
_READ_PX, _SHOWN_PX, _STRAIGHT_PX = 4000, 1400, 900
_GAP_PX, _TEXT_PX, _NAME_PX = 24, 26, 20
_PAPER, _INK = (255, 255, 255), (20, 20, 20)
_KNOWN, _ASKED, _DARK = (80, 200, 255), (255, 190, 60), (0, 0, 0)
_MARK_PX, _LINE_PX, _STROKE_PX = 7, 5, 3
_LEAST_WIDE_PX = 360  # of the straightened picture, so that what is written on it has room


def write_check_picture(archive: Archive, explanation: Explanation, file: Path) -> None:
    """Draw a worked-out size on its photo into a new PNG or JPEG file.

    Raises
    ------
    NotAccepted
        The reading was not worked out, its photo is gone, or the file is there already or named otherwise.
    PictureNotReadable, CouldNotWrite
    """
    if file.suffix.lower() not in _FORMATS:
        raise NotAccepted(
            f"'{file}' is not the name of a picture", "Give it a name that ends in .png or .jpg."
        )
    if file.exists():
        raise NotAccepted(f"'{file}' is there already and was left as it is", "Name a new file.")
    if explanation.derivation is not None and explanation.photo is None and explanation.stretches:
        raise NotAccepted(
            "The photo that this size was worked out from was taken out, so there is nothing to draw on",
            "Bring it back with 'rivetbook undo'.",
        )
    if explanation.derivation is None or explanation.photo is None:
        raise NotAccepted(
            "There are no marks on a photo to draw for this reading",
            "Leave --picture off; the words say all.",
        )
    drawn = BytesIO()
    _drawn(archive, explanation).save(drawn, _FORMATS[file.suffix.lower()], quality=90)
    try:
        with file.open("xb") as written:
            written.write(drawn.getvalue())
    except (OSError, ValueError) as error:
        raise CouldNotWrite(str(file), getattr(error, "strerror", None) or str(error)) from error


def _drawn(archive: Archive, explanation: Explanation) -> Image.Image:
    from PIL import Image, ImageDraw

    assert explanation.photo is not None
    photo = explanation.photo
    path = originals.picture_there(archive, photo)
    read = pictures.upright_array(path, photo.page_index, longest_px=_READ_PX)
    places = {name_key(m.name): np.array([m.x_px, m.y_px]) for m in explanation.marks}
    parts = [_on_the_photo(read, explanation, places)]
    straight = _straightened(read, explanation, places)
    if straight is not None:
        parts.append(straight)
    heading = _heading(explanation)
    top = _GAP_PX + len(heading) * (_TEXT_PX + 8) + _GAP_PX // 2
    width = sum(part.width for part in parts) + (len(parts) + 1) * _GAP_PX
    sheet = Image.new("RGB", (width, top + max(part.height for part in parts) + _GAP_PX), _PAPER)
    draw = ImageDraw.Draw(sheet)
    for number, line in enumerate(heading):
        set_in = font(_TEXT_PX, bold=number == 0)
        at = (_GAP_PX, _GAP_PX + number * (_TEXT_PX + 8))
        draw.text(at, fitted(line, set_in, width - 2 * _GAP_PX), fill=_INK, font=set_in)
    left = _GAP_PX
    for part in parts:
        sheet.paste(part, (left, top))
        left += part.width + _GAP_PX
    return sheet


def _heading(explanation: Explanation) -> list[str]:
    dimension, interval = explanation.dimension, explanation.interval_95
    size = wording.size("length", explanation.known.value, interval)
    lines = [
        f"{dimension.label} of {dimension.subject}: {size} ({wording.other_system('length', explanation.known.value, interval)})"
    ]
    if explanation.model_text is not None:
        lines.append(f"On the model: {explanation.model_text}")
    assert explanation.photo is not None
    lines.append(f"{explanation.photo.file}; known in blue, worked out in yellow")
    return lines


def _on_the_photo(read: np.ndarray, explanation: Explanation, places: Mapping[str, Array]) -> Image.Image:
    from PIL import Image

    assert explanation.photo is not None
    assert explanation.photo.width is not None
    shown = Image.fromarray(read)
    shown.thumbnail((_SHOWN_PX, _SHOWN_PX), Image.Resampling.LANCZOS)
    scale = shown.width / explanation.photo.width
    here = {name: (px + 0.5) * scale - 0.5 for name, px in places.items()}
    _draw_over(shown, explanation, here, names=True)
    return shown


def _straightened(
    read: np.ndarray, explanation: Explanation, places: Mapping[str, Array]
) -> Image.Image | None:
    """The known plane from straight before it; None where the method knows no plane."""
    if explanation.plane is None:
        return None
    from PIL import Image

    from archive.photogrammetry.straightening import places_in_plane, straightened_picture

    assert explanation.photo is not None
    assert explanation.photo.width is not None
    known_px = np.array([places[name_key(name)] for name in explanation.plane.names])
    every_px = np.array(list(places.values()))
    straight = straightened_picture(
        read,
        explanation.photo.width / read.shape[1],
        explanation.plane.places_mm,
        known_px,
        every_px,
        explanation.lens,
        _STRAIGHT_PX,
    )
    on_plane = places_in_plane(explanation.plane.places_mm, known_px, every_px, explanation.lens)
    plane = Image.fromarray(straight.picture)
    shown = Image.new("RGB", (max(plane.width, _LEAST_WIDE_PX), plane.height), _DARK)
    beside = (shown.width - plane.width) // 2
    shown.paste(plane, (beside, 0))
    there = dict(zip(places, straight.px_of(on_plane) + np.array([beside, 0]), strict=True))
    _draw_over(shown, explanation, there, names=False)
    return shown


def _draw_over(
    shown: Image.Image, explanation: Explanation, places: Mapping[str, Array], *, names: bool
) -> None:
    """Draw known and asked stretches with what they come to, and every mark; texts keep off all of these."""
    from PIL.ImageDraw import Draw

    draw, room = Draw(shown), LabelPlaces(shown.width, shown.height)
    at = {mark.name: tuple(places[name_key(mark.name)].tolist()) for mark in explanation.marks}
    for x, y in at.values():
        room.keep_off(x, y, _MARK_PX)
    texts = _draw_stretches(draw, room, explanation, places)
    for x, y in at.values():
        for ink, width in ((_DARK, 5), (_PAPER, 2)):
            draw.line((x - _MARK_PX, y, x + _MARK_PX, y), fill=ink, width=width)
            draw.line((x, y - _MARK_PX, x, y + _MARK_PX), fill=ink, width=width)
    if names:
        texts += [_Text(x, y, name, _PAPER) for name, (x, y) in at.items()]
    for text in texts:
        _write(draw, room, text)


def _draw_stretches(
    draw: ImageDraw, room: LabelPlaces, explanation: Explanation, places: Mapping[str, Array]
) -> list[_Text]:
    """Draw the asked stretch and over it the known ones, which may be part of it; returns what is to be written."""
    texts = []
    for each in sorted(explanation.stretches, key=lambda each: not each.is_asked):
        start, end = places.get(name_key(each.start)), places.get(name_key(each.end))
        if start is None or end is None:
            continue
        (x1, y1), (x2, y2) = start.tolist(), end.tolist()
        colour = _ASKED if each.is_asked else _KNOWN
        for ink, width in ((_DARK, 6), (colour, 3)):
            draw.line((x1, y1, x2, y2), fill=ink, width=width)
        room.keep_off_line((x1, y1), (x2, y2), _LINE_PX)
        texts.append(_Text((x1 + x2) / 2, (y1 + y2) / 2, _said(each, explanation.model_text), colour))
    return texts


@dataclass(frozen=True, slots=True)
class _Text:
    """A text, and the point (px) that it stands by."""

    x_px: float
    y_px: float
    says: str
    colour: tuple[int, int, int]


def _said(stretch: Stretch, model_text: str | None) -> str:
    """What is written along a stretch: its size, and under an asked one what that is on the model."""
    if stretch.is_asked and model_text is not None:
        return f"{stretch.text}\non the model {model_text}"
    return stretch.text


def _write(draw: ImageDraw, room: LabelPlaces, text: _Text) -> None:
    set_in = font(_NAME_PX)
    left, top, right, bottom = draw.multiline_textbbox(
        (0, 0), text.says, font=set_in, stroke_width=_STROKE_PX
    )
    place = room.place(text.x_px, text.y_px, right - left, bottom - top)
    draw.multiline_text(
        (place.left - left, place.top - top),
        text.says,
        fill=text.colour,
        font=set_in,
        stroke_width=_STROKE_PX,
        stroke_fill=_DARK,
    )
