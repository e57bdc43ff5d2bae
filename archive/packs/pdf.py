"""The printed pack: sheets laid out, numbered and drawn into one PDF, at true scale."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Final

from archive.packs import lettering
from archive.packs.content import PackContent
from archive.packs.cover import cover, how_to_read
from archive.packs.photo_pages import photo_pages
from archive.packs.sheets import A4, QUIET, Paper, Picture, PictureFile, Rule, Sheet, Style, Words
from archive.packs.size_pages import size_pages

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

_RUNNING: Final = Style(9, tone=QUIET)
_FIRST_SECTION: Final = 3  # the page after the cover and how to read it


def write_pdf(
    content: PackContent, pictures: Mapping[str, PictureFile], file: Path, paper: Paper = A4
) -> int:
    """Write the pack to a new PDF and return how many pages it has.

    `pictures` are the upright JPEGs by photo id; they go in as they are, at 200 dpi or more of
    their own pixels. Nothing is drawn outside the paper's margins. The PDF asks the reader's
    program not to resize it (ISO 32000-1, 12.2, PrintScaling).
    """
    sheets = lay_out(content, pictures, paper)
    canvas = _new_canvas(content, file, paper)
    for number, sheet in enumerate(sheets, start=1):
        if sheet.bookmark:
            canvas.bookmarkPage(f"page-{number}")
            canvas.addOutlineEntry(lettering.printable(sheet.bookmark), f"page-{number}")
        for item in sheet.items:
            _draw(canvas, item, paper)
        canvas.showPage()
    canvas.save()
    return len(sheets)


def lay_out(content: PackContent, pictures: Mapping[str, PictureFile], paper: Paper) -> list[Sheet]:
    """Lay out every sheet of the pack: cover, how to read it, then sizes and photos subject by subject."""
    sections: list[tuple[str, list[Sheet]]] = []
    for subject in content.subjects:
        count = len(content.sizes_of(subject.name))
        sections.append((f"{subject.name}: {_counted(count, 'size')}", size_pages(content, subject, paper)))
        photos = photo_pages(content, subject, pictures, paper)
        if photos:
            count = len(content.photos_of(subject.name))
            sections.append((f"{subject.name}: {_counted(count, 'photo')}", photos))
    titles, page = [("Check the print; how to read the sizes", 2)], _FIRST_SECTION
    for title, section in sections:
        titles.append((title, page))
        page += len(section)
    sheets = [cover(content, titles, pictures, paper), how_to_read(content, paper)]
    sheets += [sheet for _, section in sections for sheet in section]
    _add_running_lines(sheets, content, paper)
    return sheets


def _counted(count: int, noun: str) -> str:
    return f"{count or 'no'} {noun}{'' if count == 1 else 's'}"


def _add_running_lines(sheets: list[Sheet], content: PackContent, paper: Paper) -> None:
    (scale,) = _RUNNING.lines(f"Scale {content.scale_text}", paper.column_mm / 2, 1)
    head = _RUNNING.lines(content.build, paper.column_mm - _RUNNING.width_mm(scale) - 10, 1)
    for number, sheet in enumerate(sheets, start=1):
        if number > 1:
            sheet.write(paper.left_mm, paper.top_mm, head, _RUNNING)
            top = paper.top_mm + _RUNNING.ascent_mm
            sheet.items.append(Words(paper.right_mm, top, scale, _RUNNING, "right"))
            sheet.rule(paper, paper.top_mm + 5.5)
        foot = paper.height_mm - paper.bottom_mm - 1.2
        sheet.items.append(Words(paper.left_mm, foot, "For making models only", _RUNNING))
        page = f"Page {number} of {len(sheets)}"
        sheet.items.append(Words(paper.right_mm, foot, page, _RUNNING, "right"))


def _new_canvas(content: PackContent, file: Path, paper: Paper) -> Canvas:
    from reportlab import rl_config
    from reportlab.pdfgen.canvas import Canvas

    rl_config.useA85 = 0  # pictures as they are: many times faster and a quarter smaller
    size = (paper.width_mm * lettering.POINTS_PER_MM, paper.height_mm * lettering.POINTS_PER_MM)
    canvas = Canvas(str(file), pagesize=size, pageCompression=1, lang="en-GB")
    creators = sorted({photo.creator for photo in content.photos if photo.creator})
    canvas.setTitle(lettering.printable(f"{content.build}: reference pack"))
    canvas.setAuthor(lettering.printable(", ".join(creators)) or "made with Rivetbook")
    canvas.setSubject(lettering.printable(f"Scale {content.scale_text}; sizes for making models only"))
    canvas.setCreator(f"Rivetbook {content.program_version}")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def _draw(canvas: Canvas, item: Words | Rule | Picture, paper: Paper) -> None:
    """Draw one item; the PDF counts points upwards from the foot of the page."""
    points = lettering.POINTS_PER_MM

    def up(y_mm: float) -> float:
        return (paper.height_mm - y_mm) * points

    match item:
        case Words():
            _draw_words(canvas, item, up(item.baseline_mm))
        case Rule():
            canvas.setStrokeColorRGB(item.tone.red, item.tone.green, item.tone.blue)
            canvas.setLineWidth(item.width_pt)
            canvas.line(item.x1_mm * points, up(item.y1_mm), item.x2_mm * points, up(item.y2_mm))
        case Picture():
            corner = item.x_mm * points, up(item.y_mm + item.height_mm)
            canvas.drawImage(str(item.file), *corner, item.width_mm * points, item.height_mm * points)


def _draw_words(canvas: Canvas, words: Words, y: float) -> None:
    style = words.style
    canvas.setFillColorRGB(style.tone.red, style.tone.green, style.tone.blue)
    shift = {"left": 0.0, "middle": 0.5, "right": 1.0}[words.align]
    x = (words.x_mm - shift * style.width_mm(words.text)) * lettering.POINTS_PER_MM
    for font, piece in lettering.runs(words.text, style.bold):
        canvas.setFont(font, style.size_pt)
        canvas.drawString(x, y, piece)
        x += lettering.width_mm(piece, style.size_pt, style.bold) * lettering.POINTS_PER_MM
