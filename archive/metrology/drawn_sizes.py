"""The round figures that a works may have drawn for a size: a hint for a person, never part of a sum."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, exp, floor

from archive.lengths import format_feet_inches, format_mm
from archive.metrology.checked import finite, not_negative

MOST = 8  # of more figures than these it says nothing to name one
_INCH_MM = Fraction("25.4")
# What a works draws to: whole feet, inches, half and quarter inches; 25, 10 and 5 mm.
_STEPS_IN = (Fraction(12), Fraction(1), Fraction(1, 2), Fraction(1, 4))
_STEPS_MM = (Fraction(25), Fraction(10), Fraction(5))
_ALL_STEPS_MM = sorted([*(step * _INCH_MM for step in _STEPS_IN), *_STEPS_MM], reverse=True)


@dataclass(frozen=True, slots=True)
class DrawnSize:
    """A round figure in the way that a drawing would give it."""

    value_mm: float
    as_drawn: str  # '1 ft 3½ in', '390 mm'


def likely_drawn(value_mm: float, u_mm: float, interval_95_mm: tuple[float, float]) -> tuple[DrawnSize, ...]:
    """Return the round figures within the interval of a size, the most likely first; none where more than `MOST` are.

    Parameters
    ----------
    value_mm, u_mm : float
        The best figure of a length and its standard uncertainty, mm.
    interval_95_mm : (float, float)
        The ends of its 95 % interval, mm; figures at an end are within.

    Returns
    -------
    tuple of DrawnSize
        A length that is round in feet and in mm is given once, as the rounder of the two.

    Raises
    ------
    CannotEstimate
        'bad-input' for what is no number, 'bad-uncertainty' for a negative uncertainty.

    Notes
    -----
    A figure counts by its step times the normal density of the size there: of the figures of one step that
    a works could have drawn there are the fewer, the rounder they are, so that one falls near by chance the
    more seldom (every kind of round figure taken as drawn equally often).
    """
    value, u = finite("A size", value_mm), not_negative("An uncertainty", u_mm)
    low, high = (finite("An end of the interval", end) for end in interval_95_mm)
    slack = 1e-9 * abs(value)  # so that an end which float sums moved is still within
    if high - low > MOST * _ALL_STEPS_MM[-1]:
        return ()
    steps: dict[Fraction, Fraction] = {}
    for step in _ALL_STEPS_MM:
        first, last = ceil((low - slack) / step), floor((high + slack) / step)
        for times in range(max(first, 1), last + 1):
            steps.setdefault(times * step, step)
    if len(steps) > MOST:
        return ()

    def weight(figure: Fraction) -> float:
        off = float(figure) - value
        return float(steps[figure]) * (exp(-0.5 * (off / u) ** 2) if u else float(abs(off) <= slack))

    ranked = sorted(steps, key=lambda figure: (-weight(figure), abs(float(figure) - value)))
    return tuple(DrawnSize(float(figure), _as_drawn(figure, steps[figure])) for figure in ranked)


def _as_drawn(figure: Fraction, step: Fraction) -> str:
    return (
        format_mm(float(figure)) if step in _STEPS_MM else format_feet_inches(float(figure), step / _INCH_MM)
    )
