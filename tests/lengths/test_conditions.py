"""Sizes to look for, and the limits of instruments, as people write them. Right values by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import LengthNotUnderstood
from archive.lengths import parse_limit, parse_size_range

FT, IN = 304.8, 25.4

LOOKED_FOR = [
    ("post height 2.5 to 3 m", "post height", 2500, 3000),
    ("2.5-3 m", "", 2500, 3000),
    ("jib length between 4 and 5 ft", "jib length", 4 * FT, 5 * FT),
    ("hut width 4ft to 5ft 6in", "hut width", 4 * FT, 5.5 * FT),
    ("about 2.7 m", "", 2565, 2835),  # 5 %
    ("pin ~12 mm", "pin", 11, 13),  # one written step is more than 5 %
    ("about 2.7 m ± 5 cm", "", 2650, 2750),
    ("about 4 to 5 m", "", 3800, 5250),
    ("2.7 m ± 5 cm", "", 2650, 2750),
    ("2.70 m", "", 2695, 2705),  # half the written step
    ("something 14 inches", "something", 13.5 * IN, 14.5 * IN),
    ("span over 4 m", "span", 4000, None),
    ("length over buffers 12.0 m", "length over buffers", 11950, 12050),
    ("length over buffers over 12 m", "length over buffers", 12000, None),
    ("deck height above 1 m", "deck height", 1000, None),
    ("bollard height at least 2 ft", "bollard height", 2 * FT, None),
    ("more than 4 m", "", 4000, None),
    ("4 m or more", "", 4000, None),
    ("height > 4 m", "height", 4000, None),
    ("height≥4 m", "height", 4000, None),
    ("under 4 ft", "", None, 4 * FT),
    ("Width At Most 90cm", "Width", None, 900),
    ("up to 90 cm", "", None, 900),
    ("90 cm or less", "", None, 900),
    ("gap <= 5 mm", "gap", None, 5),
    ("door 2 height: 1.9 to 2.1 m", "door 2 height", 1900, 2100),
    ("overall height = 14 to 18 mm", "overall height", 14, 18),
]


@pytest.mark.parametrize(
    ("text", "label", "low_mm", "high_mm"), LOOKED_FOR, ids=[text for text, *_ in LOOKED_FOR]
)
def test_a_size_to_look_for_has_a_label_and_two_ends(text, label, low_mm, high_mm):
    wanted = parse_size_range(text)

    assert (wanted.label, wanted.as_written) == (label, text)
    assert wanted.low_mm == (None if low_mm is None else pytest.approx(low_mm))
    assert wanted.high_mm == (None if high_mm is None else pytest.approx(high_mm))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no size"),
        ("post height", "no size"),
        ("post height 4-6", "4 ft 6 in, or a range"),
        ("post height 5 kg", "'kg' is not a unit"),
        ("post height 3 to 2 m", "backwards"),
        ("over 4 to 5 m", "one end"),
        ("x" * 10_000, "characters long"),
        ("4 " * 5_000, "characters long"),
        ("hut width 3 4 m", "side by side"),
        ("hut width 2.5 to about", "two ends"),
    ],
)
def test_a_condition_without_a_single_meaning_is_refused(text, why):
    with pytest.raises(LengthNotUnderstood, match="a size to look for") as refused:
        parse_size_range(text)
    assert why in refused.value.why


@pytest.mark.parametrize(
    ("text", "constant_mm", "per_mm"),
    [
        ("0.3 mm + 0.2 mm/m", 0.3, 0.0002),
        ("± (0.3 mm + 0.2 mm/m)", 0.3, 0.0002),
        ("0.2 mm/m + 0.3 mm", 0.3, 0.0002),
        ("± 2 mm", 2, 0),
        ("+/- 2 mm", 2, 0),
        ("1/8 in", IN / 8, 0),
        ("1 %", 0, 0.01),
        ("0,2 %+1mm", 1, 0.002),
        ("50 ppm", 0, 0.00005),
        ("1 mm/m", 0, 0.001),
        ("1 mm per metre", 0, 0.001),
        ("3 mm / 10 m", 0, 0.0003),
        ("1/8 in per 10 ft", 0, 1 / 960),
        ('1/16"/ft', 0, 1 / 192),
    ],
)
def test_limits_are_a_length_and_a_share_of_the_reading(text, constant_mm, per_mm):
    limit = parse_limit(text)
    assert (limit.constant_mm, limit.per_mm) == pytest.approx((constant_mm, per_mm), rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2",
        "0 mm",
        "1 mm + 2 mm",
        "1 % + 2 %",
        "1 m/s",
        "1 mm / 0 m",
        "1 mm ± 1 mm",
        "0.3 mm +",
        "9" * 10_000,
        "1.2.3 %",
    ],
)
def test_limits_that_mean_nothing_are_refused(text):
    with pytest.raises(LengthNotUnderstood, match="as a limit"):
        parse_limit(text)


@given(st.text(max_size=60))
def test_any_text_is_a_condition_or_a_limit_or_refused(text):
    for read in (parse_size_range, parse_limit):
        try:
            read(text)
        except LengthNotUnderstood as refused:
            said = str(refused)
        else:
            continue
        assert said
