"""What people write to look for a size: 'post height 2.5 to 3 m', 'over 4 m', 'about 2.7 m'."""

from __future__ import annotations

import re
from dataclasses import dataclass

from archive.errors import LengthNotUnderstood
from archive.lengths.grammar import parse_length
from archive.lengths.tokens import LONGEST_TEXT
from archive.lengths.units import UNIT_CALLED

ABOUT = 0.05  # 'about' looks this much to either side, or one written step where that is more
_INSTEAD = "Write it like post height 2.5 to 3 m, over 4 m or about 2.7 m."

_AT_LEAST = "at least|no less than|not less than|minimum|min|over|above|more than|greater than|exceeding"
_AT_LEAST += (
    "|longer than|taller than|wider than|higher than|deeper than|thicker than|bigger than|larger than"
)
_AT_MOST = "at most|no more than|not more than|maximum|max|up to|under|below|less than"
_AT_MOST += "|shorter than|narrower than|lower than|thinner than|smaller than"
_LOW_FIRST = re.compile(rf"(?:(?:{_AT_LEAST})\b|>=?|≥)\.? *(?P<length>.+)", re.IGNORECASE)
_HIGH_FIRST = re.compile(rf"(?:(?:{_AT_MOST})\b|<=?|≤)\.? *(?P<length>.+)", re.IGNORECASE)
_JOINING = frozenset(
    ["to", "and", "or", "between", "from", "about", "circa", "ca", "c", "approx", "plus", "minus"]
)
_STARTS = re.compile(r"(?:(?<=[\s:=])|^|(?=[<>≤≥~≈]))(?<![<>])\S")
_LOW_LAST = re.compile(
    r"(?P<length>.+?) (?:or|and) (?:more|over|above|longer|larger|up|upwards)", re.IGNORECASE
)
_HIGH_LAST = re.compile(r"(?P<length>.+?) (?:or|and) (?:less|under|below|shorter|smaller)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SizeRange:
    """The sizes that somebody looks for, mm; an open end is None."""

    as_written: str
    label: str  # 'post height', or '' for any size
    low_mm: float | None
    high_mm: float | None


def parse_size_range(text: str) -> SizeRange:
    """Return the label and the range of sizes that `text` asks for.

    Parameters
    ----------
    text : str
        An optional label, then '2.5 to 3 m', '2.7 m ± 5 cm', 'about 2.7 m' (5 % or one written step
        to either side, whichever is more), 'over 4 m', 'at most 4ft', or a plain '2.7 m' (half a
        written step to either side).

    Returns
    -------
    SizeRange
        Its ends in mm; None where it is open.

    Raises
    ------
    LengthNotUnderstood
        If no condition is found at the end of the text, or it has no single meaning.
    """
    if len(text) > LONGEST_TEXT:
        raise _refused(text, f"it is {len(text)} characters long, far more than one size needs")
    reason = ""
    for start in _STARTS.finditer(text):
        label, condition = text[: start.start()].rstrip(":= ").strip(), text[start.start() :].strip()
        if label and not _ends_like_a_label(label):
            continue
        try:
            low_mm, high_mm = _condition(condition)
        except LengthNotUnderstood as refused:
            # The reason to show is that of the part with the figures, not of a label.
            if not reason and re.match(
                rf"[-−]?\d|[<>≤≥]|(?:{_AT_LEAST}|{_AT_MOST})\b", condition, re.IGNORECASE
            ):
                reason = refused.why
            continue
        return SizeRange(text, label, low_mm, high_mm)
    raise _refused(text, reason or "no size is written there")


def _refused(text: str, why: str) -> LengthNotUnderstood:
    return LengthNotUnderstood(text, why, _INSTEAD, "a size to look for")


def _ends_like_a_label(label: str) -> bool:
    """Whether the last word is a name, and not a piece of the size that could not be read whole."""
    last = label.split()[-1].casefold()
    comparing = re.search(rf"(?:^|\s)(?:{_AT_LEAST}|{_AT_MOST})$", label, re.IGNORECASE)
    return last.isalpha() and last not in UNIT_CALLED and last not in _JOINING and not comparing


def _condition(text: str) -> tuple[float | None, float | None]:
    if found := _LOW_FIRST.fullmatch(text) or _LOW_LAST.fullmatch(text):
        return _end(found["length"]), None
    if found := _HIGH_FIRST.fullmatch(text) or _HIGH_LAST.fullmatch(text):
        return None, _end(found["length"])
    length = parse_length(text)
    low_mm = length.value_mm if length.low_mm is None else length.low_mm
    high_mm = length.value_mm if length.high_mm is None else length.high_mm
    if length.low_mm is None:
        spare_mm = length.half_width_mm
        if length.approximate and length.tolerance_mm is None:
            spare_mm = max(spare_mm, ABOUT * length.value_mm)
        return max(low_mm - spare_mm, 0.0), high_mm + spare_mm
    if length.approximate:
        return low_mm * (1 - ABOUT), high_mm * (1 + ABOUT)
    return low_mm, high_mm


def _end(text: str) -> float:
    length = parse_length(text)
    if length.low_mm is not None:
        raise _refused(text, "one end is asked for and a range is given")
    return length.value_mm
