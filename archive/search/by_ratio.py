"""Finding by proportion: 'height to width about 2 to 1', judged with the doubt that both sizes have."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from math import erf, inf, sqrt

from archive import wording
from archive.errors import NotAccepted
from archive.metrology.sources import Doubtful, covariance
from archive.records.changes import Look
from archive.records.finding.sizes import SizeRow, lengths_called
from archive.records.ledgers import estimate_ledgers
from archive.search.by_size import POSSIBLE, labels_meant
from archive.search.words import plain_words, root

_ABOUT = 0.10  # 'about 2 to 1' takes a tenth to either side
_PLAIN = 0.05  # '2 to 1' a twentieth
_NUMBER = r"\d+(?:\.\d+)?"
_ONE = rf"(?P<a>{_NUMBER})(?:\s*(?:to|:|/)\s*(?P<b>{_NUMBER}))?"
_TWO = rf"(?P<c>{_NUMBER})(?:\s*(?:to|:|/)\s*(?P<d>{_NUMBER}))?"
_TO = r"(?:\s+to\s+|\s*[:/]\s*)"
_OVER = (
    r"\s+(?:over|against|by)\s+"  # only where there is no 'to': a label may hold these, 'length over walls'
)
_TOLD = (
    ("between", rf"\s+between\s+{_ONE}\s+and\s+{_TWO}"),
    ("least", rf"\s+(?:over|above|at least|more than|>=?|≥)\s*{_ONE}"),
    ("most", rf"\s+(?:under|below|at most|less than|<=?|≤)\s*{_ONE}"),
    ("about", rf"\s+(?:about|circa|ca\.?|roughly|~|≈)\s*{_ONE}"),
    ("plain", rf"\s*(?:=|\s)\s*{_ONE}"),
)
_FORMS = tuple(
    (
        form,
        re.compile(rf"(?P<first>[^\W\d][^:/]*?){between}(?P<second>[^\W\d].*?){told}", re.IGNORECASE),
    )
    for between in (_TO, _OVER)
    for form, told in _TOLD
)


@dataclass(frozen=True, slots=True)
class RatioRange:
    """A proportion that somebody looks for: of which size to which, and its ends (None: open)."""

    as_written: str
    first: str
    second: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class RatioFound:
    """Two sizes of one subject whose proportion may be the one asked for."""

    asked: RatioRange
    first: SizeRow
    second: SizeRow
    ratio: float
    u_ratio: float
    in_range_probability: float

    @property
    def likelihood(self) -> str:
        """The probability in words."""
        return wording.likelihood(self.in_range_probability)


def parse_ratio(text: str) -> RatioRange:
    """Return the proportion that 'height to width about 2 to 1', 'length to width over 3' ask for.

    'About' takes a tenth to either side, a plain proportion a twentieth. Raises `NotAccepted`.
    """
    for form, pattern in _FORMS:
        found = pattern.fullmatch(" ".join(text.split()))
        if found is None or not (float(found["a"]) and float(found["b"] or 1)):
            continue
        one = float(found["a"]) / float(found["b"] or 1)
        low: float | None = one
        high: float | None = one
        if form == "between":
            other = float(found["c"]) / float(found["d"] or 1) if float(found["d"] or 1) else inf
            low, high = min(one, other), max(one, other)
        elif form == "least":
            high = None
        elif form == "most":
            low = None
        else:
            spare = _ABOUT if form == "about" else _PLAIN
            low, high = one * (1 - spare), one * (1 + spare)
        return RatioRange(text, found["first"].strip(), found["second"].strip(), low, high)
    raise NotAccepted(
        f"'{text[:60]}' was not understood as a proportion", "Write it like height to width about 2 to 1."
    )


@dataclass(frozen=True, slots=True)
class AskedRatio:
    """A proportion that somebody looks for, and the keys of the labels that its two sizes mean (None: any)."""

    range: RatioRange
    firsts: list[str] | None
    seconds: list[str] | None


def read_ratio(text: str, labels_in_use: Mapping[str, str]) -> AskedRatio:
    """Return what a proportion asks for; raises `NotAccepted`, or `RecordNotFound` for an unknown label."""
    asked = parse_ratio(text)
    return AskedRatio(
        asked, labels_meant(asked.first, labels_in_use), labels_meant(asked.second, labels_in_use)
    )


def ratio_asked_for(
    look: Look, ratio: AskedRatio, among: Collection[int] | None = None
) -> dict[int, RatioFound]:
    """Return the subjects that may have the proportion, by key, each with its likeliest pair of sizes.

    Two sizes are set against each other where both are of one state, and of one part where the labels
    asked for name none ('door height' and 'door width').
    """
    asked = ratio.range
    any_part = len(plain_words(asked.first)) == 1 and len(plain_words(asked.second)) == 1
    candidates = _pairs(
        lengths_called(look, ratio.firsts, among), lengths_called(look, ratio.seconds, among), any_part
    )
    pairs = [(first, second) for first, second in candidates if _may_be(asked, first, second)]
    ledgers = estimate_ledgers(look, {size.estimate_key for pair in pairs for size in pair})
    best: dict[int, RatioFound] = {}
    for first, second in pairs:
        found = _judged(asked, first, second, ledgers[first.estimate_key], ledgers[second.estimate_key])
        held = best.get(first.subject_key)
        if found.in_range_probability >= POSSIBLE and (
            held is None or held.in_range_probability < found.in_range_probability
        ):
            best[first.subject_key] = found
    return best


def _pairs(
    firsts: Iterable[SizeRow], seconds: Iterable[SizeRow], same_part: bool
) -> Iterable[tuple[SizeRow, SizeRow]]:
    by_subject: dict[tuple[int, str], list[SizeRow]] = defaultdict(list)
    for second in seconds:
        by_subject[second.subject_key, second.state].append(second)
    for first in firsts:
        for second in by_subject[first.subject_key, first.state]:
            if first.dimension_key == second.dimension_key or second.value <= 0:
                continue
            if not same_part or _part(first.label) == _part(second.label):
                yield first, second


def _part(label: str) -> tuple[str, ...]:
    return tuple(root(word) for word in plain_words(label)[:-1])


def _may_be(asked: RatioRange, first: SizeRow, second: SizeRow) -> bool:
    """Tell whether any values within the intervals, twice as wide for safety, have the proportion."""
    reach = [max(size.high_95 - size.value, size.value - size.low_95) * 2 for size in (first, second)]
    least = (first.value - reach[0]) / (second.value + reach[1])
    most = (first.value + reach[0]) / max(second.value - reach[1], 1e-9)
    return (asked.high is None or least <= asked.high) and (asked.low is None or most >= asked.low)


def _judged(asked: RatioRange, first: SizeRow, second: SizeRow, one: Doubtful, other: Doubtful) -> RatioFound:
    shared = covariance(one, other)
    u_first, u_second = first.standard_uncertainty, second.standard_uncertainty

    def at_least(end: float) -> float:
        """Return the probability that first >= end * second: a sum of normals is normal."""
        variance = u_first**2 + (end * u_second) ** 2 - 2 * end * shared
        over = first.value - end * second.value
        if variance <= 0:
            return 1.0 if over >= 0 else 0.0
        return 0.5 * (1 + erf(over / sqrt(2 * variance)))

    over_low = 1.0 if asked.low is None else at_least(asked.low)
    over_high = 0.0 if asked.high is None else at_least(asked.high)
    if asked.high is not None and u_first == u_second == 0 and first.value == asked.high * second.value:
        over_high = 0.0
    ratio = first.value / second.value
    variance = u_first**2 + (ratio * u_second) ** 2 - 2 * ratio * shared
    return RatioFound(
        asked, first, second, ratio, sqrt(max(variance, 0.0)) / second.value, max(over_low - over_high, 0.0)
    )
