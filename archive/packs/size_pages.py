"""The pages of sizes: one table a subject, part by part, to be read at arm's length from the bench."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from archive.packs.content import PackContent, PackSize, PackSubject
from archive.packs.sheets import ACCENT, QUIET, Paper, Sheet, Style

_HEADING: Final = Style(17, bold=True, tone=ACCENT)
_SMALL: Final = Style(10, tone=QUIET)
_SMALL_INK: Final = Style(10)
_SMALL_BOLD: Final = Style(10, bold=True)
_COLUMN: Final = Style(10, bold=True, tone=QUIET)
_LABEL: Final = Style(12)
_REAL: Final = Style(11.5)
_MODEL: Final = Style(15, bold=True)
_MODEL_DOUBT: Final = Style(11.5)
_GAP_MM: Final = 4.0
_PADDING_MM: Final = 1.8  # above and below what stands in a row


@dataclass(frozen=True, slots=True)
class _Column:
    title: str
    x_mm: float
    width_mm: float


def size_pages(content: PackContent, subject: PackSubject, paper: Paper) -> list[Sheet]:
    """Lay out one subject's sizes on as many sheets as they need; at least one."""
    columns = _columns(paper)
    sizes = content.sizes_of(subject.name)
    sheet = Sheet(bookmark=f"Sizes: {subject.name}")
    sheets = [sheet]
    top = _write_subject(sheet, subject, paper)
    if not sizes:
        sheet.write(paper.left_mm, top + 4, ["No sizes have been noted for it yet."], _REAL)
        return sheets
    top = _write_titles(sheet, columns, paper, top)
    part = sizes[0].part
    for size in sizes:
        row = _Row(content, size, columns)
        if top + row.height_mm > paper.body_end_mm:
            sheet.rule(paper, top)
            sheet = Sheet()
            sheets.append(sheet)
            heading = _HEADING.lines(f"{subject.name}, continued", paper.column_mm, most=1)
            top = sheet.write(paper.left_mm, paper.body_top_mm, heading, _HEADING) + 2
            top = _write_titles(sheet, columns, paper, top)
        elif size.part != part:
            sheet.rule(paper, top)
        part = size.part
        top = row.write(sheet, top)
    sheet.rule(paper, top, 0.8, ACCENT)
    return sheets


def _columns(paper: Paper) -> tuple[_Column, ...]:
    shares = (("Size", 0.24), ("Model", 0.19), ("Real thing", 0.265), ("Where it comes from", 0.305))
    x, columns = paper.left_mm, []
    for title, share in shares:
        width = share * (paper.column_mm - _GAP_MM * (len(shares) - 1))
        columns.append(_Column(title, x, width))
        x += width + _GAP_MM
    return tuple(columns)


def _write_subject(sheet: Sheet, subject: PackSubject, paper: Paper) -> float:
    wide = paper.column_mm
    top = sheet.write(paper.left_mm, paper.body_top_mm, _HEADING.lines(subject.name, wide, 2), _HEADING)
    facts = ", ".join(fact for fact in (subject.kind, subject.maker, subject.era, subject.place) if fact)
    top = sheet.write(paper.left_mm, top + 0.5, _SMALL_INK.lines(facts, wide, 2), _SMALL_INK)
    if subject.notes:
        top = sheet.write(paper.left_mm, top + 1, _SMALL.lines(subject.notes, wide, 6), _SMALL)
    return top + 3


def _write_titles(sheet: Sheet, columns: tuple[_Column, ...], paper: Paper, top: float) -> float:
    for column in columns:
        bottom = sheet.write(column.x_mm, top, [column.title], _COLUMN)
    sheet.rule(paper, bottom + 0.8, 0.8, ACCENT)
    return bottom + 0.8


class _Row:
    """One size, set in the columns; the highest cell gives the height."""

    def __init__(self, content: PackContent, size: PackSize, columns: tuple[_Column, ...]) -> None:
        name, model, real, source = (column.width_mm for column in columns)
        model_text, sign, doubt = (size.model.text if size.model else "as the real one").partition(" ± ")
        as_written = "; ".join(f"‘{text}’" for text in size.as_written)
        cells = (
            ((_LABEL, size.full_label, name, 4),),
            (
                (_MODEL if size.model else _SMALL, model_text, model, 3),
                (_MODEL_DOUBT, sign + doubt, model, 2),
            ),
            ((_REAL, size.real_text, real, 3), (_SMALL, size.imperial_text, real, 2)),
            (
                (_SMALL_BOLD, size.grade, source, 1),
                (_SMALL_INK, size.source_text, source, 4),
                (_SMALL, f"written {as_written}" if as_written else "", source, 4),
            ),
        )
        self._cells = [
            [(style, style.lines(text, wide, most)) for style, text, wide, most in cell] for cell in cells
        ]
        self._columns = columns
        whole_mm = columns[-1].x_mm + columns[-1].width_mm - columns[0].x_mm
        self._remarks = [
            line for remark in _remarks(content, size) for line in _SMALL_INK.lines(remark, whole_mm, 3)
        ]

    @property
    def height_mm(self) -> float:
        cells = max(
            self._drop(cell) + sum(style.line_mm * len(lines) for style, lines in cell)
            for cell in self._cells
        )
        return cells + _SMALL_INK.line_mm * len(self._remarks) + 2 * _PADDING_MM

    def write(self, sheet: Sheet, top: float) -> float:
        """Set the row from `top` on and return where it ends."""
        for column, cell in zip(self._columns, self._cells, strict=True):
            y = top + _PADDING_MM + self._drop(cell)
            for style, lines in cell:
                y = sheet.write(column.x_mm, y, lines, style)
        bottom = top + self.height_mm
        remarks_top = bottom - _PADDING_MM - _SMALL_INK.line_mm * len(self._remarks)
        sheet.write(self._columns[0].x_mm, remarks_top, self._remarks, _SMALL_INK)
        return bottom

    def _drop(self, cell: list[tuple[Style, list[str]]]) -> float:
        """Return how far a cell starts below the largest letters, so that all stand on one baseline."""
        return _MODEL.ascent_mm - cell[0][0].ascent_mm


def _remarks(content: PackContent, size: PackSize) -> list[str]:
    remarks = [f"Note: {warning.message}" for warning in size.warnings]
    if content.exceeds_tolerance(size):
        remarks.append(
            f"Note: at this scale the doubt is more than the {content.tolerance_text} you work to."
        )
    return remarks
