"""The change log: one row a transaction, exact, complete, and never the same key twice."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select
from wendle_basin import fill, new_archive

from archive.errors import NameTaken
from archive.records import builds, subjects, visits
from archive.records import tables as t
from archive.records.archive import Archive, open_archive
from archive.records.changes import Change, Writer, changes_after, newest_change


@pytest.fixture
def wharf(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "wharf", door="command line") as archive:
        yield archive


def history(archive: Archive, after: int = 0) -> list[Change]:
    with archive.look() as look:
        return list(changes_after(look, after))


def rows_of(archive: Archive) -> dict[str, dict[int, dict[str, Any]]]:
    """Every table but the history and what follows from the files, row by row."""
    with archive.look() as look:
        return {
            table.name: {row.id: dict(row._mapping) for row in look.all(select(table))}
            for table in t.metadata.sorted_tables
            if table not in (t.change, t.pending_move, t.fingerprint)
        }


def test_a_new_archive_has_no_history(wharf: Archive) -> None:
    with wharf.look() as look:
        assert newest_change(look) == 0
    assert history(wharf) == []


def test_a_transaction_is_one_line_of_history_however_much_it_writes(wharf: Archive) -> None:
    fill(wharf)

    (line,) = history(wharf)

    assert (line.number, line.act, line.door, line.undoes) == (1, 1, "command line", None)
    assert line.sentence == "wrote down what was seen at Wendle Basin"
    assert line.at_utc.endswith("+00:00")
    assert {row.table for row in line.rows} == {table.name for table in t.metadata.sorted_tables} - {
        "change",
        "pending_move",
        "fingerprint",
    }


def test_the_transactions_of_one_command_share_an_act_and_the_next_command_has_its_own(
    wharf: Archive,
) -> None:
    for name in ("Bollard", "Weighbridge hut"):
        with wharf.change(f"added {name}") as writer:
            subjects.add_subject(writer, name)
    wharf.begin_act()
    with wharf.change("added a crane") as writer:
        subjects.add_subject(writer, "Wharf crane")
    with open_archive(wharf.folder) as other, other.change("added a slipway") as writer:
        subjects.add_subject(writer, "Slipway")

    assert [(line.number, line.act) for line in history(wharf)] == [(1, 1), (2, 1), (3, 2), (4, 3)]


def test_nothing_is_noted_when_nothing_was_changed(wharf: Archive) -> None:
    with wharf.change("added a crane") as writer:
        crane = subjects.add_subject(writer, "Wharf crane")
    with wharf.change("looked only"):
        pass
    with wharf.change("wrote what was there") as writer:
        writer.update(t.subject, crane.key, name="Wharf crane", maker=None)
    with wharf.change("added and took away") as writer:
        writer.delete(t.subject, subjects.add_subject(writer, "Slipway").key)
    with wharf.change("changed and changed back") as writer:
        writer.update(t.subject, crane.key, era="1962")
        writer.update(t.subject, crane.key, era=None)
    with wharf.change("took away what is not there") as writer:
        writer.delete(t.subject, 999)
        writer.update(t.subject, 999, era="1962")

    assert [line.sentence for line in history(wharf)] == ["added a crane"]


def test_what_points_at_a_row_need_not_be_looked_for_where_it_has_only_just_come(wharf: Archive) -> None:
    with wharf.change("added a crane") as writer:
        old = subjects.add_subject(writer, "Wharf crane").key

    def worth_looking(writer: Writer, *keys: int) -> list[int]:
        return list(writer.pointed_at(keys, of=t.subject, by=t.subject_name))

    with wharf.change("added a hut, and then a name of it") as writer:
        new = subjects.add_subject(writer, "Weighbridge hut").key
        assert worth_looking(writer, old, new) == [old]
        writer.update(t.subject, old, era="1962")
        assert worth_looking(writer, old, new) == [old]
        writer.insert(t.subject_name, subject_id=new, name="Hut", name_key="hut")
        assert worth_looking(writer, old, new) == [old, new]
    with wharf.change("took the crane away and put it back") as writer:
        crane = writer.row(t.subject, old)
        writer.put_back([(t.subject, old, None)])
        writer.put_back([(t.subject, old, crane)])
        assert worth_looking(writer, old) == [old]


def test_what_a_transaction_touched_is_told_of_the_tables_asked_for(wharf: Archive) -> None:
    with wharf.change("added a crane with two names") as writer:
        subjects.add_subject(writer, "Wharf crane", also=("Quay crane",))

        assert [note.table for note in writer.touched(t.subject)] == ["subject"]
        assert {note.table for note in writer.touched(t.subject, t.subject_name)} == {
            "subject",
            "subject_name",
        }
        assert writer.touched(t.photo) == []
        assert len(writer.touched()) > 1


def test_a_transaction_that_fails_leaves_neither_rows_nor_history(wharf: Archive) -> None:
    fill(wharf)
    before = rows_of(wharf)

    with pytest.raises(NameTaken), wharf.change("added two") as writer:  # noqa: PT012
        subjects.add_subject(writer, "Slipway")
        subjects.add_subject(writer, "wharf CRANE")

    assert rows_of(wharf) == before
    assert len(history(wharf)) == 1


def test_a_row_is_noted_as_it_was_before_the_transaction_and_as_it_is_after(wharf: Archive) -> None:
    with wharf.change("added") as writer:
        crane = subjects.add_subject(writer, "Wharf crane", notes="4ft 8½in — ‘ħ’ 水")
    with wharf.change("amended twice") as writer:
        writer.update(t.subject, crane.key, era="1950s")
        writer.update(t.subject, crane.key, era="1962")
    with wharf.change("amended and took away") as writer:
        writer.update(t.subject, crane.key, era="1963")
        writer.delete(t.subject, crane.key)

    added, amended, removed = (line.rows[0] for line in history(wharf))

    assert added.before is None
    assert added.after["notes"] == "4ft 8½in — ‘ħ’ 水"
    assert (amended.before["era"], amended.after["era"]) == (None, "1962")
    assert amended.before == added.after
    assert (removed.before, removed.after) == (amended.after, None)


@given(
    value=st.floats(allow_nan=False, allow_infinity=False),
    text=st.text(st.characters(exclude_categories=["Cs"])),
    words=st.lists(st.text(st.characters(exclude_categories=["Cs"]))),
)
@settings(max_examples=60, deadline=None)
def test_numbers_and_words_are_noted_exactly(
    tmp_path_factory: pytest.TempPathFactory, value: float, text: str, words: list[str]
) -> None:
    folder = tmp_path_factory.getbasetemp() / "noted exactly"
    with open_archive(folder) if folder.exists() else new_archive(folder) as archive:
        with archive.change("an odd place and kind") as writer:
            name = str(newest_change(writer))
            place = writer.insert(
                t.place,
                public_id=f"l{name}",
                name=text,
                name_key=name,
                latitude=value,
                longitude=None,
                notes=text,
            )
            kind = writer.insert(
                t.kind,
                slug=name,
                name=text,
                name_key=name,
                broader="crane",
                words=words,
                views=[],
                sizes=words,
            )
        (line,) = history(archive, after=int(name))
        noted = {row.table: row.after for row in line.rows}
        stored = rows_of(archive)

    assert noted == {"place": stored["place"][place], "kind": stored["kind"][kind]}
    assert noted["place"]["latitude"] == value
    assert math.copysign(1, noted["place"]["latitude"]) == math.copysign(1, value)
    assert noted["kind"]["words"] == words


def test_the_archive_can_be_told_from_its_history_alone(wharf: Archive) -> None:
    fill(wharf)
    with wharf.change("amended") as writer:
        crane = subjects.subject_named(writer, "wharf crane")
        writer.update(t.subject, crane.key, era="1962")
        writer.delete(t.build_subject, 1)
        writer.delete(t.build, 1)

    told: dict[str, dict[int, Any]] = {name: {} for name in rows_of(wharf)}
    for line in history(wharf):
        for row in line.rows:
            assert told[row.table].get(row.row_id) == row.before
            told[row.table][row.row_id] = row.after

    left = {name: {key: row for key, row in rows.items() if row is not None} for name, rows in told.items()}
    assert left == rows_of(wharf)


def test_the_key_of_a_row_that_was_taken_away_is_not_given_out_again(wharf: Archive) -> None:
    with wharf.change("added two") as writer:
        subjects.add_subject(writer, "Bollard")
        gone = subjects.add_subject(writer, "Slipway")
    with wharf.change("took the second away") as writer:
        writer.delete(t.subject, gone.key)
    with open_archive(wharf.folder) as later, later.change("added another") as writer:
        hut = subjects.add_subject(writer, "Weighbridge hut")

    assert hut.key > gone.key


def test_rows_that_a_migration_added_keep_their_keys(wharf: Archive) -> None:
    with wharf.change("added one") as writer:
        subjects.add_subject(writer, "Bollard")
        writer._connection.exec_driver_sql(  # as a migration writes: past the history
            "INSERT INTO place (id, public_id, name, name_key) VALUES (7, 'l7', 'Wendle Basin', 'wendle basin')"
        )
    with wharf.change("added a place") as writer:
        visits.place_key(writer, "Upper lock")
        newest = writer.value(select(func.max(t.place.c.id)))

    assert newest == 8


def test_two_programs_writing_by_turns_keep_one_history_without_gaps(wharf: Archive) -> None:
    script = (
        "import sys; from pathlib import Path\n"
        "from archive.records.archive import open_archive\n"
        "from archive.records import subjects\n"
        "with open_archive(Path(sys.argv[1]), door=sys.argv[2]) as archive:\n"
        "    for n in range(15):\n"
        "        with archive.change(f'added {n}') as writer:\n"
        "            subjects.add_subject(writer, f'{sys.argv[2]} {n}')\n"
    )
    top = Path(subjects.__file__).parents[2]
    both = [
        subprocess.Popen([sys.executable, "-c", script, wharf.folder, door], cwd=top)
        for door in ("one", "two")
    ]

    assert [process.wait(60) for process in both] == [0, 0]
    lines = history(wharf)
    assert [line.number for line in lines] == list(range(1, 31))
    assert {(line.door, line.act) for line in lines} in (
        {("one", 1), ("two", 2)},
        {("one", 2), ("two", 1)},
    )
    keys = [row.row_id for line in lines for row in line.rows]
    assert sorted(keys) == list(range(1, 31))


def test_a_builds_scale_is_kept_exactly(wharf: Archive) -> None:
    fill(wharf)

    with wharf.look() as look:
        assert str(builds.build_named(look, "crane in 7 mm").ratio) == "87/2"
