"""The limits of an instrument as its maker or its owner states them: '± 0.3 mm + 0.2 mm/m', '1 %'."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from archive.errors import LengthNotUnderstood
from archive.lengths.grammar import parse_length
from archive.lengths.tokens import LONGEST_TEXT, Unclear, number_in
from archive.lengths.units import UNIT_CALLED, unit_mm

_INSTEAD = "Write it like 0.3 mm + 0.2 mm/m, 2 mm or 1 %."
_PLUS_MINUS = re.compile(r"^\s*(?:±|\+\s?/?\s?[-−])")
_PER = re.compile(r"\s*(?:/|\bper\b)\s*", re.IGNORECASE)
_SHARE = re.compile(r"(?P<figures>[\d.,]+)\s*(?P<sign>%|‰|ppm|per ?cent|percent)", re.IGNORECASE)
_HAS_UNIT = re.compile(r"[^\W\d]|['\"′″’”]")
_PARTS_OF = {"%": 100, "‰": 1000, "ppm": 1_000_000}


@dataclass(frozen=True, slots=True)
class WrittenLimit:
    """Limits that a reading L keeps to: ± (constant_mm + per_mm x L)."""

    as_written: str
    constant_mm: float
    per_mm: float  # mm for each mm read


def parse_limit(text: str) -> WrittenLimit:
    """Return the limits that `text` writes: a length, a share of the reading, or both with a + between.

    Parameters
    ----------
    text : str
        '2 mm', '± 2 mm', '1 %', '50 ppm', '1 mm/m', '1/8 in per 10 ft', '0.3 mm + 0.2 mm/m'.

    Raises
    ------
    LengthNotUnderstood
        If a part is neither a length nor a share, or either is given twice.
    """
    constant_mm: Fraction | None = None
    per_mm: Fraction | None = None
    if len(text) > LONGEST_TEXT:
        raise LengthNotUnderstood(text, "it is too long to be a limit", _INSTEAD, "a limit")
    plain = _PLUS_MINUS.sub("", text).strip()
    if plain.startswith("(") and plain.endswith(")"):
        plain = plain[1:-1]
    for part in plain.split("+"):
        share = _share(text, part.strip())
        if share is not None:
            if per_mm is not None:
                raise LengthNotUnderstood(
                    text, "the share of the reading is given twice", _INSTEAD, "a limit"
                )
            per_mm = share
        else:
            if constant_mm is not None:
                raise LengthNotUnderstood(text, "the fixed part is given twice", _INSTEAD, "a limit")
            constant_mm = _length(text, part.strip())
    if not constant_mm and not per_mm:
        raise LengthNotUnderstood(text, "a limit of nothing leaves no doubt at all", _INSTEAD, "a limit")
    return WrittenLimit(text, float(constant_mm or 0), float(per_mm or 0))


def _share(text: str, part: str) -> Fraction | None:
    if found := _SHARE.fullmatch(part):
        parts = _PARTS_OF.get(found["sign"].casefold(), 100)
        try:
            return number_in(found["figures"].strip()).value / parts
        except (Unclear, ValueError):
            raise LengthNotUnderstood(
                text, f"'{found['figures']}' is not a number", _INSTEAD, "a limit"
            ) from None
    # The last '/' that a unit follows; '1/8 in' holds another one.
    for slash in reversed(list(_PER.finditer(part))):
        below = part[slash.end() :].strip()
        unit = UNIT_CALLED.get(below.casefold().rstrip("."))
        if unit is not None:
            return _length(text, part[: slash.start()]) / unit_mm(unit)
        if _HAS_UNIT.search(below) and _HAS_UNIT.search(part[: slash.start()]):
            reach = _length(text, below)
            if not reach:
                raise LengthNotUnderstood(text, f"'{below}' is no distance", _INSTEAD, "a limit")
            return _length(text, part[: slash.start()]) / reach
    return None


def _length(text: str, part: str) -> Fraction:
    try:
        length = parse_length(part)
    except LengthNotUnderstood as refused:
        raise LengthNotUnderstood(text, refused.why, _INSTEAD, "a limit") from None
    if length.tolerance_mm is not None or not _HAS_UNIT.search(part):
        raise LengthNotUnderstood(text, f"'{part}' is not one length with its unit", _INSTEAD, "a limit")
    return Fraction(length.value_mm)
