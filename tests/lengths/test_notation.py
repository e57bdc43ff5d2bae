"""Millimetres written out again: feet, inches and fractions, and back to half the step shown."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.lengths import format_feet_inches, format_mm, parse_length

STEPS_IN = [Fraction(1, 16), Fraction(1, 8), Fraction(1, 4), Fraction(1, 2), Fraction(1), Fraction(12)]


@pytest.mark.parametrize(
    ("value_mm", "step_in", "written"),
    [
        (2743.2, Fraction(1, 16), "9 ft 0 in"),
        (1435.1, Fraction(1, 16), "4 ft 8½ in"),
        (1435.1, Fraction(1), "4 ft 8 in"),  # 56.5 in lies halfway and goes to the even inch
        (304.7, Fraction(1, 8), "1 ft 0 in"),  # 11.996 in: twelve inches are carried
        (15.875, Fraction(1, 16), "⅝ in"),
        (4.7625, Fraction(1, 16), "3/16 in"),
        (309.5625, Fraction(1, 16), "1 ft 0 3/16 in"),
        (215.9, Fraction(1, 2), "8½ in"),
        (0.0, Fraction(1, 16), "0 in"),
        (3700.0, Fraction(12), "12 ft"),
    ],
)
def test_feet_and_inches_are_written_to_the_step(value_mm, step_in, written):
    assert format_feet_inches(value_mm, step_in) == written


@pytest.mark.parametrize(
    ("value_mm", "decimals", "written"),
    [
        (2743.2, 0, "2743 mm"),
        (62.06, 1, "62.1 mm"),
        (2743.2, -1, "2740 mm"),
        (-0.01, 0, "0 mm"),
        (5.0, 2, "5.00 mm"),
    ],
)
def test_millimetres_are_written_to_the_place(value_mm, decimals, written):
    assert format_mm(value_mm, decimals) == written


@given(st.floats(0, 1e7), st.sampled_from(STEPS_IN))
def test_feet_and_inches_read_back_to_half_the_step_shown(value_mm, step_in):
    back_mm = parse_length(format_feet_inches(value_mm, step_in)).value_mm
    assert abs(back_mm - value_mm) <= float(step_in) * 25.4 / 2 * (1 + 1e-9) + 1e-9


@given(st.floats(0, 1e7), st.integers(-3, 4))
def test_millimetres_read_back_to_half_the_step_shown(value_mm, decimals):
    back_mm = parse_length(format_mm(value_mm, decimals)).value_mm
    assert abs(back_mm - value_mm) <= 10**-decimals / 2 * (1 + 1e-9) + 1e-8


@given(st.floats(0, 1e7), st.sampled_from(STEPS_IN))
def test_no_inches_reach_twelve(value_mm, step_in):
    length = parse_length(format_feet_inches(value_mm, step_in))  # twelve or more would be refused
    assert length.as_written.endswith(("in", "ft"))
