"""PDF drawings: each page is a picture, drawn by pdfium (ISO 32000-2)."""

from __future__ import annotations

import threading
from math import isfinite, sqrt
from typing import IO, TYPE_CHECKING

from archive.pictures.facts import Looked, Pixels
from archive.pictures.views import View

if TYPE_CHECKING:
    from PIL import Image

PAGE_DPI = 300
"""A page is drawn at this many pixels per inch, fewer where it would become larger than 60 megapixels."""
_MOST_PAGE_PX = 60_000_000
_MOST_FILE_BYTES = 512 << 20
_POINTS_PER_INCH, _MM_PER_INCH = 72, 25.4
_BYTES_PER_PIXEL = 8  # pdfium's bitmap, and Pillow's copy
_one_drawing_at_a_time = threading.Lock()  # pdfium is not made for threads


def look_at_pdf(view: View, page: int) -> Looked | None:
    """One page of a PDF file, with its size on paper; one that cannot be opened is kept without a picture."""
    if b"%PDF-" not in view.at(0, 1024):
        return None
    import pypdfium2

    looked = Looked("PDF", "application/pdf")
    if view.size > _MOST_FILE_BYTES:
        looked.warn("too-large-to-decode", "The PDF file is too large to be drawn. It is kept as it is.")
        return looked
    data = view.at(0, view.size)
    try:
        with _one_drawing_at_a_time:
            document = pypdfium2.PdfDocument(data)
            try:
                looked.frames = len(document)
                size_pt = document.get_page_size(page) if page < looked.frames else None
            finally:
                document.close()
    except pypdfium2.PdfiumError as problem:
        locked = "password" in str(problem).lower()
        why = "it is locked with a password" if locked else "it is damaged"
        looked.warn("cannot-show", f"The PDF file cannot be shown: {why}. It is kept as it is.")
        return looked
    if size_pt is not None and all(isfinite(side) and side > 0 for side in size_pt):
        _measure(looked, view, (size_pt[0], size_pt[1]), page)
    return looked


def _measure(looked: Looked, view: View, size_pt: tuple[float, float], page: int) -> None:
    inches = [side / _POINTS_PER_INCH for side in size_pt]
    dpi = min(PAGE_DPI, sqrt(_MOST_PAGE_PX / (inches[0] * inches[1])))
    looked.width, looked.height = (max(1, round(side * dpi)) for side in inches)
    looked.paper_mm = (inches[0] * _MM_PER_INCH, inches[1] * _MM_PER_INCH)
    looked.pixels = Pixels(
        decoder="PDF",
        view=view,
        pieces=[(0, view.size)],
        width=looked.width,
        height=looked.height,
        bytes_per_pixel=_BYTES_PER_PIXEL,
        fixed_bytes=view.size,
        any_size=True,
        page=page,
    )


def drawn_page(stream: IO[bytes], pixels: Pixels, longest_px: int | None) -> Image.Image:
    """A page on white, at full size or so that its longer side has `longest_px`."""
    import pypdfium2

    longest = max(pixels.width, pixels.height)
    with _one_drawing_at_a_time:
        document = pypdfium2.PdfDocument(stream.read())
        try:
            page = document[pixels.page]
            shrink = min((longest_px or longest) / longest, 1.0)
            width, height = (max(1, round(side * shrink)) for side in (pixels.width, pixels.height))
            scale = longest * shrink / max(page.get_size())
            drawn: Image.Image = page.render(scale=scale).to_pil().convert("RGB")
            image = drawn.crop((0, 0, width, height))  # pdfium rounds up: a row or column too many
        finally:
            document.close()
    return image
