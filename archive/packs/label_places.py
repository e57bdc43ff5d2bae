"""Where texts go on a picture so that each can be read: near what it names, on the picture, over nothing else.

Plain geometry: what is drawn there is the caller's part.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, hypot

_CLEAR_PX = 3
_FURTHER_PX = (8, 22, 40, 64, 96, 140)


@dataclass(frozen=True, slots=True)
class Box:
    """A part of a picture, px."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: Box) -> float:
        """Area that both hold, px squared."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        tall = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(0.0, wide) * max(0.0, tall)


class LabelPlaces:
    """The parts of one picture that are taken, and the next free place beside an anchor."""

    def __init__(self, width_px: float, height_px: float) -> None:
        self._width_px, self._height_px = width_px, height_px
        self._taken: list[Box] = []

    def keep_off(self, x_px: float, y_px: float, reach_px: float) -> None:
        """Let no text lie over a point."""
        self._taken.append(Box(x_px - reach_px, y_px - reach_px, x_px + reach_px, y_px + reach_px))

    def keep_off_line(self, start: tuple[float, float], end: tuple[float, float], reach_px: float) -> None:
        """Let no text lie over a straight line."""
        steps = max(1, ceil(hypot(end[0] - start[0], end[1] - start[1]) / (2 * reach_px)))
        for n in range(steps + 1):
            x, y = (a + (b - a) * n / steps for a, b in zip(start, end, strict=True))
            self.keep_off(x, y, reach_px)

    def place(self, x_px: float, y_px: float, wide_px: float, tall_px: float) -> Box:
        """Return where a text goes, and take that place: the nearest free one, else where it covers least."""
        tried = [self._on_the_picture(box) for box in _beside(x_px, y_px, wide_px, tall_px)]
        best = min(
            tried, key=lambda box: sum(box.overlap(other) for other in self._taken)
        )  # the first of equals
        self._taken.append(
            Box(best.left - _CLEAR_PX, best.top - _CLEAR_PX, best.right + _CLEAR_PX, best.bottom + _CLEAR_PX)
        )
        return best

    def _on_the_picture(self, box: Box) -> Box:
        wide, tall = box.right - box.left, box.bottom - box.top
        left = max(_CLEAR_PX, min(box.left, self._width_px - wide - _CLEAR_PX))
        top = max(_CLEAR_PX, min(box.top, self._height_px - tall - _CLEAR_PX))
        return Box(left, top, left + wide, top + tall)


def _beside(x: float, y: float, wide: float, tall: float) -> Iterator[Box]:
    """Places for a text about a point, nearer ones first: beside, below and above it."""
    for off in _FURTHER_PX:
        for left, top in (
            (x + off, y + off),
            (x + off, y - off - tall),
            (x - off - wide, y + off),
            (x - off - wide, y - off - tall),
            (x + off, y - tall / 2),
            (x - off - wide, y - tall / 2),
            (x - wide / 2, y + off),
            (x - wide / 2, y - off - tall),
        ):
            yield Box(left, top, left + wide, top + tall)
