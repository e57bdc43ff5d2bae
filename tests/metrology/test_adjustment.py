"""Sizes adjusted to sums that must come out, correlation kept, and a blunder among them sought."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import CannotEstimate
from archive.metrology.adjustment import adjust, adjust_constraints
from archive.metrology.sources import Doubtful, Source, covariance, linear

TAPE = Source("scale", "tape")


def own(value: float, u: float, name: str) -> Doubtful:
    return Doubtful(value, {Source("rounding", name): u})


def test_a_misclosure_is_shared_out_by_variance():
    # By hand: two bays with variance 4, an overall with 1; 9 mm too much is shared 4, 4 and 1.
    adjusted = adjust(
        [own(1000, 2, "a"), own(1000, 2, "b"), own(1991, 1, "c")], [[1, 1, -1]], [0], of_record="s1"
    )

    assert [size.value for size in adjusted.sizes] == pytest.approx([996, 996, 1992])
    assert adjusted.chi2 == pytest.approx(9)
    assert adjusted.redundancy == pytest.approx([4 / 9, 4 / 9, 1 / 9])


def test_it_says_the_same_as_the_bare_adjustment_of_independent_readings():
    names, values, u = ["a", "b", "c", "d"], [1002, 999, 2003, 3001], [3, 2, 4, 3]
    matrix, rhs = [[1, 1, -1, 0], [0, 1, 1, -1]], [0, 2]
    bare = adjust_constraints(names, values, u, matrix, rhs)
    adjusted = adjust(
        [own(v, s, n) for n, v, s in zip(names, values, u, strict=True)], matrix, rhs, of_record="s1"
    )

    assert adjusted.agree
    assert [s.value for s in adjusted.sizes] == pytest.approx(bare.adjusted_mm)
    assert [s.standard_uncertainty for s in adjusted.sizes] == pytest.approx(bare.u_adjusted_mm)
    assert adjusted.normalised_residual == pytest.approx(bare.normalised_residual)


def test_with_one_sum_a_blunder_is_seen_but_cannot_be_placed():
    adjusted = adjust(
        [own(1000, 2, "a"), own(1000, 2, "b"), own(2050, 2, "c")], [[1, 1, -1]], [0], of_record="s1"
    )
    assert not adjusted.agree
    assert adjusted.suspects == (0, 1, 2)


def test_with_more_sums_the_one_that_does_not_fit_is_named():
    sizes = [own(1000, 2, "a"), own(1046, 2, "b"), own(1001, 2, "c"), own(2001, 3, "ab"), own(2000, 3, "bc")]
    adjusted = adjust(sizes, [[1, 1, 0, -1, 0], [0, 1, 1, 0, -1]], [0, 0], of_record="s1")
    assert adjusted.suspects == (1,)


def test_sums_that_do_not_come_out_leave_more_doubt_and_still_close_exactly():
    sizes = [own(1000, 2, "a"), own(1000, 2, "b"), own(2050, 2, "c")]
    adjusted = adjust(sizes, [[1, 1, -1]], [0], of_record="s1")
    # By hand: Q_x of a is 4 - 4/3, and chi-square 2500/12 with one degree widens it.
    assert adjusted.sizes[0].standard_uncertainty == pytest.approx(sqrt((4 - 4 / 3) * 2500 / 12))
    closing = linear(zip([1, 1, -1], adjusted.sizes, strict=True))
    assert closing.value == pytest.approx(0, abs=1e-9)
    assert closing.standard_uncertainty == pytest.approx(0, abs=1e-9)


def test_a_common_scale_error_does_not_make_a_sum_of_one_tape_come_out_wrong():
    # All three lean on one tape; its scale goes out of the closing, so 3 mm over tells of rounding alone.
    sizes = [
        Doubtful(1000, {Source("rounding", "a"): 1.0, TAPE: 5.0}),
        Doubtful(1000, {Source("rounding", "b"): 1.0, TAPE: 5.0}),
        Doubtful(2003, {Source("rounding", "c"): 1.0, TAPE: 10.0}),
    ]
    adjusted = adjust(sizes, [[1, 1, -1]], [0], of_record="s1")
    assert adjusted.chi2 == pytest.approx(9 / 3)
    assert covariance(adjusted.sizes[2], Doubtful(0, {TAPE: 1.0})) == pytest.approx(10)


def test_an_exact_size_stays_as_it_is():
    adjusted = adjust([own(1000, 2, "a"), Doubtful(1003, {})], [[1, -1]], [0], of_record="s1")
    assert [size.value for size in adjusted.sizes] == pytest.approx([1003, 1003])


def test_exact_sizes_that_break_a_sum_are_refused():
    with pytest.raises(CannotEstimate, match="cannot all come out"):
        adjust([Doubtful(34, {}), Doubtful(36, {})], [[1, -1]], [0], of_record="s1")


def test_a_sum_that_was_worked_out_from_its_own_parts_says_nothing_and_harms_nothing():
    part = own(150, 2, "a")
    adjusted = adjust([part, linear([(5, part)])], [[5, -1]], [0], of_record="s1")
    assert [s.value for s in adjusted.sizes] == pytest.approx([150, 750])
    assert (adjusted.dof, adjusted.agree) == (0, True)


@given(
    st.lists(st.tuples(st.floats(100, 5000), st.floats(0.1, 20)), min_size=2, max_size=6), st.floats(-30, 30)
)
def test_an_adjusted_sum_comes_out_and_no_size_becomes_less_sure(parts, over):
    sizes = [own(value, u, str(n)) for n, (value, u) in enumerate(parts)]
    sizes.append(own(sum(value for value, _ in parts) + over, 3.0, "overall"))
    adjusted = adjust(sizes, [[*[1] * len(parts), -1]], [0], of_record="s1")

    total = sum(size.value for size in adjusted.sizes[:-1])
    assert total == pytest.approx(adjusted.sizes[-1].value)
    if adjusted.agree:
        for before, after in zip(sizes, adjusted.sizes, strict=True):
            assert after.standard_uncertainty <= before.standard_uncertainty * (1 + 1e-9)
