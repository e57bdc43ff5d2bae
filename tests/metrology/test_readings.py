"""A reading's doubt: its step, a written ±, 'about', and the instrument that took it."""

from __future__ import annotations

from math import sqrt

import pytest

from archive.errors import CannotEstimate
from archive.metrology.coverage import interval_95
from archive.metrology.readings import Limits, reading, repeats, rounding_u_mm, unchecked
from archive.metrology.sources import covariance, linear


def test_reading_to_the_nearest_ten_millimetres_is_doubtful_by_2_89_mm():
    # JCGM 100:2008, F.2.2.1: step / (2 sqrt 3) = 0.289 step.
    assert rounding_u_mm(10) == pytest.approx(2.8868, abs=1e-4)
    assert reading(1370, of_record="r1", resolution_mm=10).standard_uncertainty == pytest.approx(5 / sqrt(3))


def test_a_written_tolerance_takes_the_place_of_the_digits():
    # JCGM 100:2008, 4.3.7: a / sqrt 3.
    number = reading(2743, of_record="r1", resolution_mm=1, tolerance_mm=3)
    assert number.standard_uncertainty == pytest.approx(sqrt(3))


def test_about_is_good_to_one_step_either_way_unless_a_tolerance_is_written():
    assert reading(
        1400, of_record="r1", resolution_mm=10, approximate=True
    ).standard_uncertainty == pytest.approx(10 / sqrt(3))
    both = reading(1400, of_record="r1", resolution_mm=10, tolerance_mm=30, approximate=True)
    assert both.standard_uncertainty == pytest.approx(30 / sqrt(3))


def test_a_count_is_exact():
    assert reading(34, of_record="r1").sensitivities == {}


def test_two_readings_with_one_unchecked_tape_share_its_offset_and_its_scale():
    tape = unchecked(Limits(constant_mm=1.0, per_mm=0.001), "tape-1")
    bay = reading(3000, of_record="r1", resolution_mm=1, instrument=tape)
    half = reading(1500, of_record="r2", resolution_mm=1, instrument=tape)

    # By hand: offset (1/sqrt 3)^2 and scale (3/sqrt 3)(1.5/sqrt 3).
    assert covariance(bay, half) == pytest.approx(1 / 3 + 1.5)
    # In the difference the offset goes out, and the scale is that of 1.5 m.
    difference = linear([(1, bay), (-1, half)])
    assert difference.standard_uncertainty == pytest.approx(sqrt(2 / 12 + 1.5**2 / 3))


def test_a_changing_instrument_has_an_error_of_its_own_each_day():
    limits = Limits(constant_mm=10, per_mm=0.02)
    monday = reading(
        2000, of_record="r1", resolution_mm=10, instrument=unchecked(limits, "phone", "2023-06-17")
    )
    tuesday = reading(
        2000, of_record="r2", resolution_mm=10, instrument=unchecked(limits, "phone", "2023-06-18")
    )
    assert covariance(monday, tuesday) == 0


def test_the_interval_of_one_rectangle_holds_95_in_100_of_it():
    # A rectangle of half-width 5: 95 % of it lies within 0.95 * 5.
    low, high = interval_95(reading(1370, of_record="r1", resolution_mm=10))
    assert (low, high) == pytest.approx((1365.25, 1374.75), abs=0.002)


def test_the_interval_of_two_equal_rectangles_is_that_of_a_triangle():
    # Half-width of the triangle 2 * 0.5; 95 % of it lies within 1 - sqrt 0.05 of its half-width.
    both = linear(
        [(1, reading(10, of_record="r1", resolution_mm=1)), (1, reading(20, of_record="r2", resolution_mm=1))]
    )
    assert interval_95(both) == pytest.approx((30 - 0.7764, 30 + 0.7764), abs=0.002)


@pytest.mark.parametrize("step", [-1.0, float("nan"), float("inf")])
def test_a_step_that_is_none_is_refused(step):
    with pytest.raises(CannotEstimate, match="must be 0 or more") as refused:
        reading(1000, of_record="r1", resolution_mm=step)
    assert refused.value.code == "bad-uncertainty"


def test_a_reading_that_is_no_number_is_refused():
    with pytest.raises(CannotEstimate, match="must be a number"):
        reading(float("nan"), of_record="r1", resolution_mm=1)


def test_repeats_carry_their_scatter_with_students_factor():
    # s = 2.5495 of five readings, s/sqrt 5 = 1.1402, four degrees of freedom (worked case of five readings).
    taken = repeats([1832, 1829, 1835, 1830, 1834], of_record="d1", resolution_mm=1)
    ((source, _),) = taken.result.shares()
    assert (source.kind, source.degrees_of_freedom) == ("repeats", 4)
    assert taken.result.standard_uncertainty == pytest.approx(1.14018, abs=1e-5)


def test_equal_repeats_do_not_mean_no_doubt():
    taken = repeats([1830, 1830, 1830], of_record="d1", resolution_mm=10)
    assert taken.result.standard_uncertainty == pytest.approx(10 / sqrt(12))


def test_repeats_with_one_tape_do_not_average_its_error_away():
    tape = unchecked(Limits(constant_mm=1.3), "tape-1")
    taken = repeats([1832, 1829, 1835, 1830, 1834], of_record="d1", resolution_mm=1, instrument=tape)
    # The worked case of five readings with a limit of 1.3 mm.
    assert taken.result.standard_uncertainty == pytest.approx(1.36504, abs=1e-5)
    low, high = interval_95(taken.result)
    assert (high - low) / 2 == pytest.approx(3.14779, rel=0.02)


def test_repeats_further_apart_than_the_tape_allows_disagree_and_the_odd_one_is_named():
    limits = Limits(constant_mm=1.3)
    taken = repeats([2743, 2745, 2843], of_record="d1", resolution_mm=1, limits=limits)
    assert (taken.agree, taken.doubted) == (False, (2,))
    both = repeats([2743, 2843], of_record="d1", resolution_mm=1, limits=limits)
    assert (both.agree, both.doubted) == (False, (0, 1))
    assert repeats([2743, 2746], of_record="d1", resolution_mm=1, limits=limits).agree
