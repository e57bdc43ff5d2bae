"""The round figures that a works may have drawn, within the doubt of a size."""

from __future__ import annotations

from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import CannotEstimate
from archive.metrology.drawn_sizes import MOST, likely_drawn


def drawn(value_mm: float, u_mm: float) -> list[str]:
    """The figures for a size whose interval is twice its uncertainty to either side."""
    return [
        each.as_drawn for each in likely_drawn(value_mm, u_mm, (value_mm - 2 * u_mm, value_mm + 2 * u_mm))
    ]


def test_a_size_known_to_a_millimetre_has_one_round_figure_or_none():
    assert drawn(686.0, 0.35) == ["2 ft 3 in"]  # 27 in = 685.8 mm; 685 mm is too far
    assert drawn(2743.4, 0.4) == ["9 ft"]  # 2743.2 mm
    assert drawn(868.0, 0.35) == []  # 34 1/4 in = 869.95 mm, and 870 mm


def test_the_rounder_and_the_nearer_comes_first():
    # By hand, from 387 to 395 mm: 10 exp(-0.125) = 8.8 for 390; 12.7 exp(-0.911) = 5.1 for 15 1/2 in = 393.7;
    # 6.35 exp(-1.665) = 1.2 for 15 1/4 in = 387.35; 5 exp(-2) = 0.7 for 395.
    assert [10 * exp(-0.125), 12.7 * exp(-0.91125), 6.35 * exp(-1.6653)] == pytest.approx(
        [8.825, 5.106, 1.201], abs=2e-3
    )
    assert drawn(391.0, 2.0) == ["390 mm", "1 ft 3½ in", "1 ft 3¼ in", "395 mm"]


def test_a_whole_foot_comes_before_a_nearer_figure_that_is_less_round():
    # 915 mm is nearer to 914.9 than 3 ft = 914.4, but a foot is 304.8 to its 5.
    assert drawn(914.9, 1.0) == ["3 ft", "915 mm"]


def test_a_length_that_is_round_both_ways_is_given_once():
    assert drawn(635.0, 0.5) == ["2 ft 1 in"]  # 25 x 25.4 = 635, also a multiple of 5 mm


def test_a_size_without_doubt_fits_itself_only():
    assert [each.value_mm for each in likely_drawn(50.8, 0.0, (50.8, 50.8))] == [50.8]
    assert likely_drawn(50.9, 0.0, (50.9, 50.9)) == ()


def test_nothing_is_said_where_too_many_would_fit():
    # 1000 to 1020 mm: 1000, 1005, 1010, 1015, 1020; 39 1/2 = 1003.3, 39 3/4 = 1009.65, 40 in = 1016 mm: eight.
    assert len(drawn(1010.0, 5.0)) == 8 == MOST
    assert drawn(1010.0, 7.0) == []  # 39 1/4 = 996.95 and 40 1/4 in = 1022.35 mm as well
    assert drawn(2743.2, 1e9) == []


def test_nothing_is_no_round_figure():
    assert drawn(0.2, 0.1) == []
    assert drawn(1.0, 2.0) == ["5 mm"]


@given(st.floats(0.1, 100_000), st.floats(0, 30))
def test_every_figure_lies_within_and_is_a_multiple_of_a_step_that_works_draw_to(
    value: float, u: float
) -> None:
    interval = value - 2 * u, value + 2 * u
    for each in likely_drawn(value, u, interval):
        assert interval[0] * (1 - 1e-8) <= each.value_mm <= interval[1] * (1 + 1e-8)
        assert min(abs(each.value_mm / step - round(each.value_mm / step)) for step in (6.35, 5.0)) < 1e-6


@pytest.mark.parametrize(("value", "u"), [(float("nan"), 1.0), (100.0, -1.0)])
def test_what_is_no_size_is_refused(value: float, u: float) -> None:
    with pytest.raises(CannotEstimate):
        likely_drawn(value, u, (99.0, 101.0))
