"""The best figure of a size: repeats, limits nobody stated, and readings that do not agree."""

from __future__ import annotations

import subprocess
import sys
from math import sqrt
from pathlib import Path

import pytest
from wendle_basin import new_archive

from archive.dimensions.overview import SizeLine, size_labelled, sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.sums import work_out_size
from archive.records.archive import Archive
from archive.records.entering import enter_instrument, enter_subject


@pytest.fixture
def hut(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, "Weighbridge hut")
        enter_instrument(archive, "rod", resolution="1mm")
        enter_instrument(archive, "tape", kind="tape", resolution="1mm")
        enter_instrument(archive, "phone", kind="phone")
        yield archive


def note(archive: Archive, label: str, *written: str, **how: str) -> SizeLine:
    """Write readings down, and return the size as it is shown afterwards."""
    for each in written:
        record_reading(archive, "Weighbridge hut", label, each, **how)
    return next(line for line in sizes_of(archive, "Weighbridge hut").lines if line.dimension.label == label)


def u_of(line: SizeLine) -> float:
    assert line.estimate is not None
    return line.estimate.standard_uncertainty


def warned(line: SizeLine) -> dict[str, str]:
    assert line.estimate is not None
    return {w.code: w.message for w in line.estimate.warnings}


def test_sizes_of_two_processes_share_the_tape_where_they_meet_in_a_third(hut: Archive) -> None:
    noting = ["size", "add", "Weighbridge hut", "left half", "2000 mm", "--with", "tape"]
    subprocess.run(
        [sys.executable, "-m", "archive", "--archive", str(hut.folder), *noting],
        check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    note(hut, "right half", "2000 mm", instrument="tape")
    both = work_out_size(hut, "Weighbridge hut", "both halves", "left half + right half").estimate

    # By hand: offset 1 mm and scale 0.6 mm/m are the same tape's in both, so they add; the roundings do not.
    assert both.standard_uncertainty == pytest.approx(sqrt(2**2 / 3 + 2.4**2 / 3 + 2 / 12))


def test_three_repeats_are_as_sure_as_their_scatter_says(hut: Archive) -> None:
    line = note(hut, "length", "2734 mm", "2735 mm", "2736 mm", instrument="rod")

    # By hand: s = 1, u = 1/sqrt 3, and Student's t for 2 degrees of freedom is 4.3027.
    assert line.estimate is not None
    assert line.estimate.value == pytest.approx(2735)
    assert u_of(line) == pytest.approx(1 / sqrt(3))
    assert line.estimate.high_95 - 2735 == pytest.approx(4.3027 / sqrt(3), rel=1e-4)
    assert line.estimate.readings == 3


def test_reading_the_same_figure_again_does_not_make_the_step_finer(hut: Archive) -> None:
    once = u_of(note(hut, "length", "2734 mm", instrument="rod"))
    again = u_of(note(hut, "length", "2734 mm", "2734 mm", instrument="rod"))

    assert once == again == pytest.approx(1 / sqrt(12))


def test_readings_of_another_day_or_with_another_instrument_are_no_repeats(hut: Archive) -> None:
    note(hut, "length", "2734 mm", instrument="rod", on="2023-06-17")
    line = note(hut, "length", "2734 mm", instrument="rod", on="2024-09-08")

    # By hand: two independent roundings.
    assert u_of(line) == pytest.approx(1 / sqrt(12) / sqrt(2))


def test_an_instrument_without_a_limit_has_that_of_its_kind(hut: Archive) -> None:
    line = note(hut, "length", "2000 mm", instrument="tape")

    # A steel tape in the hand: 1 mm + 0.6 mm per metre, each a rectangle; and half a millimetre of rounding.
    assert u_of(line) == pytest.approx(sqrt(1 / 3 + 1.2**2 / 3 + 1 / 12))


def test_a_phone_reads_to_its_kinds_step_and_changes_from_day_to_day(hut: Archive) -> None:
    line = note(hut, "length", "1.765 m", instrument="phone")

    # 10 mm + 5 % and steps of 10 mm, however many digits it shows.
    assert u_of(line) == pytest.approx(sqrt((10**2 + 88.25**2) / 3 + 100 / 12))
    with hut.look() as look:
        from archive.records.instruments import instrument_named

        assert not instrument_named(look, "phone").steady


def test_an_angle_is_not_judged_by_a_limit_in_millimetres(hut: Archive) -> None:
    line = note(hut, "roof angle", "42°", instrument="tape")

    assert u_of(line) == pytest.approx(1 / sqrt(12))


def test_two_readings_that_do_not_agree_are_both_named_with_how_far_they_are_apart(hut: Archive) -> None:
    note(hut, "width", "2734 mm", instrument="rod")
    line = note(hut, "width", "2.47 m ± 1 cm", instrument="phone")

    # By hand: 264 mm apart; the phone's 10 mm + 5 % and the ± written give u = 71.8 mm, so 1.96 u is 141 mm.
    message = warned(line)["readings-disagree"]
    assert message.startswith(
        "'2734 mm' (rod) and '2.47 m ± 1 cm' (phone) do not agree: they are 260 mm apart"
    )
    assert "allow 140 mm" in message
    assert "third reading" in message
    assert line.estimate is not None
    assert line.estimate.agree is False


def test_the_reading_that_does_not_fit_the_others_is_named_with_how_far_off_it_is(hut: Archive) -> None:
    note(hut, "width", "2734 mm", instrument="rod", on="2023-06-17")
    note(hut, "width", "2734 mm", instrument="tape")
    line = note(hut, "width", "2474 mm ± 1 mm")

    # By hand: the others together say 2734 mm, with u 0.28 mm, nearly all by the rod;
    # with 1/sqrt 3 of the odd one 0.64 mm, so the difference is known to 1.96 x 0.64 mm.
    message = warned(line)["readings-disagree"]
    assert message.startswith("'2474 mm ± 1 mm' does not fit: it says 260.0 mm ± 1.3 mm less than the other")


def test_a_repeat_that_was_misread_is_named(hut: Archive) -> None:
    line = note(hut, "width", "2734 mm", "2734 mm", "2743 mm", instrument="tape")

    # The tape may be 1 mm + 1.6 mm off either way, and steps are 1 mm: repeats lie within 6.3 mm.
    message = warned(line)["repeats-disagree"]
    assert "lie 9 mm apart" in message
    assert "'2743 mm' was misread" in message
    assert line.estimate is not None
    assert line.estimate.agree is False


# The figure that its works may have drawn


def drawn(archive: Archive, label: str, *written: str, **how: str) -> list[str]:
    """Write readings down, and return the round figures that are offered with the size."""
    note(archive, label, *written, **how)
    (line,) = size_labelled(archive, "Weighbridge hut", label).lines
    return [figure.as_drawn for figure in line.drawn]


def test_the_round_figures_that_fit_are_offered_and_the_size_stays_as_it_was_measured(hut: Archive) -> None:
    assert drawn(hut, "plank width", "139 mm ± 2 mm", instrument="rod") == ["5½ in", "140 mm"]
    assert note(hut, "plank width").estimate.value_mm == 139.0


def test_no_figure_is_offered_where_readings_disagree_or_where_it_is_published_or_no_length(
    hut: Archive,
) -> None:
    assert drawn(hut, "height", "9ft 0in", "9ft 3in", instrument="rod") == []
    assert drawn(hut, "gauge", "4ft 8½in", grade="published", rests_on="the canal company's list") == []
    assert drawn(hut, "step count", "5") == []
