"""Sizes worked out from sizes: right, correlated, following, never from themselves."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest
from wendle_basin import new_archive
from wharf_of_files import records_in

from archive.dimensions.overview import SizeLine, sizes_of
from archive.dimensions.putting_right import amend_size, remove_subject
from archive.dimensions.readings import record_reading
from archive.dimensions.sums import work_out_size
from archive.dimensions.tallying import add_tally
from archive.dimensions.undoing import undo
from archive.errors import CannotEstimate, NotAccepted, NotationNotUnderstood, SizesInACircle
from archive.metrology.sources import covariance
from archive.records.archive import Archive
from archive.records.entering import enter_instrument, enter_subject
from archive.records.things import Estimate

HUT = "Weighbridge hut"


@pytest.fixture
def hut(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, HUT)
        archive.begin_act()
        yield archive


def note(archive: Archive, **written: str) -> None:
    for label, text in written.items():
        record_reading(archive, HUT, label.replace("_", " "), text)
    archive.begin_act()


def line(archive: Archive, label: str) -> SizeLine:
    return next(each for each in sizes_of(archive, HUT).lines if each.dimension.label == label)


def best(archive: Archive, label: str) -> Estimate:
    found = line(archive, label).estimate
    assert found is not None
    return found


def test_the_doubt_of_a_spacing_is_multiplied_by_the_count(hut: Archive) -> None:
    note(hut, door_board="139 mm ± 1 mm")
    done = work_out_size(hut, HUT, "door width", "5 x door board")

    assert best(hut, "door width").value == pytest.approx(695)
    assert best(hut, "door width").standard_uncertainty == pytest.approx(5 / sqrt(3))
    assert best(hut, "door width").grade == "worked out"
    assert (done.reading.as_written, done.reading.value_mm) == ("5 x door board", pytest.approx(695))


def test_counts_multiply_and_ratios_have_no_unit(hut: Archive) -> None:
    note(hut, course="76.2 mm ± 1 mm", course_count="20 ± 1", rise="500 mm ± 5 mm", run="1000 mm ± 5 mm")
    work_out_size(hut, HUT, "wall height", "course x course count")
    work_out_size(hut, HUT, "roof slope", "rise / run")

    # By hand: 20/sqrt 3 and 76.2/sqrt 3 mm in quadrature; 5/1000 and 0.5 x 5/1000, each / sqrt 3.
    assert best(hut, "wall height").value == pytest.approx(1524)
    assert best(hut, "wall height").standard_uncertainty == pytest.approx(sqrt(20**2 + 76.2**2) / sqrt(3))
    slope = best(hut, "roof slope")
    assert (slope.quantity, slope.value, slope.value_mm) == ("slope", pytest.approx(0.5), None)
    assert slope.standard_uncertainty == pytest.approx(sqrt(0.005**2 + 0.0025**2) / sqrt(3))


def test_what_is_worked_out_stays_correlated_with_what_it_comes_from(hut: Archive) -> None:
    enter_instrument(hut, "old tape", resolution="1mm", limit="20 mm")
    record_reading(hut, HUT, "overall", "2646 mm", instrument="old tape")
    record_reading(hut, HUT, "wing", "1000 mm", instrument="old tape")
    work_out_size(hut, HUT, "rest", "overall - wing")

    # The tape's offset goes out of the difference: left are two roundings.
    assert best(hut, "rest").standard_uncertainty == pytest.approx(1 / sqrt(6))
    overall, rest = line(hut, "overall").ledger, line(hut, "rest").ledger
    assert overall is not None
    assert rest is not None
    assert covariance(overall, rest) == pytest.approx(1 / 12)


def test_it_follows_when_a_size_changes_over_any_number_of_steps(hut: Archive) -> None:
    note(hut, board="139 mm")
    work_out_size(hut, HUT, "door width", "5 x board")
    work_out_size(hut, HUT, "door pair", "2 x door width")
    amend_size(hut, HUT, "board", "140 mm")

    assert best(hut, "door width").value == pytest.approx(700)
    assert best(hut, "door pair").value == pytest.approx(1400)


def test_it_follows_what_a_tally_changes(hut: Archive) -> None:
    note(hut, board="139 mm ± 3 mm", five="700.0 mm ± 0.001 mm")
    work_out_size(hut, HUT, "door pair", "10 x board")
    add_tally(hut, HUT, "5 x board = five")

    assert best(hut, "door pair").value == pytest.approx(1400, abs=0.1)


def test_a_circle_is_refused_and_its_path_named(hut: Archive) -> None:
    note(hut, board="139 mm")
    work_out_size(hut, HUT, "door width", "5 x board")
    work_out_size(hut, HUT, "door pair", "2 x door width")
    before = records_in(hut.folder)
    with pytest.raises(SizesInACircle) as refused:
        work_out_size(hut, HUT, "board", "door pair / 10")

    assert set(refused.value.path) == {f"'{x}' of {HUT}" for x in ("board", "door width", "door pair")}
    with pytest.raises(SizesInACircle):
        work_out_size(hut, HUT, "board", "board + 1 mm")
    with pytest.raises(SizesInACircle):  # what is worked out from a size cannot be held against it
        add_tally(hut, HUT, "5 x board = door width")
    assert records_in(hut.folder) == before


def test_a_circle_through_a_tally_names_the_tie(hut: Archive) -> None:
    note(hut, board="139 mm", wall="700 mm")
    add_tally(hut, HUT, "5 x board = wall")
    with pytest.raises(SizesInACircle) as refused:
        work_out_size(hut, HUT, "wall", "5 x board + 2 mm")

    wall = f"'wall' of {HUT}"
    assert refused.value.path == (wall, f"'board' of {HUT} (which a tally ties to {wall})")


def test_sizes_that_cancel_leave_exactly_nothing(hut: Archive) -> None:
    note(hut, bay="1.13 m", post="0.37 m")
    work_out_size(hut, HUT, "both", "bay + post")
    work_out_size(hut, HUT, "left over", "2 x both - 2 x bay - 2 x post")

    assert (best(hut, "left over").value, best(hut, "left over").standard_uncertainty) == (0.0, 0.0)


def test_a_sum_of_which_a_size_is_gone_keeps_its_figure_and_says_so(hut: Archive) -> None:
    enter_subject(hut, "Yard wall")
    record_reading(hut, "Yard wall", "length", "5000 mm")
    work_out_size(hut, HUT, "gap", "Yard wall: length - 2 m")
    hut.begin_act()
    remove_subject(hut, "Yard wall")

    assert best(hut, "gap").value == pytest.approx(3000)
    assert [w.code for w in best(hut, "gap").warnings] == ["no-longer-solves"]
    undo(hut)
    assert best(hut, "gap").warnings == ()


def test_a_sum_that_is_taken_back_leaves_every_row_as_it_was(hut: Archive) -> None:
    note(hut, board="139 mm")
    before = records_in(hut.folder)
    work_out_size(hut, HUT, "door width", "5 x board")
    undo(hut)

    assert records_in(hut.folder) == before


def test_sums_that_cannot_be_are_refused(hut: Archive) -> None:
    note(hut, board="139 mm", step_count="0")
    work_out_size(hut, HUT, "door width", "5 x board")
    before = records_in(hut.folder)
    for label, text, error, why in (
        ("x", "5 x bord", NotationNotUnderstood, "there is no size of Weighbridge hut called 'bord'"),
        ("x", "board + step count", NotationNotUnderstood, "this is a number"),
        ("x", "board x board", NotationNotUnderstood, "neither a length, a number nor an angle"),
        ("x", "board / step count", CannotEstimate, "divides by a size that is 0"),
        ("x count", "5 x board", NotAccepted, "The sum comes to a length, and 'x count' is a count"),
        ("door width", "5 x Board", NotAccepted, "is worked out as '5 x Board' already"),
        (" ", "5 x board", NotAccepted, "A size needs a label"),
    ):
        with pytest.raises(error, match=why):
            work_out_size(hut, HUT, label, text)
    assert records_in(hut.folder) == before
