"""A command that moves files is cut off before each of its steps and at random moments: records and folders agree after."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from wharf_of_files import VISITS, agree, files_in, records_in, wharf_of_files

from archive.dimensions import putting_right as right
from archive.dimensions.undoing import undo
from archive.records.archive import Archive, open_archive
from archive.records.history import all_acts

pytestmark = pytest.mark.skipif(os.name != "posix", reason="must skip: processes are forked and killed here")

MOMENTS = int(os.environ.get("RIVETBOOK_CRASH_MOMENTS", "10"))
TOP = Path(__file__).resolve().parents[2]
COMPLETED = "An earlier command was cut off while it moved files; that is completed now."


def remove(archive: Archive) -> None:
    right.remove_photos(archive, ["HC20_0400"])


def merge(archive: Archive) -> None:
    right.merge_visits(archive, VISITS[1], VISITS[0])


# What is typed, how many files it moves, and what was done before it.
COMMANDS: dict[str, tuple[list[str], int, Callable[[Archive], None] | None]] = {
    "remove": (["photo", "remove", "HC20_0400"], 1, None),
    "merge": (["visit", "merge", VISITS[1], "--into", VISITS[0]], 2, None),
    "undo of remove": (["undo"], 1, remove),
    "undo of merge": (["undo"], 2, merge),
}


@dataclass
class Disturbed:
    moved: int
    steps: list[tuple[str, str]]
    runs: list[dict[str, Any]]
    before: tuple[str, dict[str, str]]  # records and files
    after: tuple[str, dict[str, str]]


@pytest.fixture(scope="module")
def every_command(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Disturbed]:
    where = tmp_path_factory.mktemp("cut off")
    for name, (_, _, first) in COMMANDS.items():
        with wharf_of_files(where / name, photos_each=2) as archive:
            if first is not None:
                first(archive)
    driver = Path(__file__).with_name("cut_off_driver.py")
    typed = json.dumps({name: words for name, (words, _, _) in COMMANDS.items()})
    done = subprocess.run(
        [sys.executable, driver, where, typed, str(MOMENTS)],
        env={**os.environ, "PYTHONPATH": f"{TOP}{os.pathsep}{TOP / 'tests'}"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    found = {}
    for name, (_, moved, _) in COMMANDS.items():
        begun, undisturbed = where / name, where / f"{name}, cut off" / "undisturbed"
        found[name] = Disturbed(
            moved,
            [tuple(step) for step in told[name]["steps"]],  # type: ignore[misc]
            told[name]["runs"],
            (records_in(begun), files_in(begun)),
            (records_in(undisturbed), files_in(undisturbed)),
        )
    return found


@pytest.fixture(params=COMMANDS)
def disturbed(request: pytest.FixtureRequest, every_command: dict[str, Disturbed]) -> Disturbed:
    return every_command[request.param]


def test_it_moves_files_only_after_the_records_say_so_and_clears_the_intent_last(
    disturbed: Disturbed,
) -> None:
    commits = [at for at, (what, _) in enumerate(disturbed.steps) if what == "commit"]
    named = [
        at for at, (what, path) in enumerate(disturbed.steps) if what == "name" and path.endswith(".JPG")
    ]
    assert len(named) == disturbed.moved
    assert commits[0] < min(named) <= max(named) < commits[1]


def test_a_file_has_its_new_name_for_good_before_it_loses_the_old_one(disturbed: Disturbed) -> None:
    steps = disturbed.steps
    for at, (what, path) in enumerate(steps):
        if what == "name" and path.endswith(".JPG"):
            gone = next(n for n in range(at, len(steps)) if steps[n][0] == "remove")
            assert ("flush", path.rpartition("/")[0]) in steps[at:gone]


def test_it_was_cut_off_before_every_step(disturbed: Disturbed) -> None:
    before_steps = [run for run in disturbed.runs if run["name"].startswith("step")]
    # To a program that is killed the disk is the same before a flush and after it: those are for the soak.
    assert len(before_steps) == sum(what != "flush" or MOMENTS > 10 for what, _ in disturbed.steps)
    assert all(run["cut"]["killed"] for run in before_steps)
    assert len(disturbed.runs) - len(before_steps) == MOMENTS


def test_afterwards_it_is_done_whole_or_not_at_all_and_records_and_folders_agree(
    disturbed: Disturbed,
) -> None:
    seen = set()
    for run in disturbed.runs:
        folder = Path(run["archive"])
        with open_archive(folder) as archive:
            assert agree(archive) == [], run["name"]
        left = records_in(folder), files_in(folder)
        assert left in (disturbed.before, disturbed.after), run["name"]
        seen.add(left == disturbed.after)
    assert seen == {False, True}


def test_the_next_command_completes_what_was_cut_off_and_says_so_in_a_plain_sentence(
    disturbed: Disturbed,
) -> None:
    frightening = re.compile(
        r"error|corrupt|fail|damage|broken|crash|lost|warning|traceback|exception", re.IGNORECASE
    )
    for run in disturbed.runs:
        assert run["status"] == 0, (run["name"], run["said"])
        assert (COMPLETED in run["said"]) == bool(run["still_to_move"]), run["name"]
        said, _, _ = run["said"].partition("Instrument ")  # before what was asked for
        assert not frightening.search(said), said
    assert any(run["still_to_move"] for run in disturbed.runs)


def test_what_was_cut_off_and_completed_can_be_taken_back(disturbed: Disturbed) -> None:
    completed = [Path(run["archive"]) for run in disturbed.runs if run["still_to_move"]]
    for folder in completed[:: len(completed) // 3]:
        with open_archive(folder) as archive:
            with archive.look() as look:
                newest = all_acts(look)[0].number
            undo(archive, newest)
            assert agree(archive) == []
        assert records_in(folder) == disturbed.before[0]
