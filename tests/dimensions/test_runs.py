"""A tape's run in the archive: sizes between neighbours that share what they share, kept as written, corrected whole."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest
from wendle_basin import new_archive
from wharf_of_files import records_in

from archive.dimensions.checking import check_instrument
from archive.dimensions.overview import SizeLine, sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.runs import record_run
from archive.dimensions.undoing import undo
from archive.errors import NotAccepted, NotationNotUnderstood
from archive.metrology.sources import covariance
from archive.records.archive import Archive
from archive.records.entering import enter_instrument, enter_subject

FRONT = "0; door left 0.42 m; [door width /over]; door right 1.18; window left 1.46; end 2.73"


@pytest.fixture
def hut(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, "Weighbridge hut")
        enter_instrument(archive, "rod")
        archive.begin_act()
        yield archive


def lines(archive: Archive) -> dict[str, SizeLine]:
    return {line.dimension.label: line for line in sizes_of(archive, "Weighbridge hut").lines}


def values(archive: Archive) -> dict[str, float]:
    return {label: line.estimate.value for label, line in lines(archive).items() if line.estimate}


def test_neighbours_give_sizes_named_after_them_or_as_the_brackets_say(hut: Archive) -> None:
    done = record_run(hut, "Weighbridge hut", "front, from left corner", FRONT, instrument="rod")

    assert values(hut) == pytest.approx(
        {
            "start to door left": 420,
            "door width": 760,
            "door right to window left": 280,
            "window left to end": 1270,
        }
    )
    assert lines(hut)["door width"].dimension.span == "over"
    assert done.run.as_written == FRONT
    assert [r.reading.as_written for r in done.sizes][1] == "door left 0.42 m to door right 1.18"


def test_the_hooked_zero_has_no_rounding_and_neighbours_share_theirs(hut: Archive) -> None:
    record_run(hut, "Weighbridge hut", "front", FRONT, instrument="rod")
    found = lines(hut)
    first, door = found["start to door left"].ledger, found["door width"].ledger
    assert first is not None
    assert door is not None

    # By hand: steps of 10 mm, so each position is known to 10/sqrt 12; the first size has one, the others two.
    assert first.standard_uncertainty == pytest.approx(10 / sqrt(12))
    assert door.standard_uncertainty == pytest.approx(10 / sqrt(6))
    assert covariance(first, door) == pytest.approx(-100 / 12)


def test_a_check_of_the_tape_corrects_the_sizes_of_its_runs(hut: Archive) -> None:
    record_run(hut, "Weighbridge hut", "front", "0; end 2.000 m", instrument="rod")
    check_instrument(hut, "rod", reference="1 m ± 0.1 mm", reading="1.005 m")
    check_instrument(hut, "rod", reference="2 m ± 0.1 mm", reading="2.010 m")

    # By hand: by two checks the tape reads 5 mm in a metre long, and its offset goes out between two positions.
    assert values(hut)["start to end"] == pytest.approx(2000 / 1.005, abs=1e-6)


def test_a_correction_is_a_new_run_that_replaces_and_keeps_the_old(hut: Archive) -> None:
    record_run(hut, "Weighbridge hut", "front", FRONT, instrument="rod")
    with pytest.raises(NotAccepted, match="There is a run 'front' of Weighbridge hut already"):
        record_run(hut, "Weighbridge hut", "Front", FRONT)
    better = "0; door left 0.43 m; [door width /over]; door right 1.18; end 2.73"
    record_run(hut, "Weighbridge hut", "front", better, instrument="rod", replace=True)

    found = lines(hut)
    assert values(hut) == pytest.approx(
        {"start to door left": 430, "door width": 750, "door right to end": 1550}
    )
    assert [r.replaced for r in found["door width"].readings] == [True, False]
    (gone,) = found["window left to end"].readings
    assert gone.set_aside == "the run 'front' was written down anew"


def test_a_run_and_a_reading_of_the_same_size_are_combined(hut: Archive) -> None:
    record_run(hut, "Weighbridge hut", "front", "0; end 2.73 m", instrument="rod")
    record_reading(hut, "Weighbridge hut", "start to end", "2.74 m")

    assert values(hut)["start to end"] == pytest.approx(2735)


def test_a_run_that_is_taken_back_leaves_every_row_as_it_was(hut: Archive) -> None:
    before = records_in(hut.folder)
    record_run(hut, "Weighbridge hut", "front", FRONT, instrument="rod")
    undo(hut)

    assert records_in(hut.folder) == before


def test_a_replacement_that_is_taken_back_lets_the_old_run_count_again(hut: Archive) -> None:
    record_run(hut, "Weighbridge hut", "front", FRONT, instrument="rod")
    hut.begin_act()
    before = records_in(hut.folder)
    record_run(hut, "Weighbridge hut", "front", "0; end 2.73 m", instrument="rod", replace=True)
    undo(hut)

    assert records_in(hut.folder) == before


def test_nothing_is_kept_of_a_run_that_cannot_be(hut: Archive) -> None:
    before = records_in(hut.folder)
    with pytest.raises(NotationNotUnderstood, match="does not lie beyond"):
        record_run(hut, "Weighbridge hut", "front", "0; door left 0.42 m; end 0.24")
    with pytest.raises(NotAccepted, match="a tape reads lengths"):
        record_run(hut, "Weighbridge hut", "front", "0; a 0.42 m; [step count]; end 0.52")
    with pytest.raises(NotAccepted, match="needs a title"):
        record_run(hut, "Weighbridge hut", " ", "0; end 0.52 m")

    assert records_in(hut.folder) == before
