"""Do commands again and again, each time in a forked child that is killed at another moment, then another command.

A program of its own; `test_cut_off` starts it and judges what is left. It prints one JSON document: for every
command the steps of the undisturbed one, and for every disturbed one where its archive lies and what the command
after it said.
"""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import sys
import time
from contextlib import closing, redirect_stdout
from functools import partial
from io import StringIO
from pathlib import Path
from typing import Any

from cut_off import Steps, command, in_a_child, killed_within, waited_for

from archive.cli import main

SEED = 17_06_2023
NEXT = ["instrument", "list"]  # any command: opening the archive completes what was cut off


def still_to_move(archive: Path, scratch: Path) -> int:
    """How many moves the records hold; read from a copy, for opening the archive itself would change it."""
    scratch.mkdir()
    for file in archive.glob("archive.db*"):
        shutil.copy(file, scratch)
    with closing(sqlite3.connect(scratch / "archive.db")) as database:
        (number,) = database.execute("SELECT count(*) FROM pending_move").fetchone()
    shutil.rmtree(scratch)
    return int(number)


def disturb(begun: Path, words: list[str], work: Path, moments: int, *, soak: bool) -> dict[str, Any]:
    """Cut one command off before each of its steps and at so many moments, each time in an archive of its own."""
    work.mkdir()

    def fresh(name: str) -> tuple[Path, Path]:
        shutil.copytree(begun, work / name)
        return work / name, work / f"{name}.said"

    archive, _ = fresh("loading")  # what the command loads is loaded here once, not in every child
    with redirect_stdout(StringIO()):
        for each in (words, NEXT):
            main.main(["--archive", str(archive), *each], standalone_mode=False)

    archive, said = fresh("undisturbed")
    waited_for(in_a_child(partial(command, archive, words, said, partial(Steps, archive))))
    steps = json.loads(said.with_suffix(".steps").read_text())
    archive, said = fresh("timed")
    started = time.monotonic()
    waited_for(in_a_child(partial(command, archive, words, said)))
    seconds = time.monotonic() - started

    runs = []

    def look_after(name: str, archive: Path, said: Path, cut: dict[str, Any]) -> None:
        left = still_to_move(archive, work / "scratch")
        ending = waited_for(in_a_child(partial(command, archive, NEXT, said)))
        told = {"name": name, "archive": str(archive), "cut": cut, "still_to_move": left, **ending}
        runs.append({**told, "said": said.read_text("utf-8")})

    for number, (what, _) in enumerate(steps):
        if what == "flush" and not soak:
            continue  # to a program that is killed the disk is the same before a flush and after it
        name = f"step {number} before {what}"
        archive, said = fresh(name)
        watch = partial(Steps, archive, die_before=number)
        cut = waited_for(in_a_child(partial(command, archive, words, said, watch)))
        look_after(name, archive, said, cut)

    chance = random.Random(SEED)
    for number in range(moments):
        name = f"moment {number}"
        archive, said = fresh(name)
        cut = killed_within(in_a_child(partial(command, archive, words, said)), seconds, chance)
        if number % 2:  # every other time the command after it is cut off too
            killed_within(in_a_child(partial(command, archive, NEXT, said)), seconds, chance)
        look_after(name, archive, said, cut)
    return {"steps": steps, "runs": runs}


if __name__ == "__main__":
    where, typed, many = Path(sys.argv[1]), json.loads(sys.argv[2]), int(sys.argv[3])
    told = {}
    for each, words_typed in typed.items():
        told[each] = disturb(where / each, words_typed, where / f"{each}, cut off", many, soak=many > 10)
    print(json.dumps(told))
