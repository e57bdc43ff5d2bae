"""Sheets of paper before they are drawn: where each line, word and picture goes.

Everything is in millimetres from the top left corner of the paper, x right, y down; letters are in points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from archive.packs import lettering

LEAST_DPI: Final = 200  # a photo printed with fewer pixels an inch looks soft at arm's length
_LINE_HEIGHT: Final = 1.32  # of the letters' size
_ASCENT: Final = 0.95  # of the letters' size, from the top of the line to its baseline


@dataclass(frozen=True, slots=True)
class Tone:
    """A colour as red, green and blue, 0 to 1; every one stays readable on a grey printer."""

    red: float
    green: float
    blue: float


INK: Final = Tone(0.10, 0.11, 0.13)
QUIET: Final = Tone(0.36, 0.38, 0.41)
ACCENT: Final = Tone(0.13, 0.33, 0.36)
HAIR: Final = Tone(0.74, 0.76, 0.78)


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper and what of it we use; printers reach to about 5 mm of its edges."""

    name: str
    width_mm: float
    height_mm: float
    side_mm: float = 16.0
    top_mm: float = 13.0
    bottom_mm: float = 13.0

    @property
    def left_mm(self) -> float:
        """The left edge of what we use."""
        return self.side_mm

    @property
    def column_mm(self) -> float:
        """The width of what we use."""
        return self.width_mm - 2 * self.side_mm

    @property
    def right_mm(self) -> float:
        """The right edge of what we use."""
        return self.width_mm - self.side_mm

    @property
    def body_top_mm(self) -> float:
        """Where a sheet's own matter starts, below the running head."""
        return self.top_mm + 10.0

    @property
    def body_end_mm(self) -> float:
        """Where a sheet's own matter ends, above the foot."""
        return self.height_mm - self.bottom_mm - 8.0


A4: Final = Paper("a4", 210.0, 297.0)
LETTER: Final = Paper("letter", 215.9, 279.4)
PAPERS: Final = {paper.name: paper for paper in (A4, LETTER)}


@dataclass(frozen=True, slots=True)
class Style:
    """How letters look."""

    size_pt: float
    bold: bool = False
    tone: Tone = INK

    @property
    def line_mm(self) -> float:
        """The height of one line."""
        return self.size_pt * _LINE_HEIGHT / lettering.POINTS_PER_MM

    @property
    def ascent_mm(self) -> float:
        """How far the baseline lies below the top of a line."""
        return self.size_pt * _ASCENT / lettering.POINTS_PER_MM

    def width_mm(self, text: str) -> float:
        """Return how wide printable `text` runs."""
        return lettering.width_mm(text, self.size_pt, self.bold)

    def lines(self, text: str, column_mm: float, most: int | None = None) -> list[str]:
        """Return any text made printable and broken into lines."""
        if most is not None:  # nothing past this is ever seen: a novel in a caption must not take a minute
            text = text[: most * 400]
        return lettering.wrap(lettering.printable(text), self.size_pt, column_mm, self.bold, most)


@dataclass(frozen=True, slots=True)
class Words:
    """One line of printable text on its baseline."""

    x_mm: float
    baseline_mm: float
    text: str
    style: Style
    align: str = "left"  # or 'right' or 'middle': what of it stands at x_mm


@dataclass(frozen=True, slots=True)
class Rule:
    """A straight line."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    width_pt: float = 0.5
    tone: Tone = HAIR


@dataclass(frozen=True, slots=True)
class Picture:
    """A JPEG file placed upright in a rectangle of its own shape."""

    file: Path
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class PictureFile:
    """An upright JPEG, ready to print as it is."""

    file: Path
    width_px: int
    height_px: int

    def fitted_mm(self, widest_mm: float, highest_mm: float) -> tuple[float, float]:
        """Return the largest width and height in the space at which no fewer than 200 dpi are printed."""
        mm_per_px = min(widest_mm / self.width_px, highest_mm / self.height_px, 25.4 / LEAST_DPI)
        return self.width_px * mm_per_px, self.height_px * mm_per_px


@dataclass(slots=True)
class Sheet:
    """One side of paper; `bookmark` is what a PDF reader's list of contents calls it."""

    bookmark: str | None = None
    items: list[Words | Rule | Picture] = field(default_factory=list)

    def write(self, x_mm: float, top_mm: float, lines: Sequence[str], style: Style) -> float:
        """Set lines below one another from `top_mm` on; return where the next line would start."""
        for line in lines:
            self.items.append(Words(x_mm, top_mm + style.ascent_mm, line, style))
            top_mm += style.line_mm
        return top_mm

    def rule(self, paper: Paper, y_mm: float, width_pt: float = 0.5, tone: Tone = HAIR) -> None:
        """Draw a line across everything that we use of the paper."""
        self.items.append(Rule(paper.left_mm, y_mm, paper.right_mm, y_mm, width_pt, tone))
