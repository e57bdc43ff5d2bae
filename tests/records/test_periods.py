"""Times as people write them, read as days; right values counted off on the calendar."""

from __future__ import annotations

from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import NotAccepted
from archive.records.periods import Period, parse_period

TODAY = date(2024, 8, 20)


@pytest.mark.parametrize(
    ("written", "first", "beyond"),
    [
        ("2023", "2023-01-01", "2024-01-01"),
        ("in 2023", "2023-01-01", "2024-01-01"),
        ("June 2023", "2023-06-01", "2023-07-01"),
        ("jun 2023", "2023-06-01", "2023-07-01"),
        ("Sept. 2023", "2023-09-01", "2023-10-01"),
        ("2023-06", "2023-06-01", "2023-07-01"),
        ("06/2023", "2023-06-01", "2023-07-01"),
        ("December 2023", "2023-12-01", "2024-01-01"),
        ("2023-06-17", "2023-06-17", "2023-06-18"),
        ("17 June 2023", "2023-06-17", "2023-06-18"),
        ("17th of June 2023", "2023-06-17", "2023-06-18"),
        ("June 17, 2023", "2023-06-17", "2023-06-18"),
        ("29 Feb 2024", "2024-02-29", "2024-03-01"),
        ("summer 2023", "2023-06-01", "2023-09-01"),
        ("Spring of 2023", "2023-03-01", "2023-06-01"),
        ("fall 2023", "2023-09-01", "2023-12-01"),
        ("winter 2023", "2023-12-01", "2024-03-01"),
        ("winter 2023/24", "2023-12-01", "2024-03-01"),
        ("the 1990s", "1990-01-01", "2000-01-01"),
        ("2023-06 to 2024", "2023-06-01", "2025-01-01"),
        ("2019 to 2021", "2019-01-01", "2022-01-01"),
        ("2019 – 2021", "2019-01-01", "2022-01-01"),
        ("between 2019 and 2021", "2019-01-01", "2022-01-01"),
        ("June to August 2023", "2023-06-01", "2023-09-01"),
        ("from 2023-06-17 to 2023-06-19", "2023-06-17", "2023-06-20"),
        ("2023-06-17 to 2023-06-17", "2023-06-17", "2023-06-18"),
        ("17 to 19 June 2023", "2023-06-17", "2023-06-20"),
        ("28 December 2022 to 3 January 2023", "2022-12-28", "2023-01-04"),
        ("before 2020", None, "2020-01-01"),
        ("until 2020", None, "2021-01-01"),
        ("since May 2022", "2022-05-01", None),
        ("from 2022", "2022-01-01", None),
        ("2022 onwards", "2022-01-01", None),
        ("after 2020", "2021-01-01", None),
        ("today", "2024-08-20", "2024-08-21"),
        ("yesterday", "2024-08-19", "2024-08-20"),
        ("last year", "2023-01-01", "2024-01-01"),
        ("this year", "2024-01-01", "2025-01-01"),
        ("last month", "2024-07-01", "2024-08-01"),
        ("last autumn", "2023-09-01", "2023-12-01"),
        ("last spring", "2024-03-01", "2024-06-01"),
    ],
)
def test_a_time_is_read_as_whole_days(written: str, first: str | None, beyond: str | None) -> None:
    assert parse_period(written, today=TODAY) == Period(first, beyond)


@pytest.mark.parametrize(
    ("written", "months"),
    [
        ("autumn", {9, 10, 11}),
        ("some autumn", {9, 10, 11}),
        ("any winter", {12, 1, 2}),
        ("June", {6}),
        ("June to August", {6, 7, 8}),
        ("November to February", {11, 12, 1, 2}),
        ("winter to spring", {12, 1, 2, 3, 4, 5}),
    ],
)
def test_a_season_without_a_year_is_that_of_any_year(written: str, months: set[int]) -> None:
    period = parse_period(written)

    assert period == Period(months=frozenset(months))
    assert period.holds("1987-10-03T11:00:00") == (10 in months)
    assert not period.holds(None)


@pytest.mark.parametrize(
    "written",
    [
        "", "x", "soon", "31 June 2023", "2023-13", "29 Feb 2023", "99999", "0001", "2024 to 2023",
        "since June", "before", "1 2 3", "to", "٢٠٢٣x", "2023 to", "ma", "20230617",
    ],
)  # fmt: skip
def test_what_is_no_time_is_refused(written: str) -> None:
    with pytest.raises(NotAccepted):
        parse_period(written, today=TODAY)


@given(st.dates(date(1900, 1, 1), date(2100, 12, 31)))
def test_a_day_lies_in_its_own_day_month_and_year_and_not_in_the_day_before(day: date) -> None:
    for written in (day.isoformat(), f"{day:%d %B %Y}", f"{day:%B %Y}", f"{day:%Y-%m}", str(day.year)):
        assert parse_period(written).holds(f"{day.isoformat()}T23:59:59"), written
    assert not parse_period(f"before {day.isoformat()}").holds(day.isoformat())
    assert parse_period(f"until {day.isoformat()}").holds(f"{day.isoformat()}T23:59:59")


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    with suppress(NotAccepted):
        parse_period(text, today=TODAY)
