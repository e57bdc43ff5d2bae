"""Scales as people write them. Right values: 1 ft = 304.8 mm exactly, and the ratios of NEM 010 and NMRA S-1."""

from __future__ import annotations

import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import ScaleNotUnderstood
from archive.scales import named_scales, parse_scale

FOOT = Fraction("304.8")

WRITTEN = [
    ("1:43.5", Fraction("43.5")),
    ("1/43.5", Fraction("43.5")),
    ("1 : 43,5", Fraction("43.5")),
    ("1∶87", 87),
    ("1/87", 87),
    ("1 to 76", 76),
    ("1:1250", 1250),
    ("1:1 250", 1250),
    ("scale 1:50", 50),
    ("2:1", Fraction(1, 2)),
    ("1:0.5", Fraction(1, 2)),
    ("3:4", Fraction(4, 3)),
    ("7mm/ft", FOOT / 7),
    ("7 mm/ft", FOOT / 7),
    ("7 mm to the foot", FOOT / 7),
    ("7mm to 1 foot", FOOT / 7),
    ("7 mm per foot", FOOT / 7),
    ("7 mm = 1 ft", FOOT / 7),
    ("7mm : 1ft", FOOT / 7),
    ("7 mm", FOOT / 7),
    ("7mm scale", FOOT / 7),
    ("3.5 mm", FOOT / Fraction("3.5")),
    ("3,5 mm/ft", FOOT / Fraction("3.5")),
    ("2 1/16 mm/ft", FOOT / Fraction(33, 16)),
    ("16 mm", FOOT / 16),
    ("5.5 mm/ft", FOOT / Fraction("5.5")),
    ("1/4 in to the foot", 48),
    ("1/4\" = 1'", 48),
    ('¼"/ft', 48),
    ("3/8 in/ft", 32),
    ("1 inch to the foot", 12),
    ("1/4 inch scale", 48),
    ("10 mm to 1 m", 100),
    ("1cm/m", 100),
    ("1 in/8 ft", 96),
    ("O (GB)", FOOT / 7),
    ("o(gb)", FOOT / 7),
    ("ScaleSeven", FOOT / 7),
    ("0 (Europe)", 45),
    ("O (US)", 48),
    ("OO", FOOT / 4),
    ("00", FOOT / 4),
    ("P4", FOOT / 4),
    ("EM", FOOT / 4),
    ("H0", 87),  # with the figure nought as in NEM 010
    ("HO", FOOT / Fraction("3.5")),  # with the letter as in NMRA S-1
    ("HOn3", FOOT / Fraction("3.5")),
    ("H0e", 87),
    ("TT", 120),
    ("TT:120", 120),
    ("British TT", FOOT / 3),
    ("S", 64),
    ("N (GB)", FOOT / Fraction(33, 16)),
    ("N (Japan)", 150),
    ("N (US)", 160),
    ("Z", 220),
    ("I", 32),
    ("II", Fraction("22.5")),
    ("Fn3", FOOT / 15),
]


@pytest.mark.parametrize(("text", "ratio"), WRITTEN, ids=[text for text, _ in WRITTEN])
def test_a_scale_keeps_its_exact_ratio(text, ratio):
    scale = parse_scale(text)

    assert scale.ratio == ratio
    assert scale.as_written == text
    assert scale.name
    assert scale.source


REFUSED = [
    ("", "nothing is written"),
    ("O", "O (GB), 1:43.54; 0 (Europe), 1:45; O (US), 1:48"),
    ("0", "several scales"),
    ("G", "F, 1:20.32; II, 1:22.5; 1:24; I, 1:32"),
    ("N", "N (GB), 1:147.78; N (Japan), 1:150; N (Europe, US), 1:160"),
    ("n gauge", "several scales"),
    ("87", "number alone"),
    ("1:0", "nothing"),
    ("0:1", "nothing"),
    ("0 mm/ft", "nothing"),
    ("1:-87", "neither a ratio"),
    ("1:1,250", "decimal comma or group thousands"),
    ("1:x", "neither a ratio"),
    ("inf:1", "neither a ratio"),
    ("1:1e9", "power of ten"),
    ("1:43.5.6", "decimal number"),
    ("7 mm ± 1", "exact"),
    ("6 to 7 mm", "exact"),
    ("about 7 mm", "exact"),
    ("7 kg/ft", "'kg'"),
    ("Q", "neither a ratio"),
    ("1:87\x00", "cannot be seen"),
    ("1:" + "9" * 10_000, "too long"),
]


@pytest.mark.parametrize(("text", "why"), REFUSED, ids=[ascii(text)[:20] for text, _ in REFUSED])
def test_what_is_no_single_scale_is_refused_with_the_reason(text, why):
    with pytest.raises(ScaleNotUnderstood) as refused:
        parse_scale(text)

    assert why in str(refused.value)
    assert pickle.loads(pickle.dumps(refused.value)).why == refused.value.why


@given(st.text(max_size=30) | st.text("0123456789:/. mft'\"inO½to", max_size=14))
def test_any_text_is_a_scale_or_refused(text):
    try:
        scale = parse_scale(text)
    except ScaleNotUnderstood:
        return
    assert scale.ratio > 0


@given(st.integers(1, 10**6), st.integers(0, 4))
def test_any_ratio_above_nothing_is_kept_exactly(figures, decimals):
    ratio = Fraction(figures, 10**decimals)
    written = f"{figures // 10**decimals}.{figures % 10**decimals:0{decimals}d}" if decimals else str(figures)

    assert parse_scale(f"1:{written}").ratio == ratio
    assert parse_scale(f"{written} mm/ft").ratio == FOOT / ratio


def test_a_length_is_divided_by_the_scale_and_comes_back():
    # By hand: 2743 / 43.5 = 63.057..., and 9 ft at 7 mm to the foot is 63 mm.
    assert parse_scale("1:43.5").model_mm(2743) == pytest.approx(63.0575, abs=1e-4)
    assert parse_scale("7 mm/ft").model_mm(9 * 304.8) == pytest.approx(63, rel=1e-15)
    assert parse_scale("7 mm/ft").real_mm(63) == pytest.approx(2743.2, rel=1e-15)


def test_the_name_for_people_is_rounded_and_the_ratio_is_not():
    seven = parse_scale("7mm to the foot")
    assert (seven.name, seven.ratio_text, seven.traded) == ("7 mm/ft", "1:43.54", "1:43.5")
    assert seven.text == "7 mm/ft, 1:43.54"
    assert parse_scale("1/43.5").text == "1:43.5"


def test_every_named_scale_says_its_source_and_is_found_by_its_name():
    for row in named_scales():
        assert row.source, row.name
        assert row.used_for, row.name
        assert parse_scale(row.name).ratio == row.ratio


def test_where_two_ways_to_a_scale_exist_they_agree():
    # NMRA S-1 defines these both ways.
    for inches, name in (("1/4", "O (US)"), ("3/16", "S"), ("0.1", "TT"), ("3/8", "I")):
        assert parse_scale(f"{inches} in/ft").ratio == parse_scale(name).ratio
