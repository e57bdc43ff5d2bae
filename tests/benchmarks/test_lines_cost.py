"""What a file of 200 sizes costs beside inserting the same rows plainly, and starting the command."""

from __future__ import annotations

import json
import subprocess
import sys
from math import inf
from pathlib import Path
from statistics import median
from typing import Any

import pytest
from benchmarks.turns import work_seconds
from wendle_basin import new_archive

from archive.dimensions.lines import record_lines
from archive.records import tables as t
from archive.records.archive import Archive
from archive.records.changes import Change, changes_after, newest_change
from archive.records.entering import enter_instrument, enter_subject

ROUNDS, MOST_ROUNDS = 7, 21
HELD = ["with: long tape", "on: 2023-06-17"]
LINES = [*HELD, *(f"board {n} width = {100 + n} mm" for n in range(200))]
FILES = {"many.txt": 200, "none.txt": 0}


def yard(folder: Path) -> Archive:
    """An archive of huts that nothing was measured of."""
    archive = new_archive(folder)
    enter_instrument(archive, "long tape", kind="tape", resolution="1mm", limit="0.3 mm + 0.2 mm/m")
    for hut in range(MOST_ROUNDS):
        enter_subject(archive, f"Hut {hut}", kind="hut")
    return archive


def rows_of_each_file(archive: Archive, to_folder: Path) -> None:
    """Enter the file for every hut; writes down what rows each wrote, its line of the history among them."""
    with archive.look() as look:
        before = newest_change(look)
    for hut in range(MOST_ROUNDS):
        record_lines(archive, f"Hut {hut}", "\n".join(LINES))
    with archive.look() as look:
        lines = {line["number"]: line for line in (dict(row._mapping) for row in look.all(t.change.select()))}
        for hut, change in enumerate(changes_after(look, before)):
            rows = {t.change.name: [dict(lines[change.number])], **_new_rows(change)}
            in_order = [(name, rows[name]) for name in map(str, t.metadata.sorted_tables) if name in rows]
            (to_folder / f"rows-{hut}.json").write_text(json.dumps(in_order))


def _new_rows(change: Change) -> dict[str, list[dict[str, Any]]]:
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in change.rows:
        assert row.before is None, "a file for a new subject only adds rows"
        rows.setdefault(row.table, []).append(dict(row.after or {}))
    return rows


@pytest.mark.timeout(180)
def test_200_sizes_from_a_file_beside_inserting_their_rows_twice_and_starting_the_command(
    tmp_path: Path,
) -> None:
    with yard(tmp_path / "known") as archive:
        rows_of_each_file(archive, tmp_path)
    yard(tmp_path / "ours").close()
    yard(tmp_path / "bare").close()
    for name, count in FILES.items():
        (tmp_path / name).write_text("\n".join(LINES[: len(HELD) + count]))

    def work_of_entering(name: str, hut: int) -> float:
        words = ["--archive", tmp_path / "ours", "size", "add", f"Hut {hut}", "--lines", tmp_path / name]
        begun = work_seconds()
        done = subprocess.run([sys.executable, "-m", "archive", *words], capture_output=True, check=False)
        worked = work_seconds() - begun
        assert done.returncode == (0 if FILES[name] else 1), done.stderr
        return worked

    def work_of_inserting(hut: int) -> float:
        words = [tmp_path / "bare" / "archive.db", tmp_path / f"rows-{hut}.json"]
        script = Path(__file__).with_name("plain_inserting.py")
        return float(subprocess.run([sys.executable, script, *words], capture_output=True, check=True).stdout)

    turns: list[tuple[float, float, float]] = []
    asked = inf
    while len(turns) < ROUNDS or (asked > 1 and len(turns) < MOST_ROUNDS):
        hut = len(turns)
        turns.append(
            (work_of_entering("many.txt", hut), work_of_entering("none.txt", hut), work_of_inserting(hut))
        )
        # Not the least of each: one lucky moment of the short inserting would outweigh all later turns.
        entering, starting, inserting = (median(each) for each in zip(*turns, strict=True))
        asked = round(entering / (starting + 2 * inserting), 2)

    print(f"200 sizes from a file take {asked} times starting the command and inserting their rows twice")
    assert asked <= 1
