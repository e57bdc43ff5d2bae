"""The pages of photos: as large as the paper and their pixels allow, each with what it shows and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from archive.packs.content import PackContent, PackPhoto, PackSighting, PackSubject, day_text
from archive.packs.sheets import ACCENT, QUIET, Paper, Picture, PictureFile, Sheet, Style

_HEADING: Final = Style(17, bold=True, tone=ACCENT)
_VIEW: Final = Style(10.5, bold=True)
_CAPTION: Final = Style(10)
_DETAILS: Final = Style(9, tone=QUIET)
_GAP_MM: Final = 6.0
_BELOW_HEADING_MM: Final = 3.0
_CAPTION_ROOM_MM: Final = 29.0  # the most that a caption takes below its photo
_ROWS_A_SHEET: Final = 2
_NARROWEST_MM: Final = 60.0  # a tiny picture still gets a caption of this width


@dataclass(frozen=True, slots=True)
class _Placed:
    photo: PackPhoto
    picture: PictureFile
    width_mm: float
    height_mm: float

    @property
    def slot_mm(self) -> float:
        return max(self.width_mm, _NARROWEST_MM)

    def caption(self) -> list[tuple[Style, list[str]]]:
        wide = self.slot_mm
        return [
            (_VIEW, _VIEW.lines(shows(self.photo), wide, 1)),
            (_CAPTION, _CAPTION.lines(self.photo.caption or "", wide, 2)),
            (_DETAILS, _DETAILS.lines(details(self.photo), wide, 3)),
        ]

    def full_height_mm(self) -> float:
        return self.height_mm + 1.5 + sum(style.line_mm * len(lines) for style, lines in self.caption())


def photo_pages(
    content: PackContent, subject: PackSubject, pictures: Mapping[str, PictureFile], paper: Paper
) -> list[Sheet]:
    """Lay out one subject's photos, row by row; `pictures` by photo id. No photo, no sheet."""
    placed = [_fit(photo, pictures[photo.id], paper) for photo in content.photos_of(subject.name)]
    rows = _rows(placed, paper.column_mm)
    sheets: list[Sheet] = []
    for first in range(0, len(rows), _ROWS_A_SHEET):
        pair = rows[first : first + _ROWS_A_SHEET]
        title = f"{subject.name}: photos" + (", continued" if sheets else "")
        sheet = Sheet(bookmark=None if sheets else f"Photos: {subject.name}")
        sheets.append(sheet)
        heading = _HEADING.lines(title, paper.column_mm, most=1)
        top = sheet.write(paper.left_mm, paper.body_top_mm, heading, _HEADING) + _BELOW_HEADING_MM
        for row in _enlarged(pair, paper):
            _write_row(sheet, row, paper.left_mm, top)
            top += max(each.full_height_mm() for each in row) + _GAP_MM
    return sheets


def shows(photo: PackPhoto) -> str:
    """Return what a photo shows, in words: 'Front', or with further subjects 'Front; crane: overview'."""
    first, *others = photo.sightings
    words = [_view(first).capitalize(), *(f"{other.subject}: {_view(other)}" for other in others)]
    return "; ".join(words)


def _view(sighting: PackSighting) -> str:
    view = sighting.view or "view not noted"
    return f"{view} (mirrored)" if sighting.mirrored else view


def details(photo: PackPhoto) -> str:
    """Return when, where and by whom a photo was taken, as far as that is known, and its file's name in the archive."""
    taken = f"{day_text(photo.taken)}, {photo.taken:%H:%M}" if photo.taken else None
    creator = f"photo by {photo.creator}" if photo.creator else None
    return "; ".join(fact for fact in (taken, photo.visit, photo.name, creator, photo.rights) if fact)


def _body_mm(paper: Paper) -> float:
    return paper.body_end_mm - paper.body_top_mm - _HEADING.line_mm - _BELOW_HEADING_MM


def _fit(photo: PackPhoto, picture: PictureFile, paper: Paper) -> _Placed:
    """Fit a photo into a row that leaves room for the longest caption."""
    highest = (_body_mm(paper) - _GAP_MM * (_ROWS_A_SHEET - 1)) / _ROWS_A_SHEET - _CAPTION_ROOM_MM
    return _Placed(photo, picture, *picture.fitted_mm(paper.column_mm, highest))


def _enlarged(rows: list[list[_Placed]], paper: Paper) -> list[list[_Placed]]:
    """Give the rows of one sheet what is left of its height, as far as the column and the pixels go."""
    used = sum(max(each.full_height_mm() for each in row) for row in rows)
    spare = _body_mm(paper) - used - _GAP_MM * (len(rows) - 1)
    larger = []
    for row in rows:
        highest = max(each.height_mm for each in row) + spare / len(rows)
        stretch = (paper.column_mm - _GAP_MM * (len(row) - 1)) / sum(each.slot_mm for each in row)
        larger.append(
            [
                replace(each, width_mm=width, height_mm=height)
                for each in row
                for width, height in [each.picture.fitted_mm(each.slot_mm * stretch, highest)]
            ]
        )
    return larger


def _rows(placed: list[_Placed], column_mm: float) -> list[list[_Placed]]:
    """Fill rows in order: two upright photos stand side by side where there is room."""
    rows: list[list[_Placed]] = []
    used = column_mm
    for each in placed:
        if rows and used + _GAP_MM + each.slot_mm <= column_mm:
            rows[-1].append(each)
            used += _GAP_MM + each.slot_mm
        else:
            rows.append([each])
            used = each.slot_mm
    return rows


def _write_row(sheet: Sheet, row: list[_Placed], left_mm: float, top_mm: float) -> None:
    highest = max(each.height_mm for each in row)
    for each in row:
        top = top_mm + highest - each.height_mm
        sheet.items.append(Picture(each.picture.file, left_mm, top, each.width_mm, each.height_mm))
        below = top_mm + highest + 1.5
        for style, lines in each.caption():
            below = sheet.write(left_mm, below, lines, style)
        left_mm += each.slot_mm + _GAP_MM
