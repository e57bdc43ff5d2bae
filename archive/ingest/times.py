"""Dates as cameras write them: local, without a zone, and not always possible."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

_TO_THE_MINUTE = r"(?<=T\d\d:\d\d)(?=Z|[+-]|$)"  # ISO 8601 allows it, EXIF does not
_DATE_TIME = re.compile(
    rf"(\d{{4}})[:\-/.](\d\d?)[:\-/.](\d\d?)[T ]+(\d\d?):(\d\d?)(?::(\d\d?)|{_TO_THE_MINUTE})"
)
_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)")
_FIRST_YEAR = 1826  # of the oldest photograph that is left
_QUARTER_S = 15 * 60


@dataclass(frozen=True, slots=True)
class Moment:
    """A date as written; `local` is None when it is unset or impossible, `why_not` says which."""

    as_read: str | None
    local: datetime | None
    why_not: str | None  # None too when the date was simply never set


def moment(as_read: str | None) -> Moment:
    """Read 'YYYY:MM:DD HH:MM:SS' and its ISO 8601 form. Blanks or zeros are a clock that was never set."""
    if as_read is None or not re.search(r"[1-9]", as_read):
        return Moment(as_read, None, None)
    found = _DATE_TIME.match(as_read.strip())
    if found is None:
        return Moment(as_read, None, "it is not written as a date and time")
    year, month, day, hour, minute, second = map(int, found.groups("0"))
    if hour > 23:
        return Moment(as_read, None, f"hour {hour}")
    try:
        local = datetime(year, month, day, hour, minute, second)
    except ValueError:
        return Moment(as_read, None, "there is no such day or time")
    if year < _FIRST_YEAR:
        return Moment(as_read, None, f"year {year}")
    return Moment(as_read, local, None)


def offset(text: str | None) -> str | None:
    """A zone offset '+HH:MM' as EXIF writes it ('Z' is '+00:00'); None when blank or impossible."""
    if text is None:
        return None
    if text.strip() == "Z":
        return "+00:00"
    found = _OFFSET.fullmatch(text.strip())
    if found is None or int(found[2]) > 14 or int(found[3]) > 59:
        return None
    return f"{found[1]}{found[2]}:{found[3]}"


def offset_at_end(text: str) -> str | None:
    """The offset at the end of an ISO 8601 time."""
    found = re.search(r"(Z|[+-]\d\d:?\d\d)\s*$", text)
    return offset(found[1]) if found else None


def gps_utc(date: str | None, clock: tuple[float | None, ...]) -> datetime | None:
    """The satellite time of a photo, UTC, from its date stamp and its hours, minutes, seconds."""
    found = re.fullmatch(r"(\d{4})[:\-](\d\d?)[:\-](\d\d?)", (date or "").strip())
    if found is None or len(clock) != 3:
        return None
    hour, minute, second = clock
    if (
        hour is None
        or minute is None
        or second is None
        or not 0 <= hour < 24
        or not 0 <= minute < 60
        or not 0 <= second < 61
    ):
        return None
    try:
        day = datetime(int(found[1]), int(found[2]), int(found[3]), tzinfo=UTC)
        return day + timedelta(hours=hour, minutes=minute, seconds=second)
    except (ValueError, OverflowError):
        return None


# Quarters of an hour from UTC that clocks are set to somewhere: whole hours, and these.
_ODD_QUARTERS = frozenset({-38, -14, 14, 18, 22, 23, 26, 35, 38, 42, 51, 55})
_IN_USE = _ODD_QUARTERS | set(range(-48, 57, 4))


def offset_from_gps(local: datetime, utc: datetime) -> str | None:
    """The zone offset that makes a local time and satellite time agree, of those in use anywhere.

    None when they are more than 5 minutes off any: an old fix, or a wrong clock.
    """
    seconds = (local.replace(tzinfo=UTC) - utc).total_seconds()
    quarters = round(seconds / _QUARTER_S)
    if abs(seconds - quarters * _QUARTER_S) > 300 or quarters not in _IN_USE:
        return None
    minutes = abs(quarters) * 15
    return f"{'-' if quarters < 0 else '+'}{minutes // 60:02}:{minutes % 60:02}"
