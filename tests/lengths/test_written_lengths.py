"""Our own lengths, read and refused. Right values: 1 in = 25.4 mm and 1 ft = 304.8 mm exactly, and
the rest worked out by hand in the table from these (a yard is 3 ft, a chain 66 ft, a fathom 6 ft)."""

from __future__ import annotations

import pickle
from fractions import Fraction

import pytest
from benchmarks.turns import ratio
from hypothesis import example, given
from hypothesis import strategies as st

from archive.errors import LengthNotUnderstood
from archive.lengths import WrittenLength, parse_length

IN, FT = 25.4, 304.8
M, CM = 1000.0, 10.0

# what is written, its value, the step of its last figure
PLAIN = [
    # feet and inches
    ("6′ 2¼″", 6 * FT + 2.25 * IN, IN / 4),
    ("6′-2¼″", 6 * FT + 2.25 * IN, IN / 4),
    ("6‘2“", 6 * FT + 2 * IN, IN),
    ("6`2", 6 * FT + 2 * IN, IN),
    ("6´2´´", 6 * FT + 2 * IN, IN),
    ("6′2′′", 6 * FT + 2 * IN, IN),
    ("11 ft 11 15/16 in", 11 * FT + (11 + 15 / 16) * IN, IN / 16),
    ("7 feet, 3 inches", 7 * FT + 3 * IN, IN),
    ("7 feet and 3 inches", 7 * FT + 3 * IN, IN),
    ("7ft.3in.", 7 * FT + 3 * IN, IN),
    ("7 Foot 3 Ins", 7 * FT + 3 * IN, IN),
    ("7 ft 3", 7 * FT + 3 * IN, IN),
    ("7'3½", 7 * FT + 3.5 * IN, IN / 2),
    ("7'-3", 7 * FT + 3 * IN, IN),
    ("7' — 3\"", 7 * FT + 3 * IN, IN),
    ("7'−3\"", 7 * FT + 3 * IN, IN),
    ("7'‑3\"", 7 * FT + 3 * IN, IN),
    ("7'-0½\"", 7 * FT + 0.5 * IN, IN / 2),
    ("7'-½\"", 7 * FT + 0.5 * IN, IN / 2),
    ("7'-0-1/2\"", 7 * FT + 0.5 * IN, IN / 2),
    ("11-3¾", 11 * FT + 3.75 * IN, IN / 4),
    ("11–3 3/4", 11 * FT + 3.75 * IN, IN / 4),
    ("11-3-3/4", 11 * FT + 3.75 * IN, IN / 4),
    ('11-3-3/4"', 11 * FT + 3.75 * IN, IN / 4),
    ("0' 4\"", 4 * IN, IN),
    ("3'0", 3 * FT, IN),
    ("9.25 ft", 9.25 * FT, FT / 100),
    ("9,5 ft", 9.5 * FT, FT / 10),
    ("2½ ft", 2.5 * FT, FT / 2),
    ("2-1/2 ft", 2.5 * FT, FT / 2),
    ("3 ft 4.50 in", 3 * FT + 4.5 * IN, IN / 100),
    ("７′６″", 7 * FT + 6 * IN, IN),
    ("１２ ｆｔ", 12 * FT, FT),
    # inches and their fractions
    ('22⅝"', 22.625 * IN, IN / 8),
    ("22 ⅝ in", 22.625 * IN, IN / 8),
    ("22 5∕8 inches", 22.625 * IN, IN / 8),
    ("22-5/8 in", 22.625 * IN, IN / 8),
    ("22⅝ins", 22.625 * IN, IN / 8),
    ("22⁵⁄₈ in", 22.625 * IN, IN / 8),
    ("⅟8 in", IN / 8, IN / 8),
    ("⅓ in", IN / 3, IN / 3),
    ("3/2 in", 1.5 * IN, IN / 2),
    ("5 0/16 in", 5 * IN, IN / 16),
    ("5 4/8 in", 5.5 * IN, IN / 8),
    ("4 ft .5 in", 4 * FT + 0.5 * IN, IN / 10),
    (".75 in", 0.75 * IN, IN / 100),
    ("100 in", 100 * IN, IN),
    ("125 thou", 0.125 * IN, IN / 1000),
    ("3 in 20 thou", 3.02 * IN, IN / 1000),
    # longer imperial
    ("5 yds 2 ft", 17 * FT, FT),
    ("5 yd - 2 ft - 3 in", 17 * FT + 3 * IN, IN),
    ("1½ yards", 4.5 * FT, 1.5 * FT),
    ("7 chs 5 lks", 7.05 * 66 * FT, 0.66 * FT),
    ("2.5 chains", 165 * FT, 6.6 * FT),
    ("4½ fathoms", 27 * FT, 3 * FT),
    ("2 fathoms 4 ft", 16 * FT, FT),
    ("1 mile", 5280 * FT, 5280 * FT),
    # metric
    ("2.743 m", 2743.0, 1.0),
    ("2.70 metres", 2700.0, 10.0),
    ("2.7 Meters", 2700.0, 100.0),
    ("2,7432 m", 2743.2, 0.1),
    ("0.062 m", 62.0, 1.0),
    (",62 m", 620.0, 10.0),
    ("4·71 m", 4710.0, 10.0),
    ("62", 62.0, 1.0),
    ("62.", 62.0, 1.0),
    ("62.0", 62.0, 0.1),
    ("62,5", 62.5, 0.1),
    ("0", 0.0, 1.0),
    ("0 mm", 0.0, 1.0),
    ("27.4cm", 274.0, 1.0),
    ("1 dm", 100.0, 100.0),
    ("3 m 5 cm 4 mm", 3054.0, 1.0),
    ("3 m, 5 cm", 3050.0, 10.0),
    ("3½ m", 3500.0, 500.0),
    ("27430 Millimeters", 27430.0, 1.0),
    ("27 430 mm", 27430.0, 1.0),
    ("27\u2009430\u2009mm", 27430.0, 1.0),
    ("27\u00a0430,5\u202fmm", 27430.5, 0.1),
    ("1 027 430 mm", 1027430.0, 1.0),
    ("27,430.5 mm", 27430.5, 0.1),
    ("27.430,55 mm", 27430.55, 0.01),
    ("1,027,430 mm", 1027430.0, 1.0),
    ("1.027.430 mm", 1027430.0, 1.0),
    ("  62 mm\t", 62.0, 1.0),
    ("62㎜", 62.0, 1.0),
    ("６２．５ｍｍ", 62.5, 0.1),
    ("40 µm", 0.04, 0.001),
]


@pytest.mark.parametrize(("text", "value_mm", "step_mm"), PLAIN, ids=[text for text, *_ in PLAIN])
def test_a_length_is_read_with_the_step_of_its_last_figure(text, value_mm, step_mm):
    length = parse_length(text)

    assert length.value_mm == pytest.approx(value_mm, rel=1e-12)
    assert length.resolution_mm == pytest.approx(step_mm, rel=1e-12)
    assert length == WrittenLength(text, length.value_mm, length.resolution_mm)


TOLERANCES = [
    ("2743 ± 3", 2743.0, 1.0, 3.0),
    ("2743mm±3mm", 2743.0, 1.0, 3.0),
    ("2743 mm ± .5", 2743.0, 1.0, 0.5),
    ("2.743 ± 0.003 m", 2743.0, 1.0, 3.0),
    ("2.7 m ± 5 cm", 2700.0, 100.0, 50.0),
    ("2.7 m +- 5 cm", 2700.0, 100.0, 50.0),
    ("2.7 m + / − 5 cm", 2700.0, 100.0, 50.0),
    ("2.7 m plus or minus 5 cm", 2700.0, 100.0, 50.0),
    ("2.7 m plus/minus 5 cm", 2700.0, 100.0, 50.0),
    ("9 ft ± ½ in", 9 * FT, FT, IN / 2),
    ("9' 0\" ± 1/4", 9 * FT, IN, IN / 4),
    ("9'0 ± 1", 9 * FT, IN, IN),
    ("108½ ± ¼ in", 108.5 * IN, IN / 2, IN / 4),
    ("9' 0\" ± 3 mm", 9 * FT, IN, 3.0),
    ("2 m 35 cm ± 1", 2350.0, 10.0, 10.0),
    ("11-3¾ ± 1/8 in", 11 * FT + 3.75 * IN, IN / 4, IN / 8),
    ("2500 mm ± 2 %", 2500.0, 1.0, 50.0),
]


@pytest.mark.parametrize(
    ("text", "value_mm", "step_mm", "tolerance_mm"), TOLERANCES, ids=[text for text, *_ in TOLERANCES]
)
def test_a_tolerance_has_its_own_unit_or_shares_that_of_the_size(text, value_mm, step_mm, tolerance_mm):
    length = parse_length(text)

    assert (length.value_mm, length.resolution_mm, length.tolerance_mm) == pytest.approx(
        (value_mm, step_mm, tolerance_mm), rel=1e-12
    )
    assert (length.low_mm, length.high_mm, length.approximate) == (None, None, False)


RANGES = [
    ("2.5 to 3 m", 2.5 * M, 3 * M),
    ("2.5-3 m", 2.5 * M, 3 * M),
    ("2,5 — 3 m", 2.5 * M, 3 * M),
    ("2.5 m to 3 m", 2.5 * M, 3 * M),
    ("2.5 m–3", 2.5 * M, 3 * M),
    ("2.5 m to 3", 2.5 * M, 3 * M),
    ("95 cm to 1.05 m", 950.0, 1050.0),
    ("2500 to 3000", 2500.0, 3000.0),
    ("2500-3000 mm", 2500.0, 3000.0),
    ("from 2500 to 3000 mm", 2500.0, 3000.0),
    ("between 4 and 5 ft", 4 * FT, 5 * FT),
    ("4ft to 5ft 6in", 4 * FT, 5 * FT + 6 * IN),
    ("4ft–5ft 6in", 4 * FT, 5 * FT + 6 * IN),
    ("4'-5'", 4 * FT, 5 * FT),
    ("4'6 - 4'8", 4 * FT + 6 * IN, 4 * FT + 8 * IN),
    ("4' 6\" to 4' 8\"", 4 * FT + 6 * IN, 4 * FT + 8 * IN),
    ("4'-6\" to 4'-8\"", 4 * FT + 6 * IN, 4 * FT + 8 * IN),
    ("4' 6\"–4' 8\"", 4 * FT + 6 * IN, 4 * FT + 8 * IN),
    ("6-8 in", 6 * IN, 8 * IN),
    ("½ to ¾ in", IN / 2, IN * 3 / 4),
    ("½-¾ in", IN / 2, IN * 3 / 4),
    ("1 1/2 to 2 1/4 ft", 1.5 * FT, 2.25 * FT),
    ("3½–4 in", 3.5 * IN, 4 * IN),
    ("2 to 3 chains", 132 * FT, 198 * FT),
]


@pytest.mark.parametrize(("text", "low_mm", "high_mm"), RANGES, ids=[text for text, *_ in RANGES])
def test_a_range_is_its_middle_and_half_its_width(text, low_mm, high_mm):
    length = parse_length(text)

    assert (length.low_mm, length.high_mm) == pytest.approx((low_mm, high_mm), rel=1e-12)
    assert length.value_mm == pytest.approx((low_mm + high_mm) / 2, rel=1e-12)
    assert length.tolerance_mm == pytest.approx((high_mm - low_mm) / 2, rel=1e-12)
    assert length.resolution_mm is None


@pytest.mark.parametrize(
    "about",
    [
        "about {}",
        "About {}",
        "c. {}",
        "c.{}",
        "c{}",
        "ca {}",
        "ca. {}",
        "circa {}",
        "~{}",
        "~ {}",
        "≈{}",
        "∼{}",
        "approx {}",
        "approx. {}",
        "approximately {}",
        "roughly {}",
        "around {}",
        "{} approx.",
        "{} or so",
    ],
)
def test_about_marks_a_length_as_approximate_and_changes_nothing_else(about):
    text = about.format("3.5 m")
    assert parse_length(text) == WrittenLength(text, 3500.0, 100.0, approximate=True)


def test_a_range_may_be_approximate_too():
    length = parse_length("about 4 to 5 ft")
    assert (length.low_mm, length.high_mm, length.approximate) == (4 * FT, 5 * FT, True)


REFUSED = [
    ("   ", "nothing is written"),
    ("6-9", "6 ft 9 in, or a range 6 to 9"),
    ("6–14", "range 6 to 14"),
    ("3.5-3.7", "range"),
    ("7-0-6", "two ends"),
    ('6-9½"', "6 ft 9 1/2 in, or a range 6 to 9 1/2 in"),
    ('14-6"', "14 ft 6 in, or a range that runs backwards"),
    ("6 9", "side by side"),
    ("6 9 in", "side by side"),
    ("12 50 mm", "side by side"),
    ("1234 567 mm", "side by side"),
    ("8½", "fraction without a unit"),
    ("1/87", "fraction without a unit"),
    ("2,743 m", "decimal comma or group thousands"),
    ("2,74.3 m", "thousands"),
    ("27,43,000 mm", "thousands"),
    ("1.2.3 m", "thousands"),
    ("5. mm", "figure should"),
    ("6' 12\"", "12 or more inches"),
    ("2 yd 3 ft", "3 or more feet"),
    ("3 m 100 cm", "100 or more centimetres"),
    ("1 chain 100 links", "100 or more links"),
    ("6' 3 8/8\"", "one or more"),
    ("3.5 1/2 in", "decimals"),
    ("3/0 in", "divides by zero"),
    ("9 in 3 ft", "wrong order"),
    ("9\" 3'", "wrong order"),
    ("5 cm 2 m", "wrong order"),
    ("9 in 3 in", "twice"),
    ("6.5 ft 3 in", "not whole"),
    ("6½' 3\"", "not whole"),
    ("1.5 m 20 cm", "not whole"),
    ("3 ft 20 mm", "mixed"),
    ("1 m to 4 ft", "mixed"),
    ("−62 mm", "negative"),
    ("2 to -3 m", "negative"),
    ("1 m 35", "'35' at the end has no unit"),
    ('9" 3', "has no unit"),
    ("62 kg", "'kg' is not a unit"),
    ("18ft 6im", "'im' is not a unit"),
    ("62 mm²", "area"),
    ("5 m2", "area"),
    ("5 m^3", "area or a volume"),
    ("12 sq ft", "area"),
    ("5㎡", "area"),
    ("1:87", "ratio"),
    ("1/43.5", "ratio"),
    ("1 in 40", "slope"),
    ("12 %", "percentage"),
    ("42°", "angle"),
    ("10 mils", "thousandth of an inch and for a millimetre"),
    ("1O5 mm", "letter 'O'"),
    ("I2 ft", "letter 'I'"),
    ("O.5 m", "letter 'O'"),
    ("4 to 3 ft", "backwards"),
    ("3 to 3 ft", "the same"),
    ("4 to 5 to 6 ft", "twice"),
    ("4 to 5 ft 6 in", "no unit"),
    ("to 5 m", "two ends"),
    ("2 m to", "two ends"),
    ("+/- 5 mm", "without a size"),
    ("5 m ±", "no single tolerance"),
    ("5 m ± 1 ± 2 mm", "twice"),
    ("4 to 5 m ± 1 cm", "range and a tolerance"),
    ("5 mm ± 1 m", "larger than the size"),
    ("5 mm ± 0", "nothing"),
    ("1435 +2/-1 mm", "uneven"),
    ("six feet", "in words"),
    ("half a metre", "in words"),
    ("about", "after 'about'"),
    ("over 4 m", "one end"),
    ("at least 4 m", "one end"),
    ("3 x 4 m", "several"),
    ("3 × 4 m", "several"),
    ("1e3 mm", "power of ten"),
    ("1e-400 m", "power of ten"),
    ("inf", "not a unit"),
    ("nan m", "not a unit"),
    ("9" * 150 + " m", "10 000 km"),
    ("mm", "no figure"),
    ("'", "no figure"),
    ("5 mm mm", "no figure"),
    ("12 c", "not understood"),
    ("4 ft,8 in", "8 after a comma, or 0.8"),
    ("4',8\"", "8 after a comma, or 0.8"),
    ("4'.8\"", "8 after a point, or 0.8"),
    ("9''' 3", "no length"),
    ("62\x00 mm", "cannot be seen"),
    ("\u200f62 mm", "right-to-left mark"),
    ("62\u200b mm", "zero width space"),
    ("1️⃣ m", "cannot be seen"),
    ("📏 62 mm", "no length"),
    ("62 \ud800", "cannot be seen"),
]


@pytest.mark.parametrize(("text", "why"), REFUSED, ids=[ascii(text)[:40] for text, _ in REFUSED])
def test_what_has_no_single_meaning_is_refused_with_the_reason_and_a_way_to_write_it(text, why):
    with pytest.raises(LengthNotUnderstood) as refused:
        parse_length(text)

    assert why in str(refused.value)
    assert refused.value.instead.endswith(".")
    assert pickle.loads(pickle.dumps(refused.value)).why == refused.value.why


@pytest.mark.parametrize(
    "piece", ["9", " ", "'", "1 ", "1/", "4-", "½", "a", "± ", "1,", "to ", "\x00", "😀"]
)
def test_ten_thousand_characters_are_refused_at_once_in_a_short_message(piece):
    def refuse(characters: int) -> LengthNotUnderstood:
        with pytest.raises(LengthNotUnderstood) as refused:
            parse_length(piece * (characters // len(piece)))
        return refused.value

    assert len(str(refuse(10_000))) < 400
    # A hundred times the text may take a hundred times as long, and no more than its square root again.
    assert ratio(lambda: refuse(10_000), lambda: refuse(100), rounds=5) < 1000


PIECES = st.sampled_from(
    [
        "4",
        "8",
        "0",
        "12",
        "1/2",
        "½",
        " ",
        " ",
        "'",
        '"',
        "-",
        "–",
        " to ",
        "±",
        "ft",
        "in",
        "m",
        "mm",
        ".",
        ",",
        "/",
        "c.",
        "about ",
        "%",
        "°",
        ":",
        "²",
        "x",
        "\u202f",
        "435",
        "l",
        "e",
        "links",
        "and",
        "^",
    ]
)


@given(st.one_of(st.text(), st.lists(PIECES, max_size=10).map("".join)))
@example("1" * 200)
@example("0." + "0" * 190 + "1 mm")
def test_any_text_is_read_or_refused_and_nothing_else(text):
    try:
        length = parse_length(text)
    except LengthNotUnderstood:
        return
    assert 0 <= length.value_mm <= 1e10
    assert length.half_width_mm > 0


@given(st.integers(0, 9999), st.integers(0, 11), st.integers(0, 15))
def test_all_notations_of_one_length_agree(feet, inches, sixteenths):
    exact = feet * Fraction("304.8") + (inches + Fraction(sixteenths, 16)) * Fraction("25.4")
    notations = (
        f"{feet} ft {inches} {sixteenths}/16 in",
        f"{feet}'-{inches} {sixteenths}/16\"",
        f"{feet}′{inches} {sixteenths}⁄16",
        f"{feet}-{inches}-{sixteenths}/16",
    )
    assert {parse_length(text).value_mm for text in notations} == {float(exact)}
    assert {parse_length(text).resolution_mm for text in notations} == {25.4 / 16}


def test_a_drawing_may_use_its_own_foot():
    # The Danish foot of 12 inches, 313.85 mm: 2 ft 6 in is two and a half of them.
    danish = Fraction("313.85")
    assert parse_length("2 ft 6 in", foot_mm=danish).value_mm == pytest.approx(2.5 * 313.85, abs=1e-9)
    assert parse_length("2 m", foot_mm=danish).value_mm == 2000.0


def test_the_writing_itself_sets_limits():
    # A plain figure is good to half its last step, 'about' to one step, a written ± as it stands.
    assert parse_length("1.37 m").half_width_mm == 5.0
    assert parse_length("about 1.37 m").half_width_mm == 10.0
    assert parse_length("about 1.37 m ± 3 cm").half_width_mm == 30.0
    assert parse_length("1.36 to 1.38 m").half_width_mm == pytest.approx(10.0)
