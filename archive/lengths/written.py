"""What a piece of writing means: a length, a size to look for, the limits of an instrument, a quantity."""

from __future__ import annotations

from typing import NamedTuple


class WrittenLength(NamedTuple):
    """A length as somebody wrote it down, and what it means; all in mm of the real thing."""

    as_written: str  # character for character, never tidied
    value_mm: float  # the middle, where a range was written
    resolution_mm: float | None = None  # the smallest step that the writing can show; None for a range
    tolerance_mm: float | None = None  # half-width, where the writing gives one ('± 5', '4 to 6')
    low_mm: float | None = None  # the ends of a range, else None
    high_mm: float | None = None
    approximate: bool = False  # 'about', '~'

    @property
    def half_width_mm(self) -> float:
        """The limits, plus or minus, that the writing itself sets, mm.

        A written tolerance is used as it stands; 'about' alone is one written step, and a plain
        figure half a step. A rectangular distribution between these limits has a standard
        uncertainty of the half-width over the square root of 3 (JCGM 100:2008, 4.3.7).
        """
        if self.tolerance_mm is not None:
            return self.tolerance_mm
        step = self.resolution_mm or 0.0
        return step if self.approximate else step / 2
