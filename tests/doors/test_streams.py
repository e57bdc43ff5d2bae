"""What happens around a command: bugs, closed and full outputs, interruptions, two at once, names that are no text."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from doors.basin import everything_in, photo_bytes, run
from doors.every_command import USAGES, said
from filelock import FileLock

from archive.cli import door
from archive.ingest import importing, intake
from archive.records import one_at_a_time

TOP = Path(__file__).parents[2]
WITH_ARCHIVE = [name for name, usage in USAGES.items() if usage.needs_archive]


def started(here: Path, *words: str, **pipes: object) -> subprocess.Popen[bytes]:
    """The program as a process of its own, in the sample folder."""
    environment = {**os.environ, "PYTHONPATH": str(TOP), "PYTHONUTF8": "1"}
    return subprocess.Popen(
        [sys.executable, "-m", "archive", *words],
        cwd=here,
        env=environment,
        **pipes,  # type: ignore[call-overload]
    )


def finished(process: subprocess.Popen[bytes]) -> tuple[int, str, str]:
    out, err = process.communicate(timeout=60)
    return process.returncode, (out or b"").decode(), (err or b"").decode()


PIPES = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}


# Faults


@pytest.mark.parametrize("name", WITH_ARCHIVE)
def test_a_fault_of_our_own_is_a_short_sentence_and_a_log_without_traceback(
    here: Path, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stumble(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a hidden detail")

    monkeypatch.setattr(door, "open_archive", stumble)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    before = everything_in(here)

    result = run(*name.split(), *said(USAGES[name].words))

    assert result.exit_code == 1
    assert result.stderr.startswith("Rivetbook made a mistake of its own and stopped.")
    assert "hidden detail" not in result.output
    assert "Traceback" not in result.output
    log = re.search(r"written in '([^']+)'", result.stderr)
    assert log is not None
    assert "ZeroDivisionError: a hidden detail" in Path(log[1]).read_text(encoding="utf-8")
    assert everything_in(here) == before


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES, errno.EIO])
def test_what_the_disk_refuses_is_told_as_that(
    here: Path, number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number), "some/file")

    monkeypatch.setattr(door, "open_archive", refuse)

    result = run("photos")

    assert result.exit_code == 1
    assert result.stderr.startswith(f"'some/file' cannot be used: {os.strerror(number)}.")
    assert "mistake of its own" not in result.stderr


def test_an_interruption_says_that_what_was_saved_is_kept(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(importing, "survey", interrupted)

    result = run("import", "card", "--visit", "Wendle Basin, June")

    assert result.exit_code == 1
    assert result.stderr.strip() == "Stopped. What was saved before is kept."


def test_an_import_that_is_interrupted_keeps_what_it_has_copied(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(10, 14):
        (here / "card" / f"HC20_{number}.JPG").write_bytes(photo_bytes(number))
    copied, copy = [], intake.copy_to_part

    def two_and_then_no_more(*words: object, **more: object) -> object:
        if len(copied) == 2:
            raise KeyboardInterrupt
        copied.append(words)
        return copy(*words, **more)  # type: ignore[arg-type]

    with monkeypatch.context() as interrupted:
        interrupted.setattr(intake, "copy_to_part", two_and_then_no_more)
        assert run("import", "card", "--visit", "Wendle Basin, June").exit_code == 1

    assert "Imported 3 photos" in run("import", "card", "--visit", "Wendle Basin, June").stdout
    assert run("photos").stdout.count(".JPG") == 3 + 5


# Outputs


@pytest.mark.skipif(os.name != "posix", reason="must skip: pipes close otherwise here")
@pytest.mark.parametrize(
    "words",
    [
        ("photos",),
        ("photos", "--json"),
        ("sizes", "Wharf crane"),
        ("find", "crane"),
        ("visit", "list"),
        ("--help",),
    ],
)
def test_a_reader_who_has_seen_enough_gets_no_traceback(here: Path, words: tuple[str, ...]) -> None:
    reading, writing = os.pipe()
    os.close(reading)  # as after `| head -1`

    process = started(here, *words, stdout=writing, stderr=subprocess.PIPE)
    os.close(writing)
    status, _, err = finished(process)

    assert err == ""
    assert status in (0, 1)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="must skip: there is no full device here")
@pytest.mark.parametrize("words", [("photos",), ("photos", "--json"), ("sizes", "Wharf crane")])
def test_an_output_that_takes_no_more_is_told_in_a_sentence(here: Path, words: tuple[str, ...]) -> None:
    with open("/dev/full", "wb") as full:  # noqa: PTH123
        status, _, err = finished(started(here, *words, stdout=full, stderr=subprocess.PIPE))

    assert status == 1
    assert "No space left on device" in err
    assert "Traceback" not in err
    assert "mistake of its own" not in err


def test_a_console_that_lacks_our_letters_stops_nothing(here: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(TOP), "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    words = [sys.executable, "-m", "archive", "sizes", "Wharf crane", "--at", "1:43.5"]

    done = subprocess.run(words, cwd=here, env=environment, capture_output=True)

    assert done.returncode == 0, done.stderr
    assert b"jib length" in done.stdout


# Two at once


@pytest.fixture
def full_card(here: Path) -> Path:
    for number in range(20, 36):
        (here / "card" / f"HC20_{number:04}.JPG").write_bytes(photo_bytes(number))
    return here / "card"


def test_two_imports_at_once_bring_every_photo_once(here: Path, full_card: Path) -> None:
    words = ("import", "card", "--visit", "Wendle Basin, May", "--json")
    both = [started(here, *words, **PIPES) for _ in range(2)]
    ended = [finished(process) for process in both]

    assert [(status, err) for status, _, err in ended] == [(0, ""), (0, "")]
    kept = list((here / "archive" / "visits").rglob("*wendle-basin-may/*.JPG"))
    wanted = sorted(hashlib.sha256(f.read_bytes()).hexdigest() for f in full_card.iterdir())
    assert sorted(hashlib.sha256(f.read_bytes()).hexdigest() for f in kept) == wanted
    assert run("visit", "list").stdout.count("Wendle Basin, May") == 1


def test_an_import_waits_for_the_one_before_it(here: Path) -> None:
    with FileLock(here / "archive" / ".import.lock"):
        process = started(here, "import", "card", "--visit", "Wendle Basin, June", **PIPES)
        time.sleep(2)
        assert process.poll() is None
    status, out, err = finished(process)

    assert (status, err) == (0, "")
    assert "Imported 1 photo" in out


def test_an_import_that_waited_in_vain_is_told_so(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(one_at_a_time, "_WAIT_SECONDS", 0.1)
    before = everything_in(here)

    with FileLock(here / "archive" / ".import.lock"):
        result = run("import", "card", "--visit", "Wendle Basin, June")

    assert result.exit_code == 1
    assert result.stderr.startswith("Another Rivetbook is writing to")
    assert everything_in(here) == before


@pytest.mark.skipif(os.name != "posix", reason="must skip: signals work otherwise here")
def test_an_import_that_was_killed_leaves_no_lock_behind(here: Path, full_card: Path) -> None:
    process = started(here, "import", "card", "--visit", "Wendle Basin, May", **PIPES)
    time.sleep(1)
    process.send_signal(signal.SIGKILL)
    finished(process)

    began = time.monotonic()
    assert run("import", "card", "--visit", "Wendle Basin, May").exit_code == 0
    assert time.monotonic() - began < 10


# Names that are no text


@pytest.mark.skipif(os.name != "posix" or sys.platform == "darwin", reason="must skip: names are text here")
def test_names_that_are_no_text_can_be_typed_and_told(here: Path) -> None:
    folder = here / os.fsdecode(b"caf\xe9")
    folder.mkdir()
    (folder / os.fsdecode(b"kran \xff.JPG")).write_bytes(photo_bytes(50))
    (folder / os.fsdecode(b"notiz \xff.txt")).write_bytes(b"jib")

    words = ("import", os.fsdecode(b"caf\xe9"), "--visit", "Wendle Basin, June")
    status, out, err = finished(started(here, *words, **PIPES))
    assert (status, err) == (3, "")
    assert r"notiz \xff.txt" in out
    status, out, err = finished(started(here, *words, "--json", **PIPES))
    assert (status, err) == (3, "")

    missing = finished(started(here, "import", os.fsdecode(b"nowhere \xff"), **PIPES))
    assert missing[0] == 1
    assert missing[2].startswith(r"There is no file or folder at 'nowhere \xff'")
