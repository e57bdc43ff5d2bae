"""Counted spacings: some measured together, their doubt multiplied, their unevenness counted once each."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest
from wendle_basin import new_archive
from wharf_of_files import records_in

from archive.dimensions.counting import record_count
from archive.dimensions.overview import sizes_of
from archive.dimensions.putting_right import amend_size
from archive.dimensions.undoing import undo
from archive.errors import LengthNotUnderstood, NotAccepted, RecordNotFound
from archive.records.archive import Archive
from archive.records.entering import enter_instrument, enter_subject

HUT = "Weighbridge hut"


@pytest.fixture
def hut(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, HUT)
        enter_instrument(archive, "short rule", limit="± 1 mm", resolution="1 mm")
        archive.begin_act()
        yield archive


def test_what_was_measured_is_multiplied_with_all_its_doubt_and_follows(hut: Archive) -> None:
    done = record_count(hut, HUT, "wall height", 34, over=8, measured="602 mm", instrument="short rule")

    # By hand: 34/8 of 602 mm, and of its doubt: the rule's limit of 1 mm and the step of 1 mm.
    assert done.size.estimate.value == pytest.approx(2558.5)
    assert done.size.estimate.standard_uncertainty == pytest.approx(34 / 8 * sqrt(1 / 3 + 1 / 12))
    assert done.measured.dimension.label == "8 of wall height"

    hut.begin_act()
    amend_size(hut, HUT, "8 of wall height", "610 mm")
    (_, wall) = sizes_of(hut, HUT).lines
    assert wall.estimate is not None
    assert wall.estimate.value == pytest.approx(34 / 8 * 610)


def test_single_ones_that_are_uneven_make_it_less_sure(hut: Archive) -> None:
    inside = record_count(hut, HUT, "wall height", 34, over=8, measured="602 mm", uneven="3 mm")
    beyond = record_count(hut, HUT, "step height", 4, over=8, measured="602 mm", uneven="3 mm")

    # By hand, u of a single one 3/sqrt 3: of 34 the 8 measured are known, of 4 others none is.
    assert inside.size.estimate.standard_uncertainty == pytest.approx(
        sqrt((34 / 8) ** 2 / 12 + 34 * (34 - 8) / 8 * 3)
    )
    assert beyond.size.estimate.standard_uncertainty == pytest.approx(
        sqrt((4 / 8) ** 2 / 12 + (4 + 4**2 / 8) * 3)
    )


def test_it_is_one_act_and_whole_or_refused(hut: Archive) -> None:
    before = records_in(hut.folder)
    for label, count, measured, refused in (
        ("wall height", 0, "602 mm", NotAccepted),
        (" ", 34, "602 mm", NotAccepted),
        ('the "tall" wall', 34, "602 mm", NotAccepted),
        ("course count", 34, "602 mm", NotAccepted),
        ("wall height", 34, "a bit", LengthNotUnderstood),
    ):
        with pytest.raises(refused):
            record_count(hut, HUT, label, count, over=8, measured=measured)
    with pytest.raises(RecordNotFound):
        record_count(hut, HUT, "wall height", 34, over=8, measured="602 mm", instrument="long rule")
    assert records_in(hut.folder) == before

    record_count(hut, HUT, "wall height", 34, over=8, measured="602 mm", uneven="2 mm")
    undo(hut)
    assert records_in(hut.folder) == before
