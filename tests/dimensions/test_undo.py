"""Everything that was done can be taken back, in any order that makes sense, and nothing else changes."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from wharf_of_files import SUBJECTS, VISITS, add_files, agree, files_in, records_in, wharf_of_files

from archive.dimensions import putting_right as right
from archive.dimensions.checking import check_instrument
from archive.dimensions.derivations import enter
from archive.dimensions.gaps import decide
from archive.dimensions.instruments import amend_instrument
from archive.dimensions.marking import put_mark
from archive.dimensions.readings import record_reading
from archive.dimensions.runs import record_run
from archive.dimensions.sheets import read_sheet
from archive.dimensions.sums import work_out_size
from archive.dimensions.tallying import add_tally
from archive.dimensions.undoing import undo
from archive.dimensions.verdicts import verdict_of
from archive.errors import (
    ActNotFound,
    FileGone,
    LeanedOn,
    NotAccepted,
    RecordNotFound,
    RivetbookError,
    SizesInACircle,
)
from archive.ingest.importing import import_files
from archive.kinds import thesaurus
from archive.records import history, kinds, photos, sizes, subjects, verdicts, visits
from archive.records import tables as t
from archive.records.archive import Archive, open_archive
from archive.records.changes import changes_after
from archive.records.entering import enter_kind, enter_subject, enter_visit, leave_out_kind
from archive.records.following import follow
from archive.records.linking import link_photos
from archive.records.setting_clocks import put_clock_right

DAYS = int(os.environ.get("RIVETBOOK_DAYS", "3"))  # random days of thirty changes


@pytest.fixture
def wharf(tmp_path: Path) -> Archive:
    with wharf_of_files(tmp_path / "wharf") as archive:
        yield archive


def acts(archive: Archive) -> list[history.Act]:
    with archive.look() as look:
        return history.all_acts(look)


def names(archive: Archive) -> list[str]:
    with archive.look() as look:
        return [s.name for s in subjects.all_subjects(look)]


def trips(archive: Archive) -> list[str]:
    with archive.look() as look:
        return [v.name for v in visits.all_visits(look)]


def rows_of(archive: Archive) -> dict[str, dict[int, dict[str, Any]]]:
    """Every table but the history, row by row."""
    with archive.look() as look:
        return {
            table.name: {row.id: dict(row._mapping) for row in look.all(select(table))}
            for table in t.metadata.sorted_tables
            if table not in (t.change, t.pending_move)
        }


def told_by_history(archive: Archive) -> dict[str, dict[int, Any]]:
    """The same, played again from the change log alone; each line must begin where the ones before it ended."""
    told: dict[str, dict[int, Any]] = {name: {} for name in rows_of(archive)}
    with archive.look() as look:
        for line in changes_after(look, 0):
            for row in line.rows:
                assert told[row.table].get(row.row_id) == row.before
                told[row.table][row.row_id] = row.after
    return {name: {key: row for key, row in rows.items() if row is not None} for name, rows in told.items()}


def do(archive: Archive, use_case: Callable[..., object], *args: object, **more: object) -> int:
    """Do one thing as one command does it; returns the number of its act."""
    archive.begin_act()
    use_case(archive, *args, **more)
    return acts(archive)[0].number


# Random days

SEEDS_ONLY = (Phase.explicit, Phase.reuse, Phase.generate)  # a smaller seed is no simpler day

WORDS = ("jib length", "door height", "wheel base", "step count", "roof angle")
WRITTEN = ("4ft 8½in", "2.74 m", "12", "42°", "about 3 m")


def something(archive: Archive, random: Random) -> None:
    """Do one random thing that a person may do."""
    with archive.look() as look:
        things = [s.id for s in subjects.all_subjects(look)] or ["none"]
        pictures = [p.id for p in photos.all_photos(look)] or ["none"]
        trips = [v.id for v in visits.all_visits(look)] or ["none"]
        whose = random.choice(things)
        try:
            held = sizes.dimensions_of(look, subjects.subject_named(look, whose))
            readings = [r for of in sizes.readings_of(look, held).values() for r in of]
        except RivetbookError:
            held, readings = [], []
    label = random.choice([d.label for d in held] or WORDS)
    reading = random.choice([r.id for r in readings] or ["none"])
    photo, visit, other, n = (
        random.choice(pictures),
        random.choice(trips),
        random.choice(things),
        random.randrange(999),
    )
    some = random.sample(pictures, min(len(pictures), 2))
    deeds: list[Callable[[], object]] = [
        lambda: enter_subject(archive, f"Shed {n}", also=[f"Store {n}"], part_of=random.choice([None, other])),
        lambda: enter_visit(archive, f"Trip {n}", days="2024-01-02", zone="Europe/London"),
        lambda: link_photos(archive, some, [whose], view=random.choice(["front", None, "rear"])),
        lambda: record_reading(archive, whose, random.choice(WORDS), random.choice(WRITTEN), photo=photo),
        lambda: record_reading(archive, whose, label, random.choice(WRITTEN), instrument="long tape"),
        lambda: right.rename_subject(archive, whose, f"Renamed {n}", keep_old=random.random() < 0.5),
        lambda: right.amend_subject(archive, whose, notes=f"note {n}", part_of=random.choice(["", other])),
        lambda: right.merge_subjects(archive, whose, other),
        lambda: right.split_subject(archive, whose, f"Split {n}", labels=[label], shown_by=random.choice([[], [photo]])),
        lambda: right.remove_subject(archive, whose),
        lambda: right.rename_visit(archive, visit, f"Trip once more {n}", keep_old=random.random() < 0.5),
        lambda: right.amend_visit(archive, visit, people=f"somebody {n}"),
        lambda: right.merge_visits(archive, visit, random.choice(trips)),
        lambda: right.move_photos(archive, some, visit),
        lambda: right.amend_photos(archive, some, caption=f"caption {n}"),
        lambda: right.remove_photos(archive, [photo]),
        lambda: right.unlink_photos(archive, [photo], [whose]),
        lambda: right.amend_size(archive, whose, label, random.choice(WRITTEN)),
        lambda: right.set_reading_aside(archive, reading, f"looks wrong {n}"),
        lambda: right.move_size(archive, whose, label, to_subject=other, to_label=random.choice([None, f"gap {n}"])),
        lambda: put_mark(archive, photo, random.choice("abcd"), random.randrange(1500), random.randrange(1000)),
        lambda: work_out(archive, photo, whose, label, other, random),
        lambda: work_out(archive, photo, other, label, whose, random),
        lambda: work_out_size(archive, whose, f"twice {n} height", f"2 x {label}"),
        lambda: add_tally(archive, whose, f"{label} + {random.choice(WORDS)} = {random.choice(['2.74 m', '12', label])}"),
        lambda: record_run(archive, whose, "front", "0; jib left 0.42 m; [jib length]; end 2.73", instrument="long tape", replace=True),
        lambda: check_instrument(archive, "long tape", reference="1 m ± 1 mm", reading=f"{1000 + n % 9} mm"),
        lambda: amend_instrument(archive, "long tape", limit=f"± {n % 9} mm", steady=random.random() < 0.8),
        lambda: decide(archive, whose, has_none=[label]),
        lambda: decide(archive, whose, not_needed=[random.choice(WORDS)], wanted=[(f"{label} too", "± 4 mm")]),
        lambda: decide(archive, whose, ask_again=[label]),
        lambda: right.amend_subject(archive, whose, kind=random.choice(["crane", "hut", "gantry wheel", ""])),
        lambda: enter_kind(archive, "gantry wheel", under="wheel", sizes=[f"tread {n} width"]),
        lambda: leave_out_kind(archive, "gantry wheel"),
        lambda: put_clock_right(archive, visit, camera=None, ahead_s=random.choice([-3600, 0, 60, 4020])),
        lambda: right.amend_visit(archive, visit, zone=random.choice(["Europe/Paris", "Europe/London"])),
    ]  # fmt: skip
    archive.begin_act()
    with suppress(RivetbookError):
        random.choice(deeds)()


def walk(archive: Archive) -> Path:
    """A GPS track of the morning of the first visit."""
    points = "".join(
        f"<trkpt lat='{52.5 + at / 1e4}' lon='-1.5'><time>2023-06-17T{hour:02}:{at:02}:00Z</time></trkpt>"
        for hour in (8, 10)
        for at in range(0, 20, 4)
    )
    file = archive.folder.with_name("walk.gpx")
    file.write_text(f"<gpx><trk><trkseg>{points}</trkseg></trk></gpx>")
    return file


def stale_times(archive: Archive) -> list[str]:
    """The photos whose times and places are other than follow from clocks and tracks now."""
    with archive.change("Looked whether times and places follow") as writer:
        follow(writer, [visit.key for visit in visits.all_visits(writer)])
        return [str(row.after) for row in writer.touched()]


def stale_verdicts(archive: Archive) -> list[str]:
    """The subjects beside which another verdict is kept than their sizes, and what is asked of them, have now."""
    with archive.look() as look:
        every = subjects.all_subjects(look)
        kept, words = verdicts.verdicts_of(look, [s.key for s in every]), thesaurus(kinds.own_kinds(look))
        return [s.name for s in every if kept.get(s.key) != verdict_of(look, s.key, s.kind, words)]


def work_out(archive: Archive, photo: str, whose: str, known: str, other: str, random: Random) -> None:
    """Have a size worked out from a photo, by one that may be there or not."""
    places = {name: [random.randrange(1500), random.randrange(1000)] for name in "abcd"}
    sheet = f"""
        method = "square on"
        photo = "{photo}"
        marks = {{ {", ".join(f"{name} = {at}" for name, at in places.items())} }}
        known = [{{ from = "a", to = "b", dimension = "{known}", subject = "{whose}" }}]
        asked = [{{ from = "c", to = "d", label = "{random.choice(WORDS)}", subject = "{other}", lies = "not sure" }}]
        """
    enter(archive, read_sheet(sheet, "a sheet"), "a sheet", move_marks=random.random() < 0.7)


@given(st.integers(0, 2**32))
@settings(max_examples=DAYS, deadline=None, suppress_health_check=list(HealthCheck), phases=SEEDS_ONLY)
def test_thirty_changes_and_as_many_undos_give_back_the_same_archive(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    random, folder = Random(seed), tmp_path_factory.mktemp("random days") / "wharf"
    with wharf_of_files(folder) as archive:
        import_files(archive, [walk(archive)], visit=VISITS[0])
        before, files, first = records_in(folder), files_in(folder), len(acts(archive))
        while len(acts(archive)) < first + 30:
            something(archive, random)
        assert agree(archive) == []
        assert stale_verdicts(archive) == stale_times(archive) == []
        assert told_by_history(archive) == rows_of(archive)

        for n in range(30):
            undo(archive)
            assert n % 6 or stale_verdicts(archive) == stale_times(archive) == []

        assert told_by_history(archive) == rows_of(archive)
        assert records_in(folder) == before
        assert files_in(folder) == files
    shutil.rmtree(folder)


@example(75562)  # a merge that would have a size worked out from itself
@given(st.integers(0, 2**32))
@settings(max_examples=2, deadline=None, suppress_health_check=list(HealthCheck), phases=SEEDS_ONLY)
def test_a_merge_that_is_taken_back_leaves_everything_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    random, folder = Random(seed), tmp_path_factory.mktemp("merges") / "wharf"
    with wharf_of_files(folder) as archive:
        for _ in range(8):
            something(archive, random)
        merged = 0
        for merge, every in ((right.merge_subjects, names(archive)), (right.merge_visits, trips(archive))):
            for one in random.sample(every, min(3, len(every))):
                before, files = records_in(folder), files_in(folder)
                archive.begin_act()
                # One with itself, a size that is of two quantities, or one worked out from the same of the other.
                with suppress(NotAccepted, SizesInACircle):
                    merge(archive, one, random.choice(every))
                    undo(archive)
                    merged += 1
                assert records_in(folder) == before
                assert files_in(folder) == files
        assert merged > 0
    shutil.rmtree(folder)


@given(st.integers(0, 2**32))
@settings(max_examples=4, deadline=None, suppress_health_check=list(HealthCheck), phases=SEEDS_ONLY)
def test_undoing_at_random_is_done_whole_or_refused_with_the_acts_that_stand_in_the_way(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    random, folder = Random(seed), tmp_path_factory.mktemp("random undos") / "wharf"
    with wharf_of_files(folder) as archive:
        import_files(archive, [walk(archive)], visit=VISITS[0])
        for _ in range(12):
            something(archive, random)
        for _ in range(12):
            before, files = records_in(folder), files_in(folder)
            number = random.randint(1, acts(archive)[0].number)
            refused = refusal_of(archive, number)
            if isinstance(refused, LeanedOn):
                assert all(later > number for later, _ in refused.later)
            elif refused is not None:
                assert "taken back already" in str(refused) or "nothing left to take back" in str(refused)
            else:
                assert agree(archive) == []
                assert stale_verdicts(archive) == stale_times(archive) == []
                undo(archive, acts(archive)[0].number)  # an undo is taken back too, which restores
            assert records_in(folder) == before
            assert files_in(folder) == files
    shutil.rmtree(folder)


def refusal_of(archive: Archive, number: int) -> RivetbookError | None:
    """Take an act back; returns why not, if it is refused."""
    try:
        undo(archive, number)
    except (LeanedOn, ActNotFound) as refused:
        return refused
    return None


# One by one


def test_the_newest_act_is_taken_back_and_then_the_one_before(wharf: Archive) -> None:
    do(wharf, enter_subject, "Slipway")
    do(wharf, enter_subject, "Lock gate")

    assert undo(wharf).sentence == "Added the subject Lock gate"
    assert undo(wharf).sentence == "Added the subject Slipway"
    assert names(wharf) == sorted(SUBJECTS, key=str.casefold)
    assert [a.door for a in acts(wharf)[:2]] == ["Python", "Python"]


def test_taking_back_an_undo_restores_and_an_act_is_taken_back_once(wharf: Archive) -> None:
    added = do(wharf, enter_subject, "Slipway")
    undo(wharf, added)
    taken_back = acts(wharf)[0].number

    with pytest.raises(ActNotFound, match=rf"taken back already; taking back act {taken_back} restores it"):
        undo(wharf, added)
    undo(wharf, taken_back)

    assert "Slipway" in names(wharf)
    assert undo(wharf).number == added  # it stands again, so it can be taken back again
    assert "Slipway" not in names(wharf)


def test_an_act_in_the_middle_goes_and_later_ones_keep_what_they_did(wharf: Archive) -> None:
    noted = do(wharf, right.amend_subject, "Bollard", notes="leans to the east")
    do(wharf, right.amend_subject, "Bollard", era="1890s")
    renamed = do(wharf, right.rename_subject, "Bollard", "Mooring post")
    read = do(wharf, record_reading, "Mooring post", "height", "2ft 4in", instrument="long tape")
    do(wharf, record_reading, "Mooring post", "height", "0.72 m")

    for number in (noted, renamed, read):
        undo(wharf, number)

    with wharf.look() as look:
        bollard = subjects.subject_named(look, "Bollard")
        (height,) = sizes.dimensions_of(look, bollard)
        best = sizes.estimates_of(look, [height])[height.key]
    assert (bollard.notes, bollard.era) == (None, "1890s")
    assert (best.value, best.readings) == (720.0, 1)  # worked out anew from the reading that is left


def test_an_act_that_others_lean_on_is_refused_and_they_are_named(wharf: Archive) -> None:
    added = do(wharf, enter_subject, "Slipway")
    read = do(wharf, record_reading, "Slipway", "slope", "1 in 8")
    before = records_in(wharf.folder)

    with pytest.raises(
        LeanedOn, match=rf"later acts lean on it: {read} .*Wrote down 'slope' of Slipway: 1 in 8"
    ):
        undo(wharf, added)
    assert records_in(wharf.folder) == before

    undo(wharf, read)
    undo(wharf, added)
    assert "Slipway" not in names(wharf)


def test_all_acts_that_lean_on_one_are_named_also_where_the_thing_itself_was_changed_since(
    wharf: Archive,
) -> None:
    added = do(wharf, enter_subject, "Slipway")
    read = do(wharf, record_reading, "Slipway", "slope", "1 in 8")
    renamed = do(wharf, right.rename_subject, "Slipway", "Slip")

    with pytest.raises(LeanedOn) as refused:
        undo(wharf, added)

    assert [number for number, _ in refused.value.later] == [renamed, read]


def test_a_name_that_somebody_else_took_since_stands_in_the_way(wharf: Archive) -> None:
    renamed = do(wharf, right.rename_subject, "Bollard", "Mooring post")
    taken = do(wharf, enter_subject, "bollard")

    with pytest.raises(LeanedOn, match=rf"later acts lean on it: {taken} \(Added the subject bollard\)"):
        undo(wharf, renamed)


def test_a_removed_photo_lies_in_removed_with_its_checksum_and_comes_back(wharf: Archive) -> None:
    files = files_in(wharf.folder)
    removed = do(wharf, right.remove_photos, ["HC20_0400"])

    moved = wharf.folder / "removed" / "2023-06-17 wendle-basin-june"
    assert (moved / "HC20_0400.JPG").read_bytes() == b"Wendle Basin, June HC20_0400.JPG"
    assert "HC20_0400.JPG" in (moved / "manifest-sha256.txt").read_text()
    assert not (wharf.folder / "visits" / moved.name / "HC20_0400.JPG").exists()
    assert agree(wharf) == []

    undo(wharf, removed)
    assert files_in(wharf.folder) == files


def test_on_a_disk_that_gives_no_file_two_names_it_is_copied_and_comes_back_the_same(
    wharf: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.EPERM, "no second names here")

    monkeypatch.setattr(os, "link", refuse)
    files = files_in(wharf.folder)

    removed = do(wharf, right.remove_photos, ["HC20_0400"])
    assert agree(wharf) == []

    undo(wharf, removed)
    assert agree(wharf) == []
    assert files_in(wharf.folder) == files


def test_a_removal_whose_file_was_since_emptied_out_of_removed_cannot_be_taken_back(wharf: Archive) -> None:
    removed = do(wharf, right.remove_photos, ["HC20_0400"])
    next((wharf.folder / "removed").rglob("*.JPG")).unlink()
    before = records_in(wharf.folder)

    with pytest.raises(
        FileGone, match=r"HC20_0400\.JPG' is not there any more, so nothing was changed"
    ) as refused:
        undo(wharf, removed)
    assert "or bring it in anew: rivetbook import FILE --taken-out-too." in str(refused.value)

    assert records_in(wharf.folder) == before


def test_an_import_that_is_taken_back_leaves_its_files_in_removed_and_can_be_restored(wharf: Archive) -> None:
    files = files_in(wharf.folder)
    imported = do(wharf, add_files, VISITS[0], ["HC20_0499.JPG"])
    with_it = files_in(wharf.folder)

    undo(wharf, imported)
    assert {name for name in files_in(wharf.folder) if "manifest" not in name} - set(files) == {
        "removed/2023-06-17 wendle-basin-june/HC20_0499.JPG"
    }
    assert agree(wharf) == []

    undo(wharf, acts(wharf)[0].number)
    assert {k: v for k, v in files_in(wharf.folder).items() if "manifest" not in k} == {
        k: v for k, v in with_it.items() if "manifest" not in k
    }


def test_two_names_that_changed_hands_in_one_act_change_back(wharf: Archive) -> None:
    before = records_in(wharf.folder)
    with wharf.change("Swapped two names") as writer:
        for old, new in (
            ("Bollard", "for the moment"),
            ("Wharf crane", "Bollard"),
            ("for the moment", "Wharf crane"),
        ):
            right.rows.rename_subject(writer, subjects.subject_named(writer, old), new, keep_old=False)

    undo(wharf)

    assert records_in(wharf.folder) == before


def test_there_is_nothing_to_take_back_in_a_new_archive(tmp_path: Path) -> None:
    from wendle_basin import new_archive

    with new_archive(tmp_path / "new") as archive:
        with pytest.raises(ActNotFound, match="There is nothing to take back"):
            undo(archive)
        with pytest.raises(ActNotFound, match="There is no act 7"):
            undo(archive, 7)


def test_the_history_of_one_thing_tells_what_was_done_to_it_and_what_hangs_on_it(wharf: Archive) -> None:
    do(wharf, enter_subject, "Slipway")
    do(wharf, record_reading, "Slipway", "slope", "1 in 8")
    do(wharf, enter_subject, "Lock gate")
    with wharf.look() as look:
        key = subjects.subject_named(look, "Slipway").key
        told = [a.sentence for a in history.all_acts(look, concerning=[("subject", key)])]

    assert told == ["Wrote down 'slope' of Slipway: 1 in 8", "Added the subject Slipway"]


def test_a_newer_program_that_reads_an_older_history_can_take_it_back(tmp_path: Path) -> None:
    # The dump of revision 0001 holds one act, noted when readings had fewer columns than today.
    from records.test_migrations import archive_of_long_ago  # type: ignore[import-not-found]

    dump = Path(__file__).parents[1] / "records" / "dumps" / "0001.sql"
    folder = archive_of_long_ago(tmp_path / "old", dump)
    (folder / "visits" / "2023-06-17 wendle-basin-june").mkdir()
    for n in (2, 3, 4):
        (folder / "visits" / "2023-06-17 wendle-basin-june" / f"HC20_041{n}.JPG").write_bytes(b"a picture")
    with open_archive(folder) as archive:
        act = undo(archive)
        assert names(archive) == []
        undo(archive, acts(archive)[0].number)
        assert act.number == 1
        assert names(archive) == ["Wendle Basin wharf", "Wharf crane"]


def test_the_history_tells_of_things_that_are_gone_or_are_called_otherwise_now(wharf: Archive) -> None:
    do(wharf, enter_subject, "Slipway")
    removed = do(wharf, right.remove_subject, "Slipway")
    renamed = do(wharf, right.rename_visit, VISITS[0], "First trip")

    with wharf.look() as look:
        assert next(a.number for a in history.acts_concerning(look, "slipway")) == removed
        assert next(a.number for a in history.acts_concerning(look, VISITS[0])) == renamed
        assert history.acts_concerning(look, "HC20_0400") != []
        with pytest.raises(RecordNotFound, match="no subject, photo or visit called 'Slipwey'"):
            history.acts_concerning(look, "Slipwey")


def test_the_history_of_a_thing_holds_that_of_those_merged_into_it_by_whatever_name_it_is_asked(
    wharf: Archive,
) -> None:
    do(wharf, enter_subject, "Slipway")
    do(wharf, right.rename_subject, "Slipway", "Old slip")
    do(wharf, record_reading, "Old slip", "slope", "1 in 8")
    with wharf.look() as look:
        before = [act.number for act in history.acts_concerning(look, "Wharf crane")]
        gone = subjects.subject_named(look, "Old slip").id
        of_gone = [act.number for act in history.acts_concerning(look, gone)]
    do(wharf, right.merge_subjects, "Old slip", "Bollard")
    merged = do(wharf, right.merge_subjects, "Bollard", "Wharf crane")

    with wharf.look() as look:
        told = [
            [a.number for a in history.acts_concerning(look, n)]
            for n in ("Wharf crane", "Slipway", "Bollard", gone)
        ]
    assert told[0] == told[1] == told[2] == told[3]
    assert {*before, *of_gone, merged} < set(told[0])

    undo(wharf)
    with wharf.look() as look:
        assert not set(of_gone) & {a.number for a in history.acts_concerning(look, "Wharf crane")}


def test_undos_of_undos_say_in_plain_words_what_they_do(wharf: Archive) -> None:
    added = do(wharf, enter_subject, "Slipway")
    for _ in range(3):
        undo(wharf, added if acts(wharf)[0].number == added else acts(wharf)[0].number)

    assert [a.sentence for a in acts(wharf)[:4]] == [
        f"Took back {added}: Added the subject Slipway",
        f"Restored {added}: Added the subject Slipway",
        f"Took back {added}: Added the subject Slipway",
        "Added the subject Slipway",
    ]
