"""What several readings of one size say together, and the laws that must hold for it."""

from __future__ import annotations

import pickle
from math import inf, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import CannotEstimate
from archive.metrology.agreement import combine, generalised_mean
from archive.metrology.means import weighted_mean
from archive.metrology.sources import Doubtful, Source, covariance, linear


def own(value: float, u: float, name: str) -> Doubtful:
    return Doubtful(value, {Source("rounding", name): u})


lengths = st.floats(1.0, 30_000.0)
doubts = st.floats(0.05, 50.0)
shared = st.floats(-50.0, 50.0)


@st.composite
def readings_with_shared_sources(draw: st.DrawFn) -> list[Doubtful]:
    """Readings about one length, each with a doubt of its own and with shares of two common sources."""
    around = draw(lengths)
    count = draw(st.integers(2, 7))
    return [
        Doubtful(
            around + draw(st.floats(-100.0, 100.0)),
            {
                Source("rounding", f"r{n}"): draw(doubts),
                Source("offset", "tape"): draw(shared),
                Source("scale", "tape"): draw(shared),
            },
        )
        for n in range(count)
    ]


def test_two_readings_are_weighted_by_how_well_each_is_known():
    # By hand: weights 1/9 and 1/16, u = 3*4/5, chi-square = 10^2 / (9 + 16) = 4, Birge 2.
    combined = combine([own(5010, 3, "r1"), own(5020, 4, "r2")], of_record="d1")

    assert combined.value == pytest.approx(5013.6)
    assert combined.weights == pytest.approx((0.64, 0.36))
    assert combined.u_internal == pytest.approx(2.4)
    assert combined.chi2 == pytest.approx(4.0)
    assert combined.u_reported == pytest.approx(4.8)


def test_a_reading_that_has_nearly_all_the_weight_still_lies_as_far_from_the_others():
    # By hand: of two readings each lies (x1 - x2)/sqrt(u1^2 + u2^2) from the other, whatever their weights.
    mean = weighted_mean([1000.0, 1007.0], [1e-9, 3.5])

    assert mean.normalised_deviation == pytest.approx((-2.0, 2.0))


def test_two_that_disagree_are_both_named_as_neither_can_be_told_to_be_wrong():
    combined = combine([own(5010, 3, "r1"), own(5030, 4, "r2")], of_record="d1")

    assert not combined.agree
    assert [d.index for d in combined.doubted] == [0, 1]
    assert [d.off_by for d in combined.doubted] == pytest.approx([-20, 20])
    assert combined.doubted[0].u == pytest.approx(5)


def test_the_one_of_four_that_does_not_fit_is_named_with_how_far_it_is_off():
    # The others: weights 16, 36 and 9 parts of 61, variance 144/61; the doubted one's own is 25.
    combined = combine(
        [own(3050, 3, "a"), own(3048, 2, "b"), own(3081, 5, "c"), own(3052, 4, "d")], of_record="d1"
    )

    (doubted,) = combined.doubted
    assert doubted.index == 2
    assert doubted.off_by == pytest.approx(3081 - (16 * 3050 + 36 * 3048 + 9 * 3052) / 61)
    assert doubted.u == pytest.approx(sqrt(25 + 144 / 61))


def test_scatter_beyond_the_stated_doubts_is_one_more_source_and_others_keep_theirs():
    combined = combine([own(5010, 3, "r1"), own(5020, 4, "r2")], of_record="d1")

    by_kind = {source.kind: share for source, share in combined.result.shares()}
    assert by_kind["disagreement"] == pytest.approx(0.75)  # Birge 2: (4 - 1) / 4 of the variance


def test_one_reading_alone_is_the_figure():
    only = own(2743, 2, "r1")
    assert combine([only], of_record="d1").result == only


def test_counts_that_agree_are_exact_and_one_that_differs_makes_them_doubtful():
    assert combine([Doubtful(34, {}), Doubtful(34, {})], of_record="d1").result == Doubtful(34.0, {})
    differ = combine([Doubtful(34, {}), Doubtful(36, {})], of_record="d1")
    assert (differ.value, differ.u_reported, differ.agree, differ.chi2) == (35, 1, False, inf)


def test_an_exact_reading_takes_all_the_weight_and_judges_the_others():
    combined = combine([own(1225, 1, "r1"), Doubtful(1219.2, {})], of_record="d1")
    assert (combined.value, combined.u_internal, combined.agree) == (1219.2, 0, False)
    assert [d.index for d in combined.doubted] == [0]


def test_the_same_figure_worked_out_twice_from_one_source_counts_once():
    same = Doubtful(2000, {Source("mark", "m1"): 3.0, Source("mark", "m2"): 4.0})
    combined = combine([same, same], of_record="d1")
    assert (combined.value, combined.u_internal) == pytest.approx((2000, 5))


def test_two_that_share_all_their_doubt_and_yet_differ_are_refused():
    tape = Source("scale", "tape")
    with pytest.raises(CannotEstimate, match="share all their doubt") as refused:
        combine([Doubtful(3050, {tape: 3.0}), Doubtful(3056, {tape: 3.0})], of_record="d1")
    assert refused.value.code == "singular-covariance"


def test_no_reading_gives_no_figure():
    with pytest.raises(CannotEstimate, match="no reading"):
        combine([], of_record="d1")


@given(readings_with_shared_sources(), st.randoms())
def test_the_order_of_the_readings_does_not_matter(readings, shuffler):
    first = combine(readings, of_record="d1")
    shuffler.shuffle(readings)
    second = combine(readings, of_record="d1")
    assert second.value == pytest.approx(first.value, abs=1e-5 * first.u_internal + 1e-6)
    assert second.u_reported == pytest.approx(first.u_reported, rel=1e-5)
    assert second.chi2 == pytest.approx(first.chi2, rel=1e-5, abs=1e-6)


@given(readings_with_shared_sources())
def test_another_reading_never_raises_the_internal_uncertainty(readings):
    fewer = combine(readings[:-1], of_record="d1")
    assert combine(readings, of_record="d1").u_internal <= fewer.u_internal * (1 + 1e-7)


@given(readings_with_shared_sources(), st.floats(0.01, 100.0))
def test_scaling_all_lengths_scales_the_result(readings, factor):
    plain = combine(readings, of_record="d1")
    scaled = combine([linear([(factor, r)]) for r in readings], of_record="d1")
    assert scaled.value == pytest.approx(factor * plain.value, abs=factor * (1e-5 * plain.u_internal + 1e-6))
    assert scaled.u_reported == pytest.approx(factor * plain.u_reported, rel=1e-5)


@given(doubts, doubts, st.floats(0.1, 50.0))
def test_a_shared_offset_does_not_average_away(u_first, u_second, u_offset):
    offset = Source("offset", "tape")
    readings = [
        Doubtful(2743, {Source("rounding", "r1"): u_first, offset: u_offset}),
        Doubtful(2744, {Source("rounding", "r2"): u_second, offset: u_offset}),
    ]
    assert combine(readings, of_record="d1").u_internal >= u_offset


@given(readings_with_shared_sources())
def test_the_sum_over_own_and_shared_doubts_is_that_over_the_whole_covariance(readings):
    whole = generalised_mean(
        np.array([r.value for r in readings]),
        np.array([[covariance(a, b) for b in readings] for a in readings]),
    )
    combined = combine(readings, of_record="d1")
    assert combined.value == pytest.approx(whole.value, abs=1e-6 * whole.u)
    assert combined.u_internal == pytest.approx(whole.u, rel=1e-6)
    assert combined.chi2 == pytest.approx(whole.chi2, rel=1e-6, abs=1e-6)
    assert combined.weights == pytest.approx(whole.weights.tolist(), rel=1e-6, abs=1e-6)


@given(readings_with_shared_sources())
def test_a_figure_stored_in_one_process_keeps_its_correlation_in_another(readings):
    tape_reading = Doubtful(1000, {Source("rounding", "other"): 1.0, Source("offset", "tape"): 2.0})
    here = combine(readings, of_record="d1").result
    there = pickle.loads(pickle.dumps(here))
    assert covariance(there, tape_reading) == covariance(here, tape_reading)
    assert linear([(1, there), (-1, here)]).standard_uncertainty == 0
