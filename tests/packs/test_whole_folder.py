from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from archive.errors import CouldNotWrite, FileNotThere, FolderInTheWay
from archive.packs.whole_folder import whole_folder


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def fill_and_fail(target: Path, fault: Exception) -> None:
    with whole_folder(target) as part:
        (part / "one.txt").write_text("half")
        raise fault


def test_the_folder_appears_with_everything_in_it(tmp_path):
    with whole_folder(tmp_path / "pack") as part:
        (part / "photos").mkdir()
        (part / "photos" / "front.jpg").write_bytes(b"jpeg")
        assert not (tmp_path / "pack").exists()

    assert (tmp_path / "pack" / "photos" / "front.jpg").read_bytes() == b"jpeg"
    assert names_in(tmp_path) == ["pack"]


def test_a_fault_half_way_leaves_nothing(tmp_path):
    with pytest.raises(ZeroDivisionError):
        fill_and_fail(tmp_path / "pack", ZeroDivisionError())

    assert names_in(tmp_path) == []


def test_a_full_disk_is_told_in_one_sentence_and_leaves_nothing(tmp_path):
    with pytest.raises(CouldNotWrite, match="No space left"):
        fill_and_fail(tmp_path / "pack", OSError(28, "No space left on device"))

    assert names_in(tmp_path) == []


@pytest.mark.parametrize("there", ["file", "empty folder", "full folder", "broken link"])
def test_what_is_there_already_is_never_touched(tmp_path, there):
    target = tmp_path / "pack"
    if there == "file":
        target.write_text("mine")
    elif there == "broken link":
        target.symlink_to(tmp_path / "nowhere")
    else:
        target.mkdir()
    if there == "full folder":
        (target / "mine.txt").write_text("mine")
    before = sorted(path.name for path in tmp_path.rglob("*"))

    with pytest.raises(FolderInTheWay, match="was left as it is"), whole_folder(target):
        pytest.fail("nothing may be written")

    assert sorted(path.name for path in tmp_path.rglob("*")) == before


def test_a_folder_that_comes_while_the_pack_is_written_is_left_as_it_is(tmp_path):
    with pytest.raises(FolderInTheWay), whole_folder(tmp_path / "pack"):
        (tmp_path / "pack").mkdir()

    assert names_in(tmp_path) == ["pack"]


def test_a_missing_place_for_it_is_named(tmp_path):
    with pytest.raises(FileNotThere, match="There is no folder"), whole_folder(tmp_path / "no" / "pack"):
        pytest.fail("nothing may be written")


def test_a_name_that_no_disk_takes_is_refused_in_one_sentence(tmp_path):
    with pytest.raises(CouldNotWrite, match="could not be written"), whole_folder(tmp_path / ("x" * 300)):
        pytest.fail("nothing may be written")

    assert names_in(tmp_path) == []


KILLED = """
import os, sys
from pathlib import Path
from archive.packs.whole_folder import whole_folder
with whole_folder(Path(sys.argv[1])) as part:
    (part / "one.txt").write_text("half")
    print("half way", flush=True)
    sys.stdin.read()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="must skip: POSIX signals")
def test_killed_half_way_there_is_no_pack_and_the_next_one_is_whole(tmp_path):
    target = tmp_path / "pack"
    run = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(target)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    with run:
        assert run.stdout.readline() == b"half way\n"
        run.send_signal(signal.SIGKILL)
    assert not target.exists()
    (left,) = tmp_path.iterdir()

    # What is left is hidden, and taken away by the next pack of that name once it is surely nobody's.
    assert left.name.startswith(".pack.part-")
    long_ago = time.time() - 7200
    os.utime(left, (long_ago, long_ago))
    with whole_folder(target) as part:
        (part / "one.txt").write_text("whole")
    assert names_in(tmp_path) == ["pack"]
