"""From millimetres to what is written: whole steps in, no rounding to any doubt (that is `wording`)."""

from __future__ import annotations

from fractions import Fraction

_INCH_MM = Fraction("25.4")
_SINGLE_CHARACTER = {
    (1, 2): "½",
    (1, 4): "¼",
    (3, 4): "¾",
    (1, 8): "⅛",
    (3, 8): "⅜",
    (5, 8): "⅝",
    (7, 8): "⅞",
}


def format_mm(value_mm: float, decimals: int = 0) -> str:
    """Return '2743 mm' or '62.5 mm': to so many decimals, or to tens (-1), hundreds (-2)... of mm."""
    return f"{rounded(value_mm, decimals)} mm"


def rounded(value: float, decimals: int) -> str:
    """Return the number to `decimals` places, or to tens (-1), hundreds (-2)...; the unit is the caller's."""
    number = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return number.removeprefix("-") if float(number) == 0 else number


def format_inches(inches: Fraction) -> str:
    """Return '8', '8½' or '8 3/16', a number of inches without its mark."""
    whole, part = divmod(inches.numerator, inches.denominator)
    if not part:
        return str(whole)
    if (part, inches.denominator) in _SINGLE_CHARACTER:
        return f"{whole or ''}{_SINGLE_CHARACTER[part, inches.denominator]}"
    return f"{whole or ''} {part}/{inches.denominator}".strip()


def format_feet_inches(value_mm: float, step_in: Fraction = Fraction(1, 16)) -> str:
    """Return '9 ft 0 in', '8½ in' or '12 ft': to the nearest `step_in`, twelve inches carried into feet.

    Parameters
    ----------
    value_mm : float
        A length, mm, not negative; halfway between two steps it goes to the even one.
    step_in : Fraction
        The step shown, inches: 1/16, 1/8, 1/4, 1/2, 1, or 12 for whole feet.
    """
    steps = round(Fraction(value_mm) / (_INCH_MM * step_in))
    parts = step_in.denominator  # of an inch
    feet, rest = divmod(steps * step_in.numerator, 12 * parts)
    if step_in >= 12:
        return f"{feet} ft"
    shown = format_inches(Fraction(rest, parts))
    if not feet:
        return f"{shown} in"
    if 0 < rest < parts:  # '1 ft 0½ in', so that the fraction cannot be taken for one of a foot
        shown = f"0 {shown}" if "/" in shown else f"0{shown}"
    return f"{feet} ft {shown} in"
