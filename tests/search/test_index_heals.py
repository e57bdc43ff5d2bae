"""The index heals itself: whatever happens to its files, the next search answers rightly."""

from __future__ import annotations

import os
import pickle
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_archives import add_photo, described

from archive.records import tables
from archive.records.archive import Archive, open_archive
from archive.records.photos import link
from archive.records.subjects import add_subject, subject_named
from archive.records.visits import all_visits
from archive.search import find, index
from archive.search.index import home, state

TIMES = int(os.environ.get("RIVETBOOK_CRASHES", "10"))  # how often each accident is tried
TOP = Path(__file__).parents[2]
TOLD = [
    {"name": f"Post {n}", "kind": "bollard", "notes": f"stands at chain {n}", "captions": [f"rope {n}"]}
    for n in range(60)
] + [{"name": "Wharf crane", "kind": "crane", "notes": "swings over the basin"}]


@pytest.fixture
def wharf(tmp_path: Path) -> Iterator[Archive]:
    with described(tmp_path / "wharf", TOLD) as archive:
        find(archive, "crane")
        index.let_go()
        yield archive
        index.let_go()


def answers_rightly(archive: Archive) -> None:
    assert [hit.subject for hit in find(archive, "swings basin").hits] == ["Wharf crane"]
    assert find(archive, "chain 7").hits[0].subject == "Post 7"


def index_files(archive: Archive) -> list[Path]:
    return sorted(p for p in (archive.folder / "index").rglob("*") if p.is_file() and p.name != "lock")


@pytest.mark.parametrize("accident", range(TIMES))
def test_any_file_of_the_index_may_be_cut_short_or_lost(wharf: Archive, accident: int) -> None:
    chance = random.Random(accident)
    for _ in range(chance.choice((1, 1, 3))):
        file = chance.choice(index_files(wharf))
        if chance.random() < 0.4:
            file.unlink()
        else:
            with file.open("rb+") as cut:
                cut.truncate(chance.randrange(max(file.stat().st_size, 1)))
    answers_rightly(wharf)


HELD_OPEN = """
import random, sys
from pathlib import Path
from archive.records.archive import open_archive
from archive.search import find
chance = random.Random(7)
with open_archive(Path(sys.argv[1])) as archive:
    for _ in range(int(sys.argv[2])):
        assert find(archive, "chain 7").hits[0].subject == "Post 7"
        file = chance.choice(sorted((archive.folder / "index").rglob("*.seg")))
        with file.open("rb+") as cut:
            cut.truncate(chance.randrange(file.stat().st_size))
        assert [hit.subject for hit in find(archive, "swings basin").hits] == ["Wharf crane"]
print("answered", flush=True)
"""


def test_an_index_that_is_held_open_may_be_cut_short(wharf: Archive) -> None:
    # In a process of its own: to read a mapped file beyond its new end ends the whole process (POSIX, mmap: SIGBUS).
    words = [sys.executable, "-c", HELD_OPEN, str(wharf.folder), str(TIMES)]
    done = subprocess.run(words, cwd=TOP, capture_output=True, text=True, timeout=120, check=False)

    assert (done.returncode, done.stdout) == (0, "answered\n"), done.stderr


def test_all_of_the_index_may_be_lost(wharf: Archive) -> None:
    shutil.rmtree(wharf.folder / "index")

    result = find(wharf, "crane")

    assert [hit.subject for hit in result.hits] == ["Wharf crane"]
    assert "search index was not there and has been made anew" in " ".join(result.messages)
    assert find(wharf, "crane").messages == ()


@pytest.mark.parametrize("accident", range(TIMES))
def test_indexing_may_be_killed_at_any_moment(wharf: Archive, accident: int) -> None:
    chance = random.Random(1000 + accident)
    if chance.random() < 0.5:
        (wharf.folder / "index" / "state").unlink()  # so that all of it is made anew
    with wharf.change("Added a few more") as writer:
        for n in range(40):
            add_subject(writer, f"Late post {n}", kind="bollard", notes=f"set at peg {n}")
    ready = "print('ready', flush=True)"
    search = "from archive.search import find; find(a, 'crane', limit=5)"
    child = subprocess.Popen(
        [
            sys.executable,
            "-c",
            f"from archive.records.archive import open_archive\nimport archive.search.index, archive.search.lookup\n"
            f"from pathlib import Path\na = open_archive(Path({str(wharf.folder)!r}))\n{ready}\n{search}",
        ],
        stdout=subprocess.PIPE,
        cwd=TOP,
    )
    assert child.stdout is not None
    child.stdout.readline()
    time.sleep(chance.uniform(0.0, 0.12))
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdout.close()

    answers_rightly(wharf)
    assert find(wharf, "peg 39").hits[0].subject == "Late post 39"


def test_a_lock_that_somebody_left_behind_blocks_nothing(wharf: Archive) -> None:
    (wharf.folder / "index" / "lock").write_bytes(b"left behind")
    with wharf.change("Added a hut") as writer:
        add_subject(writer, "Tally hut")
    begun = time.monotonic()

    assert find(wharf, "tally").hits[0].subject == "Tally hut"
    assert time.monotonic() - begun < 2


def test_while_another_process_writes_the_index_the_one_that_is_there_serves(
    wharf: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(home, "_WAIT_TO_CATCH_UP", 0.2)
    with wharf.change("Added a hut") as writer:
        add_subject(writer, "Tally hut")
    holder = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys, time\nfrom whoosh.util.filelock import FileLock\n"
            f"lock = FileLock({str(wharf.folder / 'index' / 'lock')!r})\nlock.acquire()\nprint('held', flush=True)\ntime.sleep(60)",
        ],
        stdout=subprocess.PIPE,
    )
    assert holder.stdout is not None
    holder.stdout.readline()
    try:
        result = find(wharf, "crane")
    finally:
        holder.kill()
        holder.wait()
        holder.stdout.close()

    assert [hit.subject for hit in result.hits] == ["Wharf crane"]
    assert "the newest changes may be missing" in " ".join(result.messages)
    assert find(wharf, "tally").hits[0].subject == "Tally hut"


class Trap:
    """What a hostile index could hold: it writes a file when it is unpickled."""

    def __init__(self, sprung: Path) -> None:
        self.sprung = sprung

    def __reduce__(self) -> tuple[object, ...]:
        return Path.write_text, (self.sprung, "sprung")


def test_an_index_that_came_with_a_copied_archive_is_made_anew_and_never_opened(
    wharf: Archive, tmp_path: Path
) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(wharf.folder, copy)
    sprung = tmp_path / "sprung"
    for toc in (copy / "index").rglob("*.toc"):
        toc.write_bytes(toc.read_bytes() + pickle.dumps(Trap(sprung)))
    with open_archive(copy) as archive:
        result = find(archive, "crane")

    assert [hit.subject for hit in result.hits] == ["Wharf crane"]
    assert "came from elsewhere and has been made anew" in " ".join(result.messages)
    assert not sprung.exists()


def test_files_put_in_the_place_of_the_index_are_not_opened(wharf: Archive, tmp_path: Path) -> None:
    sprung = tmp_path / "sprung"
    for file in index_files(wharf):
        if file.suffix in (".toc", ".seg"):
            before = file.stat()
            trap = pickle.dumps(Trap(sprung))
            file.write_bytes((trap * (before.st_size // len(trap) + 1))[: before.st_size])
            os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))  # size and time as they were
    answers_rightly(wharf)
    assert not sprung.exists()


def test_an_index_of_another_version_is_made_anew(wharf: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(state, "FORMULAS", state.FORMULAS + 1)

    assert "was made by another version of Rivetbook and has been made anew" in told(wharf)


def test_a_damaged_index_is_said_to_be_damaged(wharf: Archive) -> None:
    for file in index_files(wharf):
        if file.suffix == ".seg":
            file.write_bytes(b"")

    assert "search index was damaged and has been made anew" in told(wharf)


def told(archive: Archive) -> str:
    result = find(archive, "crane")
    assert [hit.subject for hit in result.hits] == ["Wharf crane"]
    return " ".join(result.messages)


def test_where_the_archive_cannot_be_written_the_index_lies_elsewhere(wharf: Archive) -> None:
    shutil.rmtree(wharf.folder / "index")
    (wharf.folder / "index").write_bytes(b"a file stands where the folder should be")

    answers_rightly(wharf)
    index.let_go()
    assert find(wharf, "crane").messages == ()  # it was kept, and serves again


def test_a_fault_of_the_library_while_searching_makes_the_index_anew(
    wharf: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    from archive.search import lookup

    rightly, calls = lookup.look_up, []

    def once_wrongly(*args: object, **options: object) -> object:
        calls.append(args)
        if len(calls) == 1:
            raise ValueError("a block of the index is no block")
        return rightly(*args, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(lookup, "look_up", once_wrongly)

    result = find(wharf, "crane")

    assert [hit.subject for hit in result.hits] == ["Wharf crane"]
    assert "was damaged and has been made anew" in " ".join(result.messages)


def test_readers_beside_a_writer_see_no_fault(wharf: Archive) -> None:
    faults: list[BaseException] = []
    done = threading.Event()

    def read() -> None:
        try:
            with open_archive(wharf.folder) as archive:
                while not done.is_set():
                    assert find(archive, "crane").hits[0].subject == "Wharf crane"
        except BaseException as fault:
            faults.append(fault)
        finally:
            index.let_go()

    readers = [threading.Thread(target=read) for _ in range(2)]
    for reader in readers:
        reader.start()
    for n in range(12):
        with wharf.change(f"Added hut {n}") as writer:
            add_subject(writer, f"Hut {n}", kind="hut")
        assert find(wharf, f"hut {n}").hits
    done.set()
    for reader in readers:
        reader.join()
    assert faults == []


def test_what_was_taken_away_or_renamed_is_found_no_more(wharf: Archive) -> None:
    with wharf.change("Renamed a post") as writer:
        post = subject_named(writer, "Post 7")
        writer.update(tables.subject, post.key, name="Dolphin", name_key="dolphin", notes=None)

    assert find(wharf, "dolphin").hits[0].subject == "Dolphin"
    assert not [hit for hit in find(wharf, '"chain 7"').hits if hit.subject == "Dolphin"]


def test_a_shelf_of_an_index_that_is_held_open_may_become_empty_and_fill_again(wharf: Archive) -> None:
    with wharf.look() as look:
        visit = all_visits(look)[0]
    for turn in range(3):
        with wharf.change("Brought a photo in") as writer:
            photo = add_photo(writer, visit, f"late_{turn}.jpg", caption=f"gable at dusk {turn}")
        assert [found.file for found in find(wharf, "gable").photos] == [photo.file]
        with wharf.change("Linked it") as writer:
            link(writer, photo, subject_named(writer, "Wharf crane"), view="front")

        assert find(wharf, "gable").photos == ()
        assert [hit.subject for hit in find(wharf, "gable").hits] == ["Wharf crane"]
        assert not find(wharf, "gable").messages


def test_an_archive_whose_records_were_put_back_from_a_copy_is_searched_anew(
    tmp_path: Path, wharf: Archive
) -> None:
    shutil.copy(wharf.folder / "archive.db", tmp_path / "before.db")
    with wharf.change("Added what will be lost") as writer:
        add_subject(writer, "Lost lamp")
    assert find(wharf, "lost lamp").hits[0].subject == "Lost lamp"
    index.let_go()
    wharf.close()
    shutil.copy(tmp_path / "before.db", wharf.folder / "archive.db")
    with open_archive(wharf.folder) as again:
        with again.change("Added another in its place") as writer:
            add_subject(writer, "Found lamp")

        assert [hit.subject for hit in find(again, "lamp").hits] == ["Found lamp"]
