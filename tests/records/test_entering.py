"""What a person enters is checked before anything is written."""

import pytest

from archive.errors import NotAccepted
from archive.records.entering import check_view, check_zone, parse_day, parse_days


def test_a_zone_that_is_not_one_is_refused_with_a_near_name() -> None:
    with pytest.raises(NotAccepted, match=r"no time zone called 'Europe/Lundon'.*Europe/London"):
        check_zone("Europe/Lundon")


@pytest.mark.parametrize("zone", ["", "..", "/etc/passwd", "Europe", "\x00", "x" * 5000])
def test_whatever_is_typed_as_a_zone_is_a_zone_or_refused(zone: str) -> None:
    with pytest.raises(NotAccepted):
        check_zone(zone)


def test_days_are_read_as_people_write_them() -> None:
    assert parse_day("2023-06-17") == parse_day("17 June 2023") == parse_day("17 jun. 2023") == "2023-06-17"
    assert parse_days("2023-06-17 to 18 June 2023") == ("2023-06-17", "2023-06-18")


@pytest.mark.parametrize("text", ["", "June", "31 June 2023", "2023-13-01", "17/6/2023", "17 June 0"])
def test_what_is_no_day_is_refused_with_how_to_write_it(text: str) -> None:
    with pytest.raises(NotAccepted, match="2023-06-17 or 17 June 2023"):
        parse_day(text)


def test_days_that_end_before_they_begin_are_refused() -> None:
    with pytest.raises(NotAccepted, match="ends before it begins"):
        parse_days("2023-06-18 to 2023-06-17")
    with pytest.raises(NotAccepted, match="Write both days whole, like 17 June 2023 to 19 June 2023"):
        parse_days("17 to 19 June 2023")


def test_a_view_may_be_shortened_but_not_invented() -> None:
    assert check_view("Left") == "left side"
    assert check_view("three quarter") == "three-quarter"
    with pytest.raises(NotAccepted, match="The views are: front, rear"):
        check_view("sideways")
