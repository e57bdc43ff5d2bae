"""Sums that people write: how they are read, what they come to, and where a bad one is pointed at."""

from __future__ import annotations

from itertools import pairwise
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import CannotEstimate, NotationNotUnderstood
from archive.metrology.notation import SizeName, parse_expression, parse_tally
from archive.metrology.sources import Doubtful, Source
from archive.metrology.tallies import conditions, dimension_of, order_of_recompute, work_out


def signed(tally) -> list[tuple[float, str | None]]:
    return [(t.coefficient, t.times[0].label if t.times else None) for t in tally.terms]


def test_a_tally_is_read_as_terms_that_add_up_to_nothing():
    assert signed(parse_tally("3 x bay + 2 x post = overall")) == [(3, "bay"), (2, "post"), (-1, "overall")]
    assert signed(parse_tally("bay − 25.4 mm = 2 × half bay")) == [
        (1, "bay"),
        (-25.4, None),
        (-2, "half bay"),
    ]
    assert signed(parse_tally("1 ft 6 in + sill = 6' 6\"")) == [(457.2, None), (1, "sill"), (-1981.2, None)]


def test_a_label_that_holds_a_sign_is_quoted_and_another_subject_goes_before_a_colon():
    tally = parse_tally('Weighbridge hut: door width + “jamb + post” = "Wharf: crane": "top - end"')
    assert tally.names == (
        SizeName("door width", "Weighbridge hut"),
        SizeName("jamb + post"),
        SizeName("top - end", "Wharf: crane"),
    )


def test_hyphens_apostrophes_and_an_x_inside_a_label_are_no_signs():
    assert parse_tally("x-brace + driver's seat = half-width").names == (
        SizeName("x-brace"),
        SizeName("driver's seat"),
        SizeName("half-width"),
    )


@pytest.mark.parametrize(
    ("text", "at", "why"),
    [
        ("3 x bay + 2 x post", "", "nothing says what the sum comes to"),
        ("a = b = c", "c", "a second ="),
        ("a + = c", "= c", "missing here"),
        ("a + b =", "", "missing here"),
        ("= b", "= b", "missing here"),
        ("3x bay = c", "3x", "runs together"),
        ("bay+post = c", "+post", "stands inside a label"),
        ("bay x post = c", "bay", "only adds and takes away"),
        ("bay / 2 = rise / run", "rise", "only adds and takes away"),
        ("b + 18ft 6im = c", "18ft", "'im' is not a unit"),
        ("b + 2 m ± 3 mm = c", "2 m", "counts as exact"),
        ("0 x a = b", "0 x", "says nothing"),
        ('b + "a = c', '"a', "not closed"),
        ('"a" b = c', " b", "something follows the quotes"),
        ("3 m = 2 m", "3 m", "names no size"),
        ("a: b: c = d", "a:", "named by its label"),
        ("", "", "missing here"),
    ],
)
def test_a_bad_tally_is_refused_and_the_place_pointed_at(text, at, why):
    with pytest.raises(NotationNotUnderstood, match="nothing was saved") as refused:
        parse_tally(text)
    assert why in str(refused.value)
    assert refused.value.column == (text.rindex(at) if at else len(text))


@given(st.text(alphabet="ab 3x×+-=/:\"“”'.,mft½±", max_size=60))
def test_any_text_is_read_or_refused_in_words(text):
    for parse in (parse_tally, parse_expression):
        try:
            names, column = parse(text).names, 0
        except NotationNotUnderstood as refused:
            names, column = (), refused.column
        assert 0 <= column <= len(text)
        assert all(name.label for name in names)


def test_tallies_become_conditions_on_the_sizes_they_name():
    tallies = [parse_tally("3 x bay + 40 mm = overall"), parse_tally("bay + Bay = half")]
    keys, matrix, rhs = conditions(tallies, lambda name: name.label.casefold())
    assert keys == ["bay", "overall", "half"]
    assert matrix == [[3, -1, 0], [2, 0, -1]]
    assert rhs == [-40, 0]


SIZES = {
    "door board": Doubtful(150.0, {Source("rounding", "r1"): 2.0}),
    "course": Doubtful(75.0, {Source("rounding", "r2"): 0.3}),
    "course count": Doubtful(34.0, {}),
    "rise": Doubtful(300.0, {Source("scale", "tape"): 3.0}),
    "run": Doubtful(1200.0, {Source("scale", "tape"): 12.0}),
    "nothing": Doubtful(0.0, {}),
}


def worked_out(text: str) -> Doubtful:
    return work_out(parse_expression(text), lambda name: SIZES[name.label])


def test_five_boards_carry_five_times_the_doubt_of_one():
    five = worked_out("5 x door board")
    assert (five.value, five.standard_uncertainty) == (750, pytest.approx(10))


def test_a_spacing_is_multiplied_by_a_count():
    wall = worked_out("course x course count - 25 mm")
    assert (wall.value, wall.standard_uncertainty) == (2525, pytest.approx(10.2))


def test_a_common_scale_error_goes_out_of_a_ratio_and_adds_up_in_a_sum():
    assert worked_out("rise / run").standard_uncertainty == pytest.approx(0, abs=1e-12)
    assert worked_out("rise / run").value == 0.25
    assert worked_out("rise + run").standard_uncertainty == pytest.approx(15)


def test_a_product_of_two_doubtful_sizes_keeps_both_parts():
    # By hand, JCGM 100:2008, 5.1.2: 150 * 0.3 and 75 * 2.
    assert worked_out("door board x course").standard_uncertainty == pytest.approx(sqrt(45**2 + 150**2))


def test_dividing_by_a_size_that_is_nothing_is_refused():
    with pytest.raises(CannotEstimate, match="divides by a size that is 0"):
        worked_out("rise / nothing")


def dimension(name: SizeName) -> str:
    return {"course count": "number", "batter angle": "angle"}.get(name.label, "length")


def test_a_sum_comes_to_a_length_a_number_or_an_angle():
    assert dimension_of(parse_expression("course x course count + 3 m"), dimension) == "length"
    assert dimension_of(parse_expression("rise / run"), dimension) == "number"
    assert dimension_of(parse_expression("batter angle / 2"), dimension) == "angle"
    assert dimension_of(parse_tally("course count + 2 = 36"), dimension) == "number"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("rise x run", "neither a length"),
        ("rise + course count", "a number, and what stands before it a length"),
    ],
)
def test_areas_and_unlike_summands_are_refused(text, why):
    with pytest.raises(NotationNotUnderstood, match=why):
        dimension_of(parse_expression(text), dimension)


def test_sizes_are_recomputed_after_those_they_lean_on():
    order = order_of_recompute({"overall": ["bay", "post"], "bay": ["board"]})
    assert order.index("board") < order.index("bay") < order.index("overall")


def test_a_size_that_leans_on_itself_is_refused_with_the_path_named():
    with pytest.raises(CannotEstimate, match=r"here .*\. Nothing was changed") as refused:
        order_of_recompute({"bay": ["board"], "board": ["overall"], "overall": ["bay"], "post": []})
    assert refused.value.code == "cycle"
    path = str(refused.value).split("here ")[1].split(". Nothing")[0].split(" leans on ")
    leans = {("bay", "board"), ("board", "overall"), ("overall", "bay")}
    assert set(pairwise(path)) == leans
