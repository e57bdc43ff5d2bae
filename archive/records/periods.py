"""Times as people remember them: '2023', 'June 2023', 'summer 2023', 'some autumn', '2019 to 2021', 'since May'.

A period is whole days, by the calendar of the place. Seasons are three whole months each; a northern winter and a
southern summer begin in the December of their year. Which half of the world a photo is of, its position or its
place tells; where neither is known, it is taken for the northern.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from archive.errors import NotAccepted

_INSTEAD = "Write it like 2023, June 2023, summer 2023, 2023-06-17, autumn, 2019 to 2021 or since May 2022."
_MONTH_NAMES = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]
_SEASONS = {"spring": 3, "summer": 6, "autumn": 9, "fall": 9, "winter": 12}  # the month that each begins in
_YEARS = range(1800, 2200)

_BEFORE = re.compile(r"(?:before|earlier than)\s+(.+)")
_UNTIL = re.compile(r"(?:until|till|up to|by)\s+(.+)")
_SINCE = re.compile(r"(?:since|from)\s+(.+)|(.+?)\s+(?:or later|onwards?|on)")
_AFTER = re.compile(r"(?:after|later than)\s+(.+)")
_RANGE = re.compile(
    r"(?:from\s+|between\s+)?(.+?)(?:\s+(?:to|until|till|and|through)\s+|\s*[–—]\s*|\s*\.\.\s*|\s+-\s+)(.+)"
)
_SPARE = re.compile(r"^(?:in|on|of|the|some|any|one|every|a|an|early|late|sometime|of)\s+|,")


@dataclass(frozen=True, slots=True)
class Period:
    """From `first` to the day before `beyond` (ISO 8601; None: open), in these months only (1 to 12; none: any)."""

    first: str | None = None
    beyond: str | None = None
    months: frozenset[int] = frozenset()
    south: Period | None = field(
        default=None, compare=False
    )  # the same season in the southern half of the world

    def holds(self, moment: str | None) -> bool:
        """Tell whether a day or a time, ISO 8601, lies in the period."""
        if moment is None:
            return False
        return (
            (self.first is None or moment >= self.first)
            and (self.beyond is None or moment < self.beyond)
            and (not self.months or int(moment[5:7]) in self.months)
        )


def parse_period(text: str, *, today: date | None = None) -> Period:
    """Return the period that `text` means; `today` is what 'last year' counts from.

    Raises `NotAccepted` for what is no time, and for a period that ends before it begins.
    """
    asked = " ".join(text.casefold().split())
    now = today or date.today()
    if found := _RANGE.fullmatch(asked):
        return _range(found[1], found[2], text, now)
    for ends, period in _ONE_ENDED:
        if found := ends.fullmatch(asked):
            one = _single(next(group for group in found.groups() if group), text, now)
            if one.months:
                raise _refused(text)
            return period(one)
    return _single(asked, text, now)


_ONE_ENDED: tuple[tuple[re.Pattern[str], Callable[[Period], Period]], ...] = (
    (_BEFORE, lambda one: Period(None, one.first)),
    (_UNTIL, lambda one: Period(None, one.beyond)),
    (_SINCE, lambda one: Period(one.first, None)),
    (_AFTER, lambda one: Period(one.beyond, None)),
)


def _refused(text: str) -> NotAccepted:
    return NotAccepted(f"'{text[:60]}' was not understood as a time", _INSTEAD)


def _range(first: str, last: str, text: str, now: date) -> Period:
    end = _single(last, text, now)
    if (year := re.search(r"\d{4}", last)) and not re.search(r"\d{4}", first):  # 'June to August 2023'
        first = f"{first} {year[0]}" if re.search(r"[a-z]", first) else re.sub(r"^\d+", first, last)
    begin = _single(first, text, now)
    if begin.months and end.months:  # 'June to August', of any year; 'November to February' goes round
        low, high = _begin_of(begin.months), _end_of(end.months)
        return Period(months=frozenset((low - 1 + n) % 12 + 1 for n in range((high - low) % 12 + 1)))
    if begin.months or end.months:
        raise _refused(text)
    if begin.first is None or end.beyond is None or begin.first >= end.beyond:
        raise NotAccepted(f"'{text[:60]}' ends before it begins", "Write the earlier time first.")
    return Period(begin.first, end.beyond)


def _begin_of(months: frozenset[int]) -> int:
    return next(month for month in months if (month - 2) % 12 + 1 not in months)


def _end_of(months: frozenset[int]) -> int:
    return next(month for month in months if month % 12 + 1 not in months)


def _single(asked: str, text: str, now: date) -> Period:
    asked = _relative(asked.strip(), now)
    while _SPARE.search(asked):
        asked = " ".join(_SPARE.sub(" ", asked, count=1).split())
    for pattern, reader in _READERS:
        if found := pattern.fullmatch(asked):
            try:
                return reader(found)
            except ValueError:  # the 31st of June, the 13th month
                break
    raise _refused(text)


def _relative(asked: str, now: date) -> str:
    """Return 'last summer' and the like by their year."""
    if asked in ("today", "yesterday"):
        return (now - timedelta(days=asked == "yesterday")).isoformat()
    found = re.fullmatch(r"(this|last) (year|month|[a-z]+)", asked)
    if not found:
        return asked
    back, what = found[1] == "last", found[2]
    if what == "year":
        return str(now.year - back)
    if what == "month":
        month = now.replace(day=1) - timedelta(days=1) if back else now
        return f"{month.year}-{month.month:02d}"
    begins = _SEASONS.get(what) or _month(what)
    if begins is None:
        return asked
    return f"{what} {now.year - (back and begins >= now.month) - (begins > now.month and not back and begins == 12)}"


def _months(year: int, month: int, many: int = 1) -> Period:
    if year not in _YEARS:
        raise ValueError(year)
    after = month - 1 + many
    return Period(date(year, month, 1).isoformat(), date(year + after // 12, after % 12 + 1, 1).isoformat())


def _day(year: str, month: int | None, day: str) -> Period:
    if month is None or int(year) not in _YEARS:
        raise ValueError(month)
    one = date(int(year), month, int(day))
    return Period(one.isoformat(), (one + timedelta(days=1)).isoformat())


def _month(name: str) -> int | None:
    """Return the month that a name or its beginning of three letters or more means."""
    name = name.rstrip(".")
    if len(name) < 3:
        return None
    return next((n for n, full in enumerate(_MONTH_NAMES, 1) if full.startswith(name[:9])), None)


def _month_or_season(found: re.Match[str]) -> Period:
    year = int(found[2]) if found.re.groups > 1 else None
    season, month = _SEASONS.get(found[1]), _month(found[1])
    if season is not None:
        return replace(_of_year(year, season, 3), south=_of_year(year, (season + 5) % 12 + 1, 3))
    if month is None:
        raise ValueError(found[1])
    return _of_year(year, month, 1)


def _of_year(year: int | None, begins: int, many: int) -> Period:
    """Return so many months of a year, or of every year."""
    if year is None:
        return Period(months=frozenset((begins - 1 + n) % 12 + 1 for n in range(many)))
    return _months(year, begins, many)


_READERS: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], Period]], ...] = tuple(
    (re.compile(pattern), reader)
    for pattern, reader in (
        (r"(\d{4})", lambda m: _months(int(m[1]), 1, 12)),
        (r"(\d{3}0)'?s", lambda m: _months(int(m[1]), 1, 120)),
        (r"(\d{4})[-/.](\d{1,2})", lambda m: _months(int(m[1]), int(m[2]))),
        (r"(\d{1,2})[/.](\d{4})", lambda m: _months(int(m[2]), int(m[1]))),
        (r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", lambda m: _day(m[1], int(m[2]), m[3])),
        (r"(\d{1,2})(?:st|nd|rd|th)? (?:of )?([a-z]+\.?) (\d{4})", lambda m: _day(m[3], _month(m[2]), m[1])),
        (r"([a-z]+\.?) (\d{1,2})(?:st|nd|rd|th)? (\d{4})", lambda m: _day(m[3], _month(m[1]), m[2])),
        (r"(winter) (\d{4})[-/](?:\d{4}|\d{2})", _month_or_season),
        (r"([a-z]+\.?) (?:of )?(\d{4})", _month_or_season),
        (r"([a-z]+\.?)", _month_or_season),
    )
)
