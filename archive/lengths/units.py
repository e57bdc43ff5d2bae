"""The units of length that people write, each an exact number of millimetres.

International yard and pound agreement, 1959: 1 in = 25.4 mm exactly. A drawing from elsewhere may
use its own foot (Danish 313.85 mm, French pied 324.84 mm): the readers take `foot_mm` for that.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

INTERNATIONAL_FOOT_MM = Fraction("304.8")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of length; `names` are what it is called, casefolded and without abbreviation points."""

    symbol: str
    mm: Fraction
    metric: bool
    plural: str
    names: frozenset[str]


def _metric(symbol: str, mm: str, stem: str, *others: str) -> Unit:
    spelt = {stem + ending for ending in ("metre", "metres", "meter", "meters")}
    return Unit(symbol, Fraction(mm), True, f"{stem}metres", frozenset(spelt | {symbol, *others}))


def _imperial(symbol: str, feet: str, plural: str, *names: str) -> Unit:
    mm = INTERNATIONAL_FOOT_MM * Fraction(feet)
    return Unit(symbol, mm, False, plural, frozenset({symbol, plural, *names}))


MILLIMETRE = _metric("mm", "1", "milli", "mms")
METRE = _metric("m", "1000", "", "mtr", "mtrs")
FOOT = _imperial("ft", "1", "feet", "foot", "'")
INCH = _imperial("in", "1/12", "inches", "ins", "inch", '"')

UNITS: tuple[Unit, ...] = (
    _metric("km", "1000000", "kilo", "kms"),
    METRE,
    _metric("dm", "100", "deci"),
    _metric("cm", "10", "centi", "cms"),
    MILLIMETRE,
    _metric("μm", "1/1000", "micro", "um", "micron", "microns"),
    _imperial("mile", "5280", "miles", "mi"),
    _imperial("furlong", "660", "furlongs"),
    _imperial("ch", "66", "chains", "chain", "chs"),
    _imperial("fathom", "6", "fathoms", "fm", "fms", "fth", "fthm", "ftm"),
    _imperial("yd", "3", "yards", "yard", "yds"),
    FOOT,
    _imperial("lk", "66/100", "links", "link", "lks"),
    INCH,
    _imperial("thou", "1/12000", "thou", "thous"),
)

UNIT_CALLED: dict[str, Unit] = {name: unit for unit in UNITS for name in unit.names}


def unit_mm(unit: Unit, foot_mm: Fraction = INTERNATIONAL_FOOT_MM) -> Fraction:
    """Return the length of `unit` in mm where a foot is `foot_mm`; metric units are what they are."""
    return unit.mm if unit.metric else unit.mm / INTERNATIONAL_FOOT_MM * foot_mm
