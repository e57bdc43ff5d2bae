"""What text looks like on paper: which font holds a character, how wide it is, where a line breaks.

Notes and captions come from anywhere, so nothing here trusts them: control characters and marks that
turn the writing direction are taken out, words wider than the column are cut across lines, and a
character that no font here holds is shown by its Unicode number. Nothing is left out unseen.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from pathlib import Path

POINTS_PER_MM = 72 / 25.4
LETTERS, BOLD_LETTERS = "RivetbookSans", "RivetbookSans-Bold"
# Not embedded: PDF readers bring these themselves (ISO 32000-1, 9.7.5). Each with the charset that it holds.
EAST_ASIAN = (("HeiseiKakuGo-W5", "cp932"), ("STSong-Light", "gbk"), ("HYGothic-Medium", "cp949"))
_EAST_ASIAN_FROM = 0x2E80  # below it, a charset's letters are Latin, Greek and Cyrillic, which we hold
_NUMBERS_SHOWN = 3  # of signs in a row that no font holds; a longer run is counted instead


def clean(text: str) -> str:
    """Return `text` composed (NFC) and on one line, without control, direction or zero-width characters."""
    spaced = "".join(" " if character.isspace() else character for character in text)
    kept = "".join(c for c in spaced if unicodedata.category(c) not in ("Cc", "Cf"))
    return " ".join(unicodedata.normalize("NFC", kept).split())


def printable(text: str) -> str:
    """Return `text` cleaned, with what no font holds written out as [U+1F682] or, when long, counted."""
    pieces: list[str] = []
    unheld: list[str] = []
    for character in clean(text):
        if _font_of(character, bold=False) is None:
            unheld.append(character)
            continue
        pieces += _written_out(unheld)
        unheld.clear()
        pieces.append(character)
    return "".join(pieces + _written_out(unheld))


def width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Return how wide printable `text` runs at `size_pt` points, mm."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    points: float = sum(stringWidth(piece, font, size_pt) for font, piece in runs(text, bold))
    return points / POINTS_PER_MM


def runs(text: str, bold: bool = False) -> list[tuple[str, str]]:
    """Split printable `text` into (font name, piece), each piece held by its font."""
    found: list[tuple[str, str]] = []
    for character in text:
        font = _font_of(character, bold) or (BOLD_LETTERS if bold else LETTERS)
        if found and found[-1][0] == font:
            found[-1] = (font, found[-1][1] + character)
        else:
            found.append((font, character))
    return found


def wrap(
    text: str, size_pt: float, column_mm: float, bold: bool = False, most: int | None = None
) -> list[str]:
    """Break printable text into lines of at most `column_mm`; past `most` lines the last one ends in '…'.

    Words stay whole where they fit in the column at all.
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if width_mm(longer, size_pt, bold) <= column_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        if most is not None and len(lines) > most:
            break
        *full, line = _cut(word, size_pt, column_mm, bold)
        lines += full
    if line:
        lines.append(line)
    if most is not None and len(lines) > most:
        lines = [*lines[: most - 1], shorten(lines[most - 1] + " …", size_pt, column_mm, bold)]
    return lines


def shorten(text: str, size_pt: float, column_mm: float, bold: bool = False) -> str:
    """Return printable `text` on one line of at most `column_mm`, ending in '…' where it had to be cut."""
    if width_mm(text, size_pt, bold) <= column_mm:
        return text
    fits = _longest_start(text, size_pt, column_mm - width_mm("…", size_pt, bold), bold)
    return text[:fits].rstrip(" …") + "…"


def _cut(word: str, size_pt: float, column_mm: float, bold: bool) -> list[str]:
    pieces = []
    while (fits := max(1, _longest_start(word, size_pt, column_mm, bold))) < len(word):
        pieces.append(word[:fits])
        word = word[fits:]
    return [*pieces, word]


def _longest_start(text: str, size_pt: float, column_mm: float, bold: bool) -> int:
    """Return how many characters of `text` fit, by adding widths up until the column is full."""
    used = 0.0
    for count, character in enumerate(text):
        used += width_mm(character, size_pt, bold)
        if used > column_mm:
            return count
    return len(text)


def _written_out(unheld: list[str]) -> list[str]:
    if not unheld:
        return []
    if len(unheld) > _NUMBERS_SHOWN:
        return [f"[{len(unheld)} characters that cannot be printed here: see pack.json]"]
    return [f"[U+{ord(character):04X}]" for character in unheld]


@lru_cache(maxsize=4096)
def _font_of(character: str, bold: bool) -> str | None:
    """Return the font that holds `character`, the embedded letters first, or None."""
    name = BOLD_LETTERS if bold else LETTERS
    if ord(character) in _embedded(name):
        return name
    if ord(character) < _EAST_ASIAN_FROM:
        return None
    for font, charset in EAST_ASIAN:
        try:
            character.encode(charset)
        except UnicodeEncodeError:
            continue
        _register_east_asian(font)
        return font
    return None


@lru_cache(maxsize=2)
def _embedded(name: str) -> frozenset[int]:
    """Register an embedded font once and return the code points that it has a glyph for."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    file = "DejaVuSansCondensed-Bold.ttf" if name == BOLD_LETTERS else "DejaVuSansCondensed.ttf"
    font = TTFont(name, str(Path(__file__).with_name("fonts") / file))
    pdfmetrics.registerFont(font)
    return frozenset(font.face.charToGlyph)


@lru_cache(maxsize=len(EAST_ASIAN))
def _register_east_asian(font: str) -> None:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.cidfonts import UnicodeCIDFont

    pdfmetrics.registerFont(UnicodeCIDFont(font))
