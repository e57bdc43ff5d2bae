"""The archive folder: made, found, refused, busy, damaged, looked at where it cannot be written."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from wendle_basin import fill, new_archive

from archive.errors import (
    ArchiveBusy,
    ArchiveDamaged,
    ArchiveReadOnly,
    ArchiveTooNew,
    CannotMakeArchive,
    CouldNotWrite,
    FileNotThere,
    NoArchive,
    NotAnArchive,
)
from archive.records import archive as archives
from archive.records import durable, migrate, sqlite, subjects, visits
from archive.records import folder as folders
from archive.records.archive import open_archive
from archive.records.changes import plain_refusals


@pytest.fixture
def wharf(tmp_path: Path) -> Path:
    """The folder of an archive with a day at Wendle Basin in it."""
    folder = tmp_path / "Wendle ½ archive"
    with new_archive(folder) as archive:
        fill(archive)
    return folder


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder and a home where there is no archive."""
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("USERPROFILE", str(home))
    monkeypatch.delenv(folders.VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def everything_in(folder: Path) -> dict[str, tuple[bytes | None, int]]:
    """Every file's content and time of change, to show that nothing was touched."""
    return {
        str(p.relative_to(folder)): (p.read_bytes() if p.is_file() else None, p.stat().st_mtime_ns)
        for p in sorted(folder.rglob("*"))
    }


def is_a_message_for_people(error: BaseException) -> bool:
    """Whether it reads as one: no line break, none of Python's or the database's words, ended as a sentence."""
    text = str(error)
    return "\n" not in text and "Error" not in text and "sqlite" not in text.casefold() and text.endswith(".")


# Making


def test_a_new_archive_holds_its_folders_and_an_empty_record(tmp_path: Path) -> None:
    folders.make_archive(tmp_path / "new" / "one")

    assert {p.name for p in (tmp_path / "new" / "one").iterdir()} == {
        "rivetbook.toml", "archive.db", "visits", "removed", "set-aside", "previews", "index",
    }  # fmt: skip
    with open_archive(tmp_path / "new" / "one") as archive, archive.look() as look:
        assert visits.all_visits(look) == []


def test_two_archives_have_different_ids(tmp_path: Path) -> None:
    ids = []
    for name in ("one", "two"):
        folders.make_archive(tmp_path / name)
        ids.append(folders.read_settings(tmp_path / name).archive_id)

    assert ids[0] != ids[1]


@pytest.mark.parametrize("cut_off_in", ["create_database", "run_migrations", "write_whole"])
def test_a_making_that_was_cut_off_is_no_archive_yet_and_is_completed_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cut_off_in: str
) -> None:
    module = {"create_database": sqlite, "run_migrations": migrate, "write_whole": durable}[cut_off_in]
    real = getattr(module, cut_off_in)

    def done_then_killed(*args: object, **more: object) -> None:
        if cut_off_in != "write_whole":
            real(*args, **more)
        raise KeyboardInterrupt

    monkeypatch.setattr(module, cut_off_in, done_then_killed)
    with pytest.raises(KeyboardInterrupt):
        folders.make_archive(tmp_path / "wharf")
    with pytest.raises(NotAnArchive):
        open_archive(tmp_path / "wharf")
    monkeypatch.undo()
    (tmp_path / "wharf" / f"{durable.PART}left-over").write_bytes(b"layo")

    folders.make_archive(tmp_path / "wharf")

    with new_archive(tmp_path / "other") as whole, open_archive(tmp_path / "wharf") as completed:
        assert {p.name for p in completed.folder.iterdir() if p.is_dir()} == {
            p.name for p in whole.folder.iterdir() if p.is_dir()
        }
        fill(completed)
    assert not list((tmp_path / "wharf").glob(f"{durable.PART}*"))


def test_a_file_in_the_way_is_named_and_left(tmp_path: Path) -> None:
    (tmp_path / "wharf").write_text("notes")

    with pytest.raises(CannotMakeArchive, match="a file of that name is there"):
        folders.make_archive(tmp_path / "wharf")

    assert (tmp_path / "wharf").read_text() == "notes"


@pytest.mark.parametrize("name", ["notes.txt", "index", "previews", "visits", "archive.db"])
def test_a_folder_with_something_of_the_persons_in_it_is_refused_and_left(tmp_path: Path, name: str) -> None:
    # A folder of ours by name may be theirs by content; what lies in 'index' would be cleared one day.
    theirs = tmp_path / "wharf" / name if "." in name else tmp_path / "wharf" / name / "mine.txt"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("mine")
    before = everything_in(tmp_path)

    with pytest.raises(CannotMakeArchive, match=f"it is not empty \\('{name}' is there\\)"):
        folders.make_archive(tmp_path / "wharf")

    assert everything_in(tmp_path) == before


def test_an_archive_is_not_made_over(wharf: Path) -> None:
    before = everything_in(wharf)

    with pytest.raises(CannotMakeArchive, match="already holds an archive"):
        folders.make_archive(wharf)

    assert everything_in(wharf) == before


def test_records_whose_settings_file_is_gone_are_not_made_over(wharf: Path) -> None:
    (wharf / "rivetbook.toml").unlink()
    before = everything_in(wharf)

    with pytest.raises(CannotMakeArchive):
        folders.make_archive(wharf)

    assert everything_in(wharf) == before


# Finding


def test_the_archive_that_is_named_wins_over_the_environments_the_parents_and_the_usual_one(
    nowhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in (nowhere / "named", nowhere / "environments", nowhere / "parents", folders.usual_folder()):
        folders.make_archive(folder)
    monkeypatch.setenv(folders.VARIABLE, str(nowhere / "environments"))
    here = nowhere / "parents" / "visits"

    assert folders.locate(nowhere / "named", start=here) == nowhere / "named"
    assert folders.locate(None, start=here) == nowhere / "environments"
    monkeypatch.delenv(folders.VARIABLE)
    assert folders.locate(None, start=here) == nowhere / "parents"
    assert folders.locate(None, start=nowhere) == folders.usual_folder()
    monkeypatch.chdir(here)
    assert folders.locate(None) == nowhere / "parents"


def test_where_no_archive_is_found_the_message_says_how_to_make_one(nowhere: Path) -> None:
    with pytest.raises(NoArchive, match="rivetbook new"):
        folders.locate(None)


def test_a_named_folder_is_taken_at_its_word(nowhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folders.make_archive(folders.usual_folder())  # never falls back on another archive

    with pytest.raises(FileNotThere):
        folders.locate(nowhere / "gone")
    monkeypatch.setenv(folders.VARIABLE, str(nowhere / "gone"))
    with pytest.raises(FileNotThere):
        folders.locate(None)


def test_a_folder_that_is_no_archive_is_said_to_be_none_and_why(wharf: Path, tmp_path: Path) -> None:
    with pytest.raises(NotAnArchive, match=r"it has no file 'rivetbook\.toml'"):
        open_archive(tmp_path)
    with pytest.raises(NotAnArchive, match="it is a file, not a folder"):
        open_archive(wharf / "archive.db")
    (wharf / "archive.db").rename(tmp_path / "elsewhere.db")
    with pytest.raises(NotAnArchive, match=r"its database 'archive\.db' is missing; put it back from a copy"):
        open_archive(wharf)


@pytest.mark.parametrize(
    "settings", [b"", b"layout = 1\n", b"layout = [", b'\xff\xfe"', b'layout = "x"\narchive_id = "a"']
)
def test_settings_that_cannot_be_read_are_named(wharf: Path, settings: bytes) -> None:
    (wharf / "rivetbook.toml").write_bytes(settings)

    with pytest.raises(NotAnArchive, match=r"'rivetbook\.toml' cannot be read") as refused:
        open_archive(wharf)

    assert is_a_message_for_people(refused.value)


# Newer, damaged


def test_an_archive_of_a_newer_program_is_refused_and_untouched(wharf: Path) -> None:
    with closing(sqlite3.connect(wharf / "archive.db")) as database:
        database.execute("PRAGMA user_version=9998")
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = everything_in(wharf)

    with pytest.raises(ArchiveTooNew, match=r"record keeping is number 9998.*Install the newer Rivetbook"):
        open_archive(wharf)

    assert everything_in(wharf) == before


def test_a_folder_layout_of_a_newer_program_is_refused_before_anything_is_opened(wharf: Path) -> None:
    (wharf / "rivetbook.toml").write_text('layout = 2\narchive_id = "a"\n')
    before = everything_in(wharf)

    with pytest.raises(ArchiveTooNew, match="folder layout is number 2"):
        open_archive(wharf)

    assert everything_in(wharf) == before


@pytest.mark.parametrize("damage", ["not a database", "overwritten in the middle", "emptied"])
def test_a_damaged_database_is_refused_in_one_sentence_and_left(wharf: Path, damage: str) -> None:
    database = wharf / "archive.db"
    whole = database.read_bytes()
    hurt = {
        "not a database": b"Dear diary, " * 500,
        "overwritten in the middle": whole[:4096] + b"\xa5" * (len(whole) - 4096),
        "emptied": b"",
    }[damage]
    database.write_bytes(hurt)

    with pytest.raises(ArchiveDamaged, match=r"cannot be read .*Nothing was changed") as refused:  # noqa: SIM117
        with open_archive(wharf) as archive, archive.look() as look:
            subjects.all_subjects(look)

    assert is_a_message_for_people(refused.value)
    assert database.read_bytes() == hurt


# Looking only
#
# The tests may run as root, to whom permission bits are no bar. Where the system lets them, a read-only bind
# mount is what really stops everybody; elsewhere the bits stop the database and `can_be_written` is told so.


@contextmanager
def nothing_can_be_written(folder: Path, monkeypatch: pytest.MonkeyPatch):
    mounted = (
        hasattr(os, "geteuid")
        and os.geteuid() == 0
        and shutil.which("mount") is not None
        and subprocess.run(["mount", "--bind", folder, folder], capture_output=True).returncode == 0
    )
    if mounted:
        subprocess.run(["mount", "-o", "remount,ro,bind", folder], check=True)
        try:
            yield
        finally:
            subprocess.run(["umount", folder], check=True)
        return
    paths = [folder, *folder.rglob("*")]
    modes = {path: path.stat().st_mode for path in paths}
    for path in paths:
        path.chmod(modes[path] & ~0o222)
    if not hasattr(os, "geteuid") or os.geteuid() == 0:
        monkeypatch.setattr(folders, "can_be_written", lambda _folder: False)
    try:
        yield
    finally:
        for path in paths:
            path.chmod(modes[path])


def test_an_archive_that_cannot_be_written_can_be_looked_at_and_is_left_as_it_is(
    wharf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = everything_in(wharf)

    with nothing_can_be_written(wharf, monkeypatch), open_archive(wharf) as archive:
        assert archive.read_only
        with archive.look() as look:
            assert [s.name for s in subjects.all_subjects(look)] == ["Wendle Basin wharf", "Wharf crane"]
        with pytest.raises(ArchiveReadOnly, match="Looking, finding and packing work"), archive.change("x"):
            pass

    assert everything_in(wharf) == before


def test_what_a_cut_off_run_left_in_the_log_is_seen_where_nothing_can_be_written(
    wharf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_archive(wharf) as archive, archive.look() as look:
        subjects.all_subjects(look)  # an open look keeps the log from being folded in
        with archive.change("added a hut") as writer:
            subjects.add_subject(writer, "Weighbridge hut")
        copy = tmp_path / "copy of a folder in use"
        shutil.copytree(wharf, copy)
    assert (copy / "archive.db-wal").stat().st_size > 0

    with nothing_can_be_written(copy, monkeypatch), open_archive(copy) as looked, looked.look() as look:
        assert "Weighbridge hut" in [s.name for s in subjects.all_subjects(look)]


def test_an_older_archive_that_cannot_be_written_says_to_copy_it_first(
    wharf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    newest = migrate.newest_revision()
    monkeypatch.setattr(migrate, "newest_revision", lambda *_: newest + 1)

    with (
        nothing_can_be_written(wharf, monkeypatch),
        pytest.raises(NotAnArchive, match="copy the whole folder to a place of your own"),
    ):
        open_archive(wharf)


# Two at once


def test_a_second_writer_waits_for_the_first(wharf: Path) -> None:
    first_holds, written = threading.Event(), []

    def first() -> None:
        with open_archive(wharf) as archive, archive.change("first") as writer:
            subjects.add_subject(writer, "Bollard")
            first_holds.set()
            threading.Event().wait(0.3)
            written.append("first")

    thread = threading.Thread(target=first)
    thread.start()
    assert first_holds.wait(5)
    with open_archive(wharf, wait_seconds=10) as archive, archive.change("second") as writer:
        subjects.add_subject(writer, "Weighbridge hut")
        written.append("second")
    thread.join()

    assert written == ["first", "second"]
    with open_archive(wharf) as archive, archive.look() as look:
        assert {"Bollard", "Weighbridge hut"} <= {s.name for s in subjects.all_subjects(look)}


@pytest.mark.parametrize("said", ["database is locked", "database table is locked", "locking protocol"])
def test_whatever_the_database_says_of_another_writer_is_told_as_one(said: str) -> None:
    with pytest.raises(ArchiveBusy, match="Another Rivetbook is writing"), plain_refusals("wharf", 30):
        raise sqlite3.OperationalError(said)  # SQLite: codes SQLITE_BUSY, SQLITE_LOCKED and SQLITE_PROTOCOL


def test_a_second_writer_that_waited_in_vain_is_told_so_and_has_changed_nothing(wharf: Path) -> None:
    with open_archive(wharf) as archive, archive.change("first") as writer:
        subjects.add_subject(writer, "Bollard")
        with open_archive(wharf, wait_seconds=0.2) as other:
            with (
                pytest.raises(ArchiveBusy, match="Another Rivetbook is writing") as refused,
                other.change("x"),
            ):
                pytest.fail("two writers at once")
            with other.look() as look:  # a reader is not kept waiting, and sees what was there before
                assert "Bollard" not in [s.name for s in subjects.all_subjects(look)]
        assert refused.value.waited_seconds == 0.2


def test_a_full_disk_is_a_plain_sentence_and_changes_nothing(wharf: Path) -> None:
    with open_archive(wharf) as archive:
        with pytest.raises(CouldNotWrite, match="disk is full"), archive.change("much") as writer:  # noqa: PT012
            pages = writer._connection.exec_driver_sql("PRAGMA page_count").scalar_one()
            writer._connection.exec_driver_sql(f"PRAGMA max_page_count={pages}")
            for n in range(1000):
                subjects.add_subject(writer, f"bollard {n}", notes="x" * 5000)
        with archive.look() as look:
            assert len(subjects.all_subjects(look)) == 2


def test_a_closed_archive_is_one_file_to_copy(wharf: Path, tmp_path: Path) -> None:
    with open_archive(wharf) as archive, archive.change("added a bollard") as writer:
        subjects.add_subject(writer, "Bollard")

    assert not (wharf / "archive.db-wal").exists() or (wharf / "archive.db-wal").stat().st_size == 0
    shutil.copyfile(wharf / "archive.db", tmp_path / "copy.db")
    with closing(sqlite3.connect(tmp_path / "copy.db")) as database:
        assert database.execute("SELECT count(*) FROM subject WHERE name = 'Bollard'").fetchone() == (1,)


def test_opening_an_up_to_date_archive_loads_no_alembic(wharf: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from archive.records.archive import open_archive;"
        "open_archive(Path(sys.argv[1])).close(); sys.exit('alembic' in sys.modules)"
    )
    top = Path(archives.__file__).parents[2]
    assert subprocess.run([sys.executable, "-c", script, wharf], cwd=top).returncode == 0
