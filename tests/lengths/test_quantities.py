"""Counts, angles and slopes: what the label measures, and what is written. Right values by hand."""

from __future__ import annotations

from math import pi, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import LengthNotUnderstood
from archive.lengths import Quantity, parse_quantity, quantity_of


@pytest.mark.parametrize(
    ("label", "text", "forced", "quantity"),
    [
        ("door height", "2 m", None, Quantity.LENGTH),
        ("rivet count", "12", None, Quantity.COUNT),
        ("Jib Angle", "42", None, Quantity.ANGLE),
        ("ramp slope", "1 in 8", None, Quantity.SLOPE),
        ("gradient", "1:8", None, Quantity.SLOPE),
        ("wall batter", "1/8", None, Quantity.SLOPE),
        ("count house width", "2 m", None, Quantity.LENGTH),  # only the last word counts
        ("rivets", "12", "count", Quantity.COUNT),
        ("rivet count", "12", "slope", Quantity.COUNT),  # the label comes first
        ("jib", "42°", None, Quantity.ANGLE),
        ("jib", "42°", "slope", Quantity.SLOPE),
    ],
)
def test_the_label_says_what_it_measures_then_the_person_then_the_degree_sign(label, text, forced, quantity):
    assert quantity_of(label, text, forced) is quantity


READ = [
    ("rivet count", "12", 12, None),
    ("rivet count", "1 200", 1200, None),
    ("rivet count", "about 12", 12, 1),
    ("jib angle", "42", 42, 1),
    ("jib", "42°", 42, 1),
    ("jib", "42.5 °", 42.5, 0.1),
    ("jib angle", "42 deg", 42, 1),
    ("jib angle", "42 degrees", 42, 1),
    ("jib", "42° 30′", 42.5, 1 / 60),
    ("jib", "42°30'36\"", 42.51, 1 / 3600),
    ("slope", "1 in 8", 1 / 8, 1 / 64),
    ("slope", "1:40", 1 / 40, 1 / 1600),
    ("slope", "1/8", 1 / 8, 1 / 64),
    ("slope", "1 in 12.5", 1 / 12.5, 0.1 / 12.5**2),
    ("slope", "12 %", 0.12, 0.01),
    ("slope", "10°", tan(pi / 18), (1 + tan(pi / 18) ** 2) * pi / 180),
]


@pytest.mark.parametrize(
    ("label", "text", "value", "resolution"), READ, ids=[f"{row[0]} {row[1]}" for row in READ]
)
def test_a_quantity_is_read_with_its_step(label, text, value, resolution):
    quantity = parse_quantity(label, text)

    assert quantity.value == pytest.approx(value, rel=1e-12)
    assert quantity.resolution == (None if resolution is None else pytest.approx(resolution, rel=1e-12))
    assert quantity.as_written == text
    assert quantity.length is None


@pytest.mark.parametrize(
    ("label", "text", "value", "tolerance"),
    [
        ("rivet count", "12 ± 1", 12, 1),
        ("rivet count", "12 to 14", 13, 1),
        ("jib", "42° ± 0.5°", 42, 0.5),
        ("jib", "42 ± 0.5°", 42, 0.5),
        ("jib angle", "40-45°", 42.5, 2.5),
        ("slope", "12 ± 1 %", 0.12, 0.01),
        ("slope", "1 in 8 to 1 in 10", 0.1125, 0.0125),
    ],
)
def test_other_quantities_take_tolerances_and_ranges_too(label, text, value, tolerance):
    quantity = parse_quantity(label, text)
    assert (quantity.value, quantity.tolerance) == pytest.approx((value, tolerance), rel=1e-12)


def test_a_length_carries_what_was_written_and_its_unit():
    height = parse_quantity("door height", "6ft 3in ± ¼in")
    assert (height.quantity, height.unit, height.tolerance) == (Quantity.LENGTH, "mm", 6.35)
    assert height.length is not None
    assert height.value == height.length.value_mm == pytest.approx(1905.0)


@pytest.mark.parametrize(
    ("label", "text", "what"),
    [
        ("rivet count", "12.5", "a count"),
        ("rivet count", "12 mm", "a count"),
        ("rivet count", "-3", "a count"),
        ("rivet count", "12 to 12", "a count"),
        ("jib angle", "42 ft", "an angle"),
        ("jib angle", "400°", "an angle"),
        ("jib", "42.5° 30′", "an angle"),
        ("jib", "42° 75′", "an angle"),
        ("jib", "42° ± 0°", "an angle"),
        ("slope", "8", "a slope"),
        ("slope", "1 in 0", "a slope"),
        ("slope", "90°", "a slope"),
        ("ramp height", "1 in 8", "a length"),
        ("ramp height", "1:8", "a length"),
    ],
)
def test_what_is_no_such_quantity_is_refused_by_its_name(label, text, what):
    with pytest.raises(LengthNotUnderstood, match=f"not understood as {what}:"):
        parse_quantity(label, text)


@given(st.sampled_from(["count", "angle", "slope"]), st.text("0123456789 in:/%°′'\"±-to.½,", max_size=16))
def test_any_text_is_a_quantity_or_refused(label, text):
    try:
        quantity = parse_quantity(label, text)
    except LengthNotUnderstood:
        return
    assert quantity.value >= 0
