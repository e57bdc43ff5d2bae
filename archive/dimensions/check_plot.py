"""A small plot of an instrument's checks: how far off it read, and what is believed between and beyond."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10
from pathlib import Path
from xml.sax.saxutils import escape

from archive.dimensions.checking import InstrumentSheet
from archive.errors import CouldNotWrite, NotAccepted
from archive.records.things import Check
from archive.wording import counted

_WIDTH, _HEIGHT = 560, 320
_LEFT, _RIGHT, _TOP, _BOTTOM = 64, 16, 40, 48
_INK, _FAINT, _BAND, _LINE = "#333333", "#bbbbbb", "#cfe3dc", "#2f6f5e"


def svg_of(sheet: InstrumentSheet) -> str:
    """Return the plot as an SVG document: error, mm, against true length, m; the band holds 95 in 100."""
    frame = _Frame(sheet)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" '
        f'width="{_WIDTH}" height="{_HEIGHT}" font-family="sans-serif" font-size="12" fill="{_INK}">',
        f"<title>{escape(_title(sheet))}</title>",
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="white"/>',
        f'<text x="{_LEFT}" y="22" font-size="14">{escape(_title(sheet))}</text>',
        *frame.band(sheet.curve),
        *frame.axes(),
        *frame.line(sheet.curve),
        *(part for check in sheet.checks for part in frame.check(check)),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def write_plot(sheet: InstrumentSheet, path: Path) -> None:
    """Write the plot into a new file; raises `NotAccepted` where there is one, `CouldNotWrite` where it cannot be."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(svg_of(sheet))
    except FileExistsError as error:
        raise NotAccepted(f"'{path}' is there already and was left as it is", "Name a new file.") from error
    except (OSError, ValueError) as error:
        raise CouldNotWrite(str(path), getattr(error, "strerror", None) or str(error)) from error


def _title(sheet: InstrumentSheet) -> str:
    count = len(sheet.checks)
    checked = counted(count, "check", "checks") if count else "unchecked"
    return f"{sheet.instrument.name}: {checked}"


class _Frame:
    """The plot's scales: lengths along, errors upwards."""

    def __init__(self, sheet: InstrumentSheet) -> None:
        ends = [check.reference_mm for check in sheet.checks] + [x for x, _, _ in sheet.curve]
        errors = [0.0]
        errors += [check.reading_mm - check.reference_mm for check in sheet.checks]
        errors += [e + sign * half for _, e, half in sheet.curve for sign in (-1, 1)]
        self._longest = 1.05 * max(ends, default=1000.0)
        room = 0.08 * (max(errors) - min(errors)) or 1.0
        self._low, self._high = min(errors) - room, max(errors) + room

    def x(self, length_mm: float) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * length_mm / self._longest

    def y(self, error_mm: float) -> float:
        share = (error_mm - self._low) / (self._high - self._low)
        return _HEIGHT - _BOTTOM - (_HEIGHT - _TOP - _BOTTOM) * share

    def band(self, curve: Sequence[tuple[float, float, float]]) -> list[str]:
        if not curve:
            return []
        there = [(x, error + half) for x, error, half in curve]
        back = [(x, error - half) for x, error, half in reversed(curve)]
        return [f'<polygon points="{self._points(there + back)}" fill="{_BAND}"/>']

    def line(self, curve: Sequence[tuple[float, float, float]]) -> list[str]:
        if not curve:
            return []
        points = self._points([(x, error) for x, error, _ in curve])
        return [f'<polyline points="{points}" fill="none" stroke="{_LINE}" stroke-width="2"/>']

    def check(self, check: Check) -> list[str]:
        x, y = self.x(check.reference_mm), self.y(check.reading_mm - check.reference_mm)
        said = f"{check.reading_as_written} read of {check.reference_as_written}"
        said += f" on {check.taken_on}" if check.taken_on else ""
        return [
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{_INK}"><title>{escape(said)}</title></circle>'
        ]

    def axes(self) -> list[str]:
        bottom, right = _HEIGHT - _BOTTOM, _WIDTH - _RIGHT
        parts = [
            f'<line x1="{_LEFT}" y1="{self.y(0):.1f}" x2="{right}" y2="{self.y(0):.1f}" stroke="{_INK}"/>',
            f'<line x1="{_LEFT}" y1="{_TOP}" x2="{_LEFT}" y2="{bottom}" stroke="{_FAINT}"/>',
            f'<line x1="{_LEFT}" y1="{bottom}" x2="{right}" y2="{bottom}" stroke="{_FAINT}"/>',
            f'<text x="{right}" y="{bottom + 36}" text-anchor="end">true length, m</text>',
            f'<text x="{_LEFT}" y="{_TOP - 4}" text-anchor="middle">reads long by, mm</text>',
        ]
        for length in _ticks(0.0, self._longest / 1000):
            x = self.x(1000 * length)
            parts.append(f'<text x="{x:.1f}" y="{bottom + 18}" text-anchor="middle">{length:g}</text>')
        for error in _ticks(self._low, self._high):
            parts.append(
                f'<text x="{_LEFT - 8}" y="{self.y(error) + 4:.1f}" text-anchor="end">{error:g}</text>'
            )
        return parts

    def _points(self, points: Sequence[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(length):.1f},{self.y(error):.1f}" for length, error in points)


def _ticks(low: float, high: float) -> list[float]:
    """Round figures between the ends, four to nine of them."""
    step = 10.0 ** floor(log10((high - low) / 4))
    for times in (5, 2):
        if (high - low) / (times * step) >= 4:
            step *= times
            break
    return [round(n * step, 9) for n in range(ceil(low / step), floor(high / step) + 1)]
