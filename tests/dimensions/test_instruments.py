"""Instruments put right, and what is usual for their kinds: every size that they took follows."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest
from wendle_basin import new_archive
from wharf_of_files import records_in

from archive.dimensions.checking import check_instrument, instrument_sheet
from archive.dimensions.instruments import (
    amend_instrument,
    forget_usual_limit,
    instrument_lines,
    kinds_of_instrument,
    remove_check,
    set_usual_limit,
)
from archive.dimensions.overview import sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.undoing import undo
from archive.errors import LengthNotUnderstood, NameTaken, NotAccepted, RecordNotFound, ScaleNotUnderstood
from archive.records.archive import Archive
from archive.records.entering import enter_instrument, enter_subject
from archive.records.things import Estimate

HUT = "Weighbridge hut"


@pytest.fixture
def hut(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, HUT)
        enter_instrument(archive, "red laser", kind="laser")
        enter_instrument(archive, "drawing of the hut", kind="drawing")
        record_reading(archive, HUT, "door width", "1000 mm", instrument="red laser")
        record_reading(archive, HUT, "eaves height", "2.000 m", instrument="drawing of the hut")
        archive.begin_act()
        yield archive


def best(archive: Archive, label: str) -> Estimate:
    (found,) = (line.estimate for line in sizes_of(archive, HUT).lines if line.dimension.label == label)
    assert found is not None
    return found


def u(archive: Archive, label: str) -> float:
    return best(archive, label).standard_uncertainty


ROUNDING = 1 / sqrt(12)  # of a reading to 1 mm


def test_another_limit_is_felt_in_what_was_read_already(hut: Archive) -> None:
    # By hand: the limit of a laser, 2 mm + 0.1 mm/m, at 1 m; u = a/sqrt 3 of each part.
    assert u(hut, "door width") == pytest.approx(sqrt(4 / 3 + 0.01 / 3 + ROUNDING**2))
    done = amend_instrument(hut, "red laser", limit="± 6 mm", name="old laser")

    assert [d.label for d in done.sizes] == ["door width"]
    assert u(hut, "door width") == pytest.approx(sqrt(36 / 3 + ROUNDING**2))
    undo(hut)
    assert u(hut, "door width") == pytest.approx(sqrt(4 / 3 + 0.01 / 3 + ROUNDING**2))


def test_what_cannot_be_amended_is_refused_and_nothing_changes(hut: Archive) -> None:
    before = records_in(hut.folder)
    refusals: list[tuple[dict[str, str], type[Exception]]] = [
        ({}, NotAccepted),
        ({"name": "drawing of the hut"}, NameTaken),
        ({"name": " "}, NotAccepted),
        ({"limit": "quite good"}, LengthNotUnderstood),
        ({"resolution": "0 mm"}, NotAccepted),
        ({"drawn_at": "1:48"}, NotAccepted),  # it is a laser
        ({"kind": "drawing", "drawn_at": "big"}, ScaleNotUnderstood),
    ]
    for facts, refused in refusals:
        with pytest.raises(refused):
            amend_instrument(hut, "red laser", **facts)
    assert records_in(hut.folder) == before


def test_what_the_person_knows_of_a_kind_goes_before_what_is_carried(hut: Archive) -> None:
    enter_instrument(hut, "new laser", kind="laser measure", limit="± 1 mm")
    record_reading(hut, HUT, "door height", "2000 mm", instrument="new laser")
    carried = u(hut, "door height"), u(hut, "door width")
    hut.begin_act()
    kind, done = set_usual_limit(hut, "laser", limit="4 mm + 1 mm/m", why="it hangs in the rain")

    assert (kind.constant_mm, kind.per_m_mm, kind.why) == (4, 1, "it hangs in the rain")
    assert kind in kinds_of_instrument(hut)
    assert [i.name for i in done.instruments] == ["red laser"]  # the new one has a limit of its own
    assert u(hut, "door width") == pytest.approx(sqrt(16 / 3 + 1 / 3 + ROUNDING**2))
    assert u(hut, "door height") == carried[0]
    (line,) = (line for line in instrument_lines(hut) if line.instrument.name == "red laser")
    assert line.usual == kind
    assert "it hangs in the rain" in instrument_sheet(hut, "red laser").verdict[0].sentence

    undo(hut)
    assert u(hut, "door width") == carried[1]
    set_usual_limit(hut, "laser", limit="9 mm", why="dropped")
    forget_usual_limit(hut, "laser measure")
    assert u(hut, "door width") == carried[1]
    with pytest.raises(NotAccepted, match="Nothing of your own was noted for a laser"):
        forget_usual_limit(hut, "laser")


def test_what_is_usual_needs_a_kind_and_says_where_it_comes_from(hut: Archive) -> None:
    with pytest.raises(RecordNotFound, match="no kind of instrument called 'sextant'"):
        set_usual_limit(hut, "sextant", limit="1 mm", why="the mark on it")
    with pytest.raises(NotAccepted, match="not said where this limit comes from"):
        set_usual_limit(hut, "laser", limit="1 mm", why=" ")


def test_a_drawing_is_trusted_by_its_scale_and_asks_for_it(hut: Archive) -> None:
    warned = [w.code for w in best(hut, "eaves height").warnings]
    assert (
        warned
        == ["no-drawing-scale"]
        == [w.code for w in instrument_sheet(hut, "drawing of the hut").warnings]
    )
    amend_instrument(hut, "drawing of the hut", drawn_at="1:48")

    # By hand: 0.4 mm of line on the paper is 19.2 mm of the hut, the paper 5 mm/m; u = a/sqrt 3 of each.
    assert u(hut, "eaves height") == pytest.approx(sqrt(19.2**2 / 3 + 10**2 / 3 + ROUNDING**2))
    assert best(hut, "eaves height").warnings == ()

    set_usual_limit(hut, "printed drawing", limit="0.2 mm + 0.1 %", why="inked on film")
    assert u(hut, "eaves height") == pytest.approx(sqrt(9.6**2 / 3 + 2**2 / 3 + ROUNDING**2))


def test_a_mistaken_check_is_taken_away_with_all_that_it_did(hut: Archive) -> None:
    unchecked = best(hut, "door width")
    noted = check_instrument(hut, "red laser", reference="1 m ± 0.1 mm", reading="1022 mm")
    assert best(hut, "door width").value == pytest.approx(978)
    hut.begin_act()

    done = remove_check(hut, noted.check.id)
    assert [d.label for d in done.sizes] == ["door width"]
    assert best(hut, "door width").value == unchecked.value
    undo(hut)
    assert best(hut, "door width").value == pytest.approx(978)
    with pytest.raises(RecordNotFound, match="no check called"):
        remove_check(hut, "k0000000000")
