"""What checks say of an instrument: right values by hand, and what must hold between readings it corrects."""

from __future__ import annotations

from math import inf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.errors import CannotEstimate
from archive.metrology.checks import Check, day_to_day, error_of_day, error_of_steady, verdict
from archive.metrology.instrument_kinds import instrument_kinds
from archive.metrology.instruments import instrument_check
from archive.metrology.readings import Limits, reading
from archive.metrology.sources import Doubtful, Source, covariance

TAPE_LIMITS = Limits(constant_mm=1.0, per_mm=0.001)


def check(reference: float, reads: float, n: int, step: float = 10.0, u: float = 0.5, day: str = "") -> Check:
    return Check(
        f"c{n}", Doubtful(reference, {Source("written limit", f"ref{n}"): u} if u else {}), reads, step, day
    )


def test_one_check_corrects_by_its_error():
    # The same as the bare function: u^2 = 2 step^2/12 + u_ref^2.
    checked = error_of_steady([check(2000, 2020, 0)], instrument="tape")
    corrected = reading(3540, of_record="r1", resolution_mm=10, instrument=checked.error)
    assert corrected.value == pytest.approx(3520)
    assert corrected.standard_uncertainty == pytest.approx(4.11299, abs=1e-5)
    assert not checked.scale_known


def test_with_limits_the_doubt_grows_away_from_the_checked_length():
    # By hand: the scale is known to 0.001/sqrt 3, so 2 m away it adds 2/sqrt 3 mm.
    checked = error_of_steady([check(1000, 1000, 0)], instrument="tape", limits=TAPE_LIMITS)
    near = reading(1000, of_record="r1", resolution_mm=10, instrument=checked.error).standard_uncertainty
    far = reading(3000, of_record="r1", resolution_mm=10, instrument=checked.error).standard_uncertainty
    assert sqrt(far**2 - near**2) == pytest.approx(2 / sqrt(3))


def test_two_checks_give_offset_and_scale():
    checked = error_of_steady([check(1000, 1010, 0), check(3000, 3030, 1)], instrument="tape")
    bare = instrument_check([1000, 3000], [1010, 3030], 0.5, 10, 2450)
    corrected = reading(2450, of_record="r1", resolution_mm=10, instrument=checked.error)
    assert corrected.value == pytest.approx(bare.corrected_mm)
    # A reference moves the fitted error by itself and not by (1 + b) of itself: 1 % of half a millimetre.
    assert corrected.standard_uncertainty == pytest.approx(bare.u, rel=1e-3)


def test_the_scatter_of_many_checks_is_that_of_the_worked_example():
    # s of the six checks about their line is 6.64 mm (case of six checks), dof 4; references exact.
    refs, reads = [500, 1000, 1500, 2000, 3000, 4000], [500, 1010, 1520, 2010, 3030, 4050]
    checks = [check(a, r, n, u=0.0) for n, (a, r) in enumerate(zip(refs, reads, strict=True))]
    checked = error_of_steady(checks, instrument="tape")
    bare = instrument_check(refs, reads, 0.0, 10, 2760)
    corrected = reading(2760, of_record="r1", resolution_mm=10, instrument=checked.error)
    assert not checked.agree
    assert corrected.value == pytest.approx(bare.corrected_mm)
    assert corrected.standard_uncertainty == pytest.approx(bare.u, rel=1e-9)
    assert min(s.degrees_of_freedom for s in corrected.sensitivities) == pytest.approx(4)


def test_checks_that_lie_on_a_line_within_their_steps_show_no_scatter():
    checks = [check(length, length + 3, n) for n, length in enumerate((500, 1500, 3000, 4000))]
    checked = error_of_steady(checks, instrument="tape", limits=TAPE_LIMITS)
    assert checked.agree
    assert checked.error.u_scatter_mm == 0
    assert all(s.degrees_of_freedom == inf for s in checked.error.offset_mm.sensitivities)


def test_limits_that_the_checks_belie_are_left_aside_and_it_is_said():
    checks = [check(length, 1.02 * length, n, step=1) for n, length in enumerate((500, 1500, 3000, 4000))]
    checked = error_of_steady(checks, instrument="tape", limits=TAPE_LIMITS)
    assert not checked.within_limits
    assert checked.error.scale.value == pytest.approx(0.02)


def test_readings_corrected_by_one_check_share_what_it_left_open():
    checked = error_of_steady([check(2000, 2007, 0)], instrument="tape", limits=TAPE_LIMITS)
    first = reading(2000, of_record="r1", resolution_mm=1, instrument=checked.error)
    second = reading(1990, of_record="r2", resolution_mm=1, instrument=checked.error)
    # The check's step and its reference.
    assert covariance(first, second) == pytest.approx(100 / 12 + 0.25, rel=1e-3)


def test_a_reference_of_two_instruments_is_a_source_of_both():
    reference = Doubtful(2743.0, {Source("written limit", "sill"): 0.6})
    tape = error_of_steady([Check("c1", reference, 2750, 1)], instrument="tape")
    laser = error_of_steady([Check("c2", reference, 2741, 1)], instrument="laser")
    assert covariance(tape.error.offset_mm, laser.error.offset_mm) == pytest.approx(0.36)


def test_a_steady_instruments_verdict_says_how_long_it_reads_and_where():
    # By hand: 7 mm; rectangle of the step, half-width 5 mm: 95 % of it is 4.75.
    said = verdict(error_of_steady([check(2743, 2750, 0, u=0.0)], instrument="tape"))
    assert (said.near_mm, said.error_mm) == (2743, 7)
    assert said.half_width_mm == pytest.approx(4.75, abs=0.01)
    assert verdict(error_of_steady([check(2743, 2750, 0)], instrument="tape"), 4000).beyond_checks


PHONE_LIMITS = Limits(constant_mm=0.0, per_mm=0.05)


def test_a_changing_instruments_check_serves_its_own_day_only():
    checks = [check(2000, 2060, 0, day="17 June")]
    own_day = error_of_day(checks, "17 June", instrument="phone", limits=PHONE_LIMITS)
    next_day = error_of_day(checks, "18 June", instrument="phone", limits=PHONE_LIMITS)
    assert own_day.error.at_mm(2000).value == pytest.approx(60)
    assert next_day.error.at_mm(2000).value == 0
    assert covariance(own_day.error.at_mm(2000), next_day.error.at_mm(2000)) == 0


def test_checked_days_narrow_or_widen_the_limits_between_days():
    # By hand: limit u at 2 m is 100/sqrt 3; errors of 20 mm on 4 days: (8 + 4 * 0.12) / 12.
    checks = [check(2000, 2000 + e, n, day=str(n)) for n, e in enumerate((20, -20, 20, -20))]
    spread = day_to_day(checks, PHONE_LIMITS)
    assert spread.scale == pytest.approx(0.05 / sqrt(3) * sqrt(8.48 / 12))
    assert (spread.days, spread.degrees_of_freedom) == (4, 12)
    wild = [check(2000, 2000 + 10 * e, n, day=str(n)) for n, e in enumerate((20, -20, 20, -20))]
    assert day_to_day(wild, PHONE_LIMITS).scale > 0.05 / sqrt(3)


def test_without_limits_two_checked_days_say_how_it_scatters_and_one_says_nothing():
    checks = [check(2000, 2020, 0, day="a"), check(1000, 990, 1, day="b")]
    assert day_to_day(checks).scale == pytest.approx(0.01)
    assert day_to_day(checks[:1]).scale == 0
    assert not error_of_day(checks[:1], "c", instrument="phone").scale_known


def test_no_check_and_a_reference_of_nothing_are_refused():
    with pytest.raises(CannotEstimate, match="no check of this instrument"):
        error_of_steady([], instrument="tape")
    with pytest.raises(CannotEstimate, match="must be more than 0"):
        error_of_steady([check(0, 1, 0)], instrument="tape")


@given(
    st.lists(st.tuples(st.floats(500, 5000), st.floats(-20, 20)), min_size=1, max_size=6),
    st.floats(0.5, 2.0),
)
def test_scaling_all_lengths_scales_what_is_corrected(pairs, factor):
    def corrected(by: float) -> Doubtful:
        checks = [check(by * r, by * (r + e), n, step=by, u=by / 2) for n, (r, e) in enumerate(pairs)]
        error = error_of_steady(checks, instrument="tape", limits=TAPE_LIMITS).error
        return reading(by * 2500, of_record="r1", resolution_mm=by, instrument=error)

    plain, scaled = corrected(1.0), corrected(factor)
    assert scaled.value == pytest.approx(factor * plain.value, rel=1e-6)
    assert scaled.standard_uncertainty == pytest.approx(factor * plain.standard_uncertainty, rel=1e-4)


def test_every_kind_of_instrument_has_limits_and_says_where_they_come_from():
    kinds = instrument_kinds()
    assert {"steel tape", "cloth tape", "laser", "phone", "calliper", "printed drawing", "book"} <= set(kinds)
    for kind in kinds.values():
        assert kind.limits(drawing_ratio=48).at_mm(2000) > 0
        assert kind.why
    assert [kind.id for kind in kinds.values() if not kind.steady] == ["phone"]


def test_a_drawing_is_trusted_by_its_scale():
    # By hand: a line of 0.4 mm at 1:48.
    assert instrument_kinds()["printed drawing"].limits(48).constant_mm == pytest.approx(19.2)
    with pytest.raises(CannotEstimate, match="depends on its scale"):
        instrument_kinds()["printed drawing"].limits()
