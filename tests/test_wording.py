"""Sizes in words: rounded to their doubt and no further. Right values by hand from JCGM 100:2008, 7.2.6."""

from __future__ import annotations

import re
from math import log10

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from archive import wording
from archive.lengths import parse_length
from archive.scales import parse_scale

INF = float("inf")


@pytest.mark.parametrize(
    ("value_mm", "interval_95_mm", "said"),
    [
        (2743.2, (2740.2, 2746.2), "2743 mm ± 3 mm"),
        (2743.2, (2741.06, 2745.34), "2743.2 mm ± 2.1 mm"),  # a first figure of 1 or 2 takes a second one
        (
            2743.2,
            (2742.24, 2744.16),
            "2743.2 mm ± 1.0 mm",
        ),  # 0.96 rounds up and takes its second figure with it
        (1370, (1365.25, 1374.75), "1370 mm ± 5 mm"),
        (1370, (1358, 1382), "1370 mm ± 12 mm"),
        (3657.6, (3512.8, 3802.4), "3660 mm ± 140 mm"),
        (3657.6, (3257.6, 4057.6), "3700 mm ± 400 mm"),
        (63.0575, (62.989, 63.126), "63.06 mm ± 0.07 mm"),
        (12_500, (12_497, 12_503), "12 500 mm ± 3 mm"),
        (0, (-4, 4), "0 mm ± 4 mm"),
        (2743, (2741, 2752), "2741 to 2752 mm"),
        (2743, (2740, 2746.2), "2743 mm ± 3 mm"),  # 6 % further to one side is still even
        (2743.2, None, "2743.2 mm"),
        (304.8, (304.8, 304.8), "304.8 mm"),
        (2743.2, (-INF, INF), "2743.2 mm, and nobody knows how surely"),
    ],
)
def test_a_length_is_said_to_the_place_of_its_doubt(value_mm, interval_95_mm, said):
    assert wording.size("length", value_mm, interval_95_mm) == said


@pytest.mark.parametrize(
    ("quantity", "value", "interval_95", "said"),
    [
        ("count", 12, None, "12"),
        ("count", 12, (12, 12), "12"),
        ("count", 12, (11.7, 12.3), "12"),
        ("count", 12, (11, 13), "12 ± 1"),
        ("count", 12, (10.4, 16.2), "10 to 17"),
        ("angle", 42, (41.5, 42.5), "42.0° ± 0.5°"),
        ("angle", 42.3, (38.3, 46.3), "42° ± 4°"),
        ("angle", 42, (41.5, 45), "41.5° to 45.0°"),
        ("angle", 90, None, "90°"),
        ("slope", 0.125, None, "1 in 8"),
        ("slope", 0.08, None, "1 in 12.5"),
        ("slope", 1 / 8, (1 / 8.4, 1 / 7.6), "1 in 8.0 ± 0.4"),
        ("slope", 1 / 8, (1 / 10, 1 / 7), "1 in 7.0 to 1 in 10.0"),
        ("slope", 0.01, (-0.01, 0.03), "level to 1 in 33"),
        ("slope", 0, None, "level"),
    ],
)
def test_counts_angles_and_slopes_have_their_own_words(quantity, value, interval_95, said):
    assert wording.size(quantity, value, interval_95) == said


@pytest.mark.parametrize(
    ("value_mm", "interval_95_mm", "said"),
    [
        (2743.2, (2740.2, 2746.2), "9 ft 0 in"),  # 6 mm wide: to 1/8 in
        (2746.4, (2743.4, 2749.4), "9 ft 0⅛ in"),
        (2746.4, (2742.4, 2750.4), "9 ft 0¼ in"),  # 8 mm wide: to 1/4 in, and 0.126 in is nearer to 1/4
        (1435.1, (1422.4, 1447.8), "4 ft 8 in"),  # 1 in wide: whole inches, 8½ to the even one
        (3657.6, (3257.6, 4057.6), "12 ft"),
        (3520.0, (3330.0, 3710.0), "11 ft 7 in"),  # 138.6 in; the nearest foot would be 138 mm off
        (1435.1, None, "4 ft 8½ in"),
        (2743.2, (2742, 2750), "9 ft 0 in to 9 ft 0¼ in"),
        (0.5, (0.49, 0.51), "0.0197 in"),
    ],
)
def test_feet_and_inches_are_no_finer_than_the_interval(value_mm, interval_95_mm, said):
    assert wording.other_system("length", value_mm, interval_95_mm) == said


def test_only_lengths_have_feet_and_inches():
    assert wording.other_system("angle", 42, (41, 43)) == ""


def test_the_doubt_shrinks_with_the_scale():
    # By hand: 2743 / 43.5 = 63.057 and 3 / 43.5 = 0.069.
    assert wording.model_size(2743, (2740, 2746), parse_scale("1:43.5")) == "63.06 mm ± 0.07 mm"
    assert wording.model_size(2743.2, None, parse_scale("7 mm/ft")) == "63 mm"
    assert wording.scale(parse_scale("7mm to the foot")) == "7 mm/ft, 1:43.54"


HALF_WIDTHS = st.floats(1e-4, 1e4)


@given(st.floats(0, 1e6), HALF_WIDTHS)
def test_the_doubt_has_at_most_two_figures_and_the_value_goes_to_the_same_place(value, half):
    said = wording.size("length", value, (value - half, value + half))
    shown, doubt = said.replace(" mm", "").split(" ± ")

    assert len(re.sub(r"\D", "", doubt).strip("0")) <= 2
    assert (
        shown.partition(".")[2] == ""
        if "." not in doubt
        else len(shown.split(".")[1]) == len(doubt.split(".")[1])
    )
    place = 10.0 ** -wording.places(half)
    assert abs(float(shown.replace(" ", "")) - value) <= place / 2 * (1 + 1e-6)
    assert abs(float(doubt.replace(" ", "")) - half) <= place / 2 * (1 + 1e-6)
    # The last figure shown is worth between a thirtieth and a third of the doubt.
    assert half / 30.01 <= place <= half / 2.9


@given(st.floats(1, 1e6), HALF_WIDTHS)
def test_what_is_said_reads_back_as_the_same_size(value, half):
    assume(half < value / 2)
    said = wording.size("length", value, (value - half, value + half))
    length = parse_length(said)

    place = 10.0 ** -wording.places(half)
    assert abs(length.value_mm - value) <= place / 2 * (1 + 1e-6)
    assert length.tolerance_mm is not None
    assert abs(length.tolerance_mm - half) <= place / 2 * (1 + 1e-6)


@given(st.floats(30, 1e6), st.floats(0.8, 1e3))
def test_feet_and_inches_lie_within_the_interval(value, half):
    back_mm = parse_length(wording.other_system("length", value, (value - half, value + half))).value_mm
    assert abs(back_mm - value) <= half * (1 + 1e-6)


@given(st.floats(1, 1e5), st.floats(0.1, 10), st.floats(0.1, 10))
def test_an_interval_that_reaches_further_to_one_side_is_said_by_its_ends(value, below, above):
    assume(abs(abs(above - below) - 0.1 * (above + below) / 2) > 1e-3)
    said = wording.size("length", value, (value - below, value + above))
    assert ("±" in said) == (abs(above - below) <= 0.1 * (above + below) / 2)
    assert ("±" in said) != (" to " in said)


@given(st.floats(1e-9, 1e9))
def test_the_place_follows_the_size_of_the_doubt(half):
    assert -1.5 < log10(half) + wording.places(half) < 1.5


@pytest.mark.parametrize(
    ("probability", "said"),
    [(1.0, "very likely"), (0.9, "very likely"), (0.5, "likely"), (0.2, "possible"), (0.01, "unlikely")],
)
def test_a_probability_is_said_in_words(probability, said):
    assert wording.likelihood(probability) == said


def test_where_the_doubt_comes_from_is_said_by_share():
    causes = wording.causes(
        [
            ("offset", "the long tape", 0.30),
            ("rounding", "", 0.62),
            ("scale", "the long tape", 0.07),
            ("mark", "", 0.005),
            ("mark", "", 0.005),
        ],
        most=2,
    )
    assert (
        wording.share_list(causes)
        == "62 % rounding of the reading, 30 % the long tape's offset, 8 % the rest"
    )


def test_marks_are_taken_together_and_crumbs_left_out():
    assert (
        wording.share_list(wording.causes([("mark", "", 0.4), ("mark", "", 0.597), ("lens", "", 0.003)]))
        == "100 % placing of the marks"
    )
    assert wording.share_list(wording.causes([])) == ""


def test_a_grade_that_needs_it_is_explained():
    assert wording.grade("from a sister") == "from a sister (another example of the type)"
    assert wording.grade("measured") == "measured"
