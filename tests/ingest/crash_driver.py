"""Import photos again and again, each time in a forked child that is killed at another moment, then once more.

A program of its own; `test_crash` starts it and judges what is left. It prints one JSON document: the steps
of an undisturbed import, and for every disturbed one where its archive lies and what the import after it said.
"""

from __future__ import annotations

import json
import random
import shutil
import sys
import time
from functools import partial
from pathlib import Path
from typing import Any

import imagehash  # noqa: F401  # loaded once, not per child
from cut_off import Steps, command, in_a_child, killed_within, waited_for

from archive.ingest import importing, metadata, previews, safe_copy, survey  # noqa: F401  # loaded once, not per child
from archive.records.folder import make_archive

SEED = 17_06_2023
importing._BATCH = 2  # so that a few photos make several transactions


def disturb(card: Path, work: Path, moments: int) -> dict[str, Any]:
    empty = work / "empty"
    make_archive(empty)
    words = ["import", str(card), "--visit", "Wendle Basin, June"]

    def fresh(name: str) -> tuple[Path, Path]:
        shutil.copytree(empty, work / name)
        return work / name, work / f"{name}.said"

    archive, said = fresh("undisturbed")
    waited_for(in_a_child(partial(command, archive, words, said, partial(Steps, archive))))
    steps = json.loads(said.with_suffix(".steps").read_text())
    archive, said = fresh("timed")
    started = time.monotonic()
    waited_for(in_a_child(partial(command, archive, words, said)))
    seconds = time.monotonic() - started

    runs = []

    def complete(name: str, archive: Path, said: Path, cut: dict[str, Any]) -> None:
        ending = waited_for(in_a_child(partial(command, archive, words, said)))
        runs.append(
            {"name": name, "archive": str(archive), "cut": cut, **ending, "said": said.read_text("utf-8")}
        )

    for number, (what, _) in enumerate(steps):
        name = f"step {number} before {what}"
        archive, said = fresh(name)
        watch = partial(Steps, archive, die_before=number)
        cut = waited_for(in_a_child(partial(command, archive, words, said, watch)))
        complete(name, archive, said, cut)

    chance = random.Random(SEED)
    for number in range(moments):
        name = f"moment {number}"
        archive, said = fresh(name)
        cut = {}
        for _ in range(1 + number % 2):  # every other one is cut off twice
            cut = killed_within(in_a_child(partial(command, archive, words, said)), seconds, chance)
        complete(name, archive, said, cut)
    return {"steps": steps, "seconds": seconds, "runs": runs}


if __name__ == "__main__":
    print(json.dumps(disturb(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))))
