"""What putting right says: what was done, what it is called in the history, and why something cannot be."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from wharf_of_files import VISITS, records_in, wharf_of_files

from archive.dimensions.lines import record_lines
from archive.dimensions.putting_right import (
    amend_photos,
    amend_size,
    amend_subject,
    amend_visit,
    merge_subjects,
    merge_visits,
    move_size,
    remove_photos,
    rename_subject,
    rename_visit,
)
from archive.dimensions.readings import record_reading
from archive.errors import NotAccepted
from archive.records import headlines, subjects, visits
from archive.records.archive import Archive

JUNE, AGAIN = VISITS


@pytest.fixture
def wharf(tmp_path: Path) -> Iterator[Archive]:
    with wharf_of_files(tmp_path / "wharf") as archive:
        archive.begin_act()
        yield archive


def newest_sentence(archive: Archive) -> str:
    with archive.look() as look:
        return headlines.newest_acts(look, most=1)[0].sentence


@pytest.mark.parametrize(
    ("amend", "sentence"),
    [
        (
            lambda a: amend_subject(a, "Wharf crane", maker="Tarn Foundry", part_of="", also=["Big crane"]),
            "Amended the subject Wharf crane: other names, maker and part of",
        ),
        (
            lambda a: amend_visit(a, JUNE, days="", people="the warden"),
            f"Amended the visit {JUNE}: days and people",
        ),
        (lambda a: amend_photos(a, ["HC20_0400"], caption="The jib"), "Amended HC20_0400.JPG: caption"),
        (
            lambda a: remove_photos(a, ["HC20_0400 to HC20_0402"]),
            "Removed HC20_0400.JPG, HC20_0401.JPG and HC20_0402.JPG",
        ),
    ],
)
def test_the_history_says_what_was_put_right(
    wharf: Archive, amend: Callable[[Archive], str], sentence: str
) -> None:
    amend(wharf)
    assert newest_sentence(wharf) == sentence


@pytest.mark.parametrize(
    ("put_right", "sentence"),
    [
        (lambda a, crane: rename_subject(a, crane, "Lower  crane"), "Renamed the subject Wharf crane to Lower crane"),
        (lambda a, crane: merge_subjects(a, "Bollard", crane), "Merged the subject Bollard into Wharf crane"),
        (lambda a, crane: move_size(a, crane, "STEP count", to_subject="bollard"),
         "Moved the size 'step count' of Wharf crane to 'step count' of Bollard"),
        (lambda a, crane: record_reading(a, crane, "jib length", "18ft"), "Wrote down 'jib length' of Wharf crane: 18ft"),
        (lambda a, crane: record_lines(a, crane, "jib length = 18ft"), "Wrote down 1 size of Wharf crane"),
    ],
)  # fmt: skip
def test_the_history_calls_things_by_their_names_however_they_were_named(
    wharf: Archive, put_right: Callable[[Archive, str], object], sentence: str
) -> None:
    with wharf.look() as look:
        crane = subjects.subject_named(look, "Wharf crane").id
    put_right(wharf, crane)
    assert newest_sentence(wharf) == sentence


def test_the_days_of_a_visit_can_be_taken_away(wharf: Archive) -> None:
    amend_visit(wharf, JUNE, days="")
    with wharf.look() as look:
        june = visits.visit_named(look, JUNE)
    assert (june.first_day, june.last_day) == (None, None)


def test_a_visit_that_keeps_its_old_name_says_so(wharf: Archive) -> None:
    said = rename_visit(wharf, JUNE, "First trip", keep_old=True)
    assert said.endswith(f"It is still found as '{JUNE}'.")
    assert "still found" not in rename_visit(wharf, "First trip", "The first trip")


@pytest.mark.parametrize(
    ("put_right", "why"),
    [
        (lambda a: amend_subject(a, "Bollard", part_of="bollard"), "'Bollard' cannot be part of itself"),
        (
            lambda a: amend_subject(a, "Wendle Basin wharf", part_of="Wharf crane"),
            "'Wendle Basin wharf' cannot be part of 'Wharf crane', which is part of it",
        ),
        (lambda a: merge_subjects(a, "Hand crane", "Wharf crane"), "Both names are those of 'Wharf crane'"),
        (lambda a: merge_visits(a, JUNE, JUNE.upper()), f"Both names are those of '{JUNE}'"),
        (lambda a: move_size(a, "Wharf crane", "door height", to_label="door  height"), "is a size of Wharf crane already"),
        (lambda a: amend_size(a, "Wharf crane", "step count", " 5"), "'5' is what the reading says already"),
    ],
)  # fmt: skip
def test_what_would_put_nothing_right_is_refused_and_named(
    wharf: Archive, put_right: Callable[[Archive], str], why: str
) -> None:
    before = records_in(wharf.folder)
    with pytest.raises(NotAccepted, match=f"{why}.*; nothing was changed"):
        put_right(wharf)
    assert records_in(wharf.folder) == before
