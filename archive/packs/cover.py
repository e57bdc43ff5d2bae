"""The first two sheets of a pack: what it is and what to mind, then how to read it and check the print."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from archive.packs.cautions import cautions_for
from archive.packs.content import PackContent, PackPhoto, day_text
from archive.packs.sheets import (
    ACCENT,
    INK,
    QUIET,
    Paper,
    Picture,
    PictureFile,
    Rule,
    Sheet,
    Style,
    Words,
)

_KICKER: Final = Style(11, bold=True, tone=ACCENT)
_TITLE: Final = Style(28, bold=True)
_SCALE: Final = Style(16)
_HEADING: Final = Style(12, bold=True, tone=ACCENT)
_PAGE_HEADING: Final = Style(17, bold=True, tone=ACCENT)
_BODY: Final = Style(11)
_BODY_BOLD: Final = Style(11, bold=True)
_SMALL: Final = Style(9.5)
_SMALL_BOLD: Final = Style(9.5, bold=True)
_SMALL_QUIET: Final = Style(9.5, tone=QUIET)
_GAP_MM: Final = 8.0
_BAR_MM: Final = 100.0
_COVER_VIEWS: Final = ("three-quarter", "front", "right side", "left side", "rear")

GRADES: Final = {
    "measured": "somebody held a tape or another instrument to it",
    "worked out": "computed from marks on photos or from other sizes",
    "published": "taken from a drawing, a book or a maker's list",
    "guessed": "a guess; check it against a photo before you rely on it",
    "from a sister": "taken from another example of the same type",
}


def cover(
    content: PackContent,
    contents_list: list[tuple[str, int]],
    pictures: Mapping[str, PictureFile],
    paper: Paper,
) -> Sheet:
    """Lay out the cover; `contents_list` holds titles with their page numbers."""
    sheet = Sheet(bookmark="Cover")
    top = _write_title(sheet, content, paper)
    cautions = _cautions(content, paper.column_mm)
    cautions_mm = sum(style.line_mm for style, _ in cautions) + 4
    cautions_top = paper.height_mm - paper.bottom_mm - 8 - cautions_mm
    columns_mm = 46.0
    photo = _best_photo(content, pictures)
    if photo:
        top = _write_photo(sheet, photo, pictures[photo.id], paper, top, cautions_top - columns_mm)
    _write_columns(sheet, content, contents_list, paper, top, cautions_top - 2)
    sheet.rule(paper, cautions_top, 0.8, ACCENT)
    top = cautions_top + 2
    for style, line in cautions:
        top = sheet.write(paper.left_mm, top, [line], style)
    return sheet


def how_to_read(content: PackContent, paper: Paper) -> Sheet:
    """Lay out the second sheet: two bars to check the print with, then what the columns mean."""
    sheet = Sheet(bookmark="Check the print; how to read the sizes")
    top = sheet.write(paper.left_mm, paper.body_top_mm, ["Check the print first"], _PAGE_HEADING) + 1
    steps = (
        "Measure both bars with a steel rule. Each is 100 mm from end to end, across and up the page.",
        "If either differs, the print was resized: print again at 100 % (‘actual size’, no fitting to the page). "
        "The sizes in the tables hold either way; only what is drawn to scale does not.",
    )
    for step in steps:
        top = sheet.write(paper.left_mm, top, _BODY.lines(step, paper.column_mm), _BODY) + 1
    top = _write_bars(sheet, paper, top + 3)
    top = sheet.write(paper.left_mm, top, ["How to read the sizes"], _PAGE_HEADING) + 1
    for name, meaning in _meanings(content):
        sheet.write(paper.left_mm, top, _BODY_BOLD.lines(name, 32, 1), _BODY_BOLD)
        lines = _BODY.lines(meaning, paper.column_mm - 34)
        top = sheet.write(paper.left_mm + 34, top, lines, _BODY) + 1.2
    return sheet


def _meanings(content: PackContent) -> list[tuple[str, str]]:
    used = {size.grade for size in content.sizes}
    more = f"the best of every view; {content.photos_not_chosen} more that show it stayed in the archive."
    return [
        ("Model", f"the real size divided by {exact(content.ratio)}, and rounded only after that."),
        ("±", "the true size lies within it about 95 times in 100. The doubt shrinks with the scale."),
        ("written", "what was put down at the time, letter for letter."),
        *((grade, f"{meaning}.") for grade, meaning in GRADES.items() if grade in used),
        ("Note", "something to know before you cut material."),
        *([("Photos", more)] if content.photos_not_chosen else []),
    ]


def exact(ratio: Fraction) -> str:
    """Return a ratio with all its digits, or as a fraction where these have no end."""
    if Fraction(f"{float(ratio):.6g}") == ratio:
        return f"{float(ratio):.6g}"
    return f"{ratio.numerator}/{ratio.denominator} (about {float(ratio):.6g})"


def _write_bars(sheet: Sheet, paper: Paper, top: float) -> float:
    """Draw an L of two 100 mm bars, a tick every 10 mm, with room to write down what was measured."""
    left, foot = paper.left_mm + 6, top + _BAR_MM
    sheet.items.append(Rule(left, foot, left + _BAR_MM, foot, 1.0, INK))
    sheet.items.append(Rule(left, foot, left, top, 1.0, INK))
    for step in range(11):
        at, tick = step * 10.0, 5.0 if step % 10 == 0 else 2.5
        sheet.items.append(Rule(left + at, foot, left + at, foot + tick, 0.6, INK))
        sheet.items.append(Rule(left, foot - at, left - tick, foot - at, 0.6, INK))
    label = _SMALL_QUIET
    sheet.items.append(Words(left + _BAR_MM / 2, foot - 2, "100 mm across", label, "middle"))
    sheet.items.append(Words(left + 3, foot - _BAR_MM / 2, "100 mm up", label))
    beside = left + _BAR_MM + 12
    for number, direction in enumerate(("across", "up")):
        y = top + 34 + 18 * number
        sheet.write(beside, y - 7, [f"Measured {direction}:"], _BODY)
        sheet.items.append(Rule(beside, y + 5, paper.right_mm - 10, y + 5, 0.5, QUIET))
        sheet.items.append(Words(paper.right_mm, y + 5, "mm", _BODY, "right"))
    return foot + 12


def _write_title(sheet: Sheet, content: PackContent, paper: Paper) -> float:
    sheet.rule(paper, paper.top_mm, 2.5, ACCENT)
    top = sheet.write(paper.left_mm, paper.top_mm + 2.5, ["Reference pack"], _KICKER) + 1
    top = sheet.write(paper.left_mm, top, _TITLE.lines(content.build, paper.column_mm, 2), _TITLE)
    scale = _SCALE.lines(f"Scale {content.scale_text}", paper.column_mm, 1)
    top = sheet.write(paper.left_mm, top + 1, scale, _SCALE)
    facts = (
        f"made in {content.process}" if content.process else "",
        f"working to {content.tolerance_text}" if content.tolerance_mm is not None else "",
        f"pack of {day_text(content.made_on)}",
    )
    line = ", ".join(fact for fact in facts if fact)
    lines = _BODY.lines(line[:1].upper() + line[1:], paper.column_mm, 1)
    return sheet.write(paper.left_mm, top + 0.5, lines, _BODY) + 4


def _best_photo(content: PackContent, pictures: Mapping[str, PictureFile]) -> PackPhoto | None:
    """Choose a view of the whole thing, lying rather than upright; else the pack's order decides."""

    def rank(photo: PackPhoto) -> tuple[bool, bool, int]:
        picture, view = pictures[photo.id], photo.main.view
        whole = view in _COVER_VIEWS
        upright = picture.height_px > picture.width_px
        return not whole, upright, _COVER_VIEWS.index(view) if view and whole else 0

    return min(content.photos, key=rank, default=None)


def _write_photo(
    sheet: Sheet, photo: PackPhoto, picture: PictureFile, paper: Paper, top: float, end: float
) -> float:
    below = _SMALL_QUIET.line_mm + 5
    width, height = picture.fitted_mm(paper.column_mm, end - top - below)
    sheet.items.append(Picture(picture.file, paper.left_mm, top, width, height))
    text = f"{photo.main.subject}, {photo.main.view}" if photo.main.view else photo.main.subject
    text += f"; photo by {photo.creator}" if photo.creator else ""
    caption = _SMALL_QUIET.lines(text, paper.column_mm, 1)
    return sheet.write(paper.left_mm, top + height + 1, caption, _SMALL_QUIET) + 4


def _write_columns(
    sheet: Sheet,
    content: PackContent,
    contents_list: list[tuple[str, int]],
    paper: Paper,
    top: float,
    end: float,
) -> None:
    """Write the subjects on the left and what is in the pack on the right; what does not fit is counted."""
    wide = (paper.column_mm - _GAP_MM) / 2
    right = paper.left_mm + wide + _GAP_MM
    left_top = sheet.write(paper.left_mm, top, ["The real thing"], _HEADING) + 0.8
    for number, subject in enumerate(content.subjects):
        facts = ", ".join(fact for fact in (subject.kind, subject.maker, subject.era) if fact)
        where = "; ".join(subject.visits) or subject.place or ""
        rows = [(_BODY_BOLD, subject.name), (_SMALL, facts), (_SMALL_QUIET, where)]
        rows = [(style, text) for style, text in rows if text]
        if left_top + sum(style.line_mm for style, _ in rows) + _SMALL.line_mm > end:
            more = len(content.subjects) - number
            sheet.write(paper.left_mm, left_top, [f"and {more} more, listed on the right"], _SMALL)
            break
        for style, text in rows:
            left_top = sheet.write(paper.left_mm, left_top, style.lines(text, wide, 1), style)
        left_top += 1
    right_top = sheet.write(right, top, ["In this pack"], _HEADING) + 0.8
    for number, (title, page) in enumerate(contents_list):
        if right_top + 2 * _SMALL.line_mm > end:
            sheet.write(right, right_top, [f"and {len(contents_list) - number} more"], _SMALL)
            break
        number_left = paper.right_mm - _SMALL.width_mm(str(page))
        sheet.write(number_left, right_top, [str(page)], _SMALL)
        right_top = sheet.write(right, right_top, _SMALL.lines(title, wide - 10, 1), _SMALL)


def _cautions(content: PackContent, column_mm: float) -> list[tuple[Style, str]]:
    lines: list[tuple[Style, str]] = []
    for caution in cautions_for(content.process):
        lines.append((_SMALL_BOLD, caution.heading))
        lines += [(_SMALL, line) for line in _SMALL.lines(caution.text, column_mm)]
    return lines
