"""What best figures cost: in proportion to the sizes at stake, and showing 200 of them hardly more than starting."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from benchmarks.turns import ratio
from wendle_basin import new_archive

from archive.dimensions.estimates import recompute
from archive.dimensions.lines import record_lines
from archive.dimensions.sums import work_out_size
from archive.dimensions.tallying import add_tally
from archive.records import sizes, subjects
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.entering import enter_instrument, enter_subject

IMPORTS = (
    "import archive.cli.size_group, archive.dimensions.overview, archive.scales, rich.table, rich.console, "
    "sqlalchemy.dialects.sqlite"
)


def yard(folder: Path, huts: int) -> Archive:
    """An archive of huts, each of 15 sizes read twice with one tape, a tally and a sum."""
    archive = new_archive(folder)
    enter_instrument(archive, "long tape", kind="tape", resolution="1mm")
    for hut in range(huts):
        name = f"Hut {hut + 1}"
        enter_subject(archive, name)
        labels = [f"board {n} width" for n in range(12)]
        lines = [
            "bay = 800 mm",
            "post = 120 mm",
            "overall = 2641 mm",
            *(f"{each} = 139 mm" for each in labels),
        ]
        for day in ("2023-06-17", "2024-09-08"):
            record_lines(archive, name, "\n".join(["with: long tape", f"on: {day}", *lines]))
        add_tally(archive, name, "3 x bay + 2 x post = overall")
        work_out_size(archive, name, "door width", "5 x board 1 width")
    return archive


class _Untouched(Exception):
    """Leaves a transaction without a commit, so that every round finds the same archive."""


@contextmanager
def untouched(archive: Archive) -> Iterator[Writer]:
    try:
        with archive.change("measured and left") as writer:
            yield writer
            raise _Untouched
    except _Untouched:
        pass


def work_out(archive: Archive, huts: int) -> None:
    with untouched(archive) as writer:
        named = [subjects.subject_named(writer, f"Hut {hut + 1}") for hut in range(huts)]
        recompute(writer, [d for each in named for d in sizes.dimensions_of(writer, each)])


def test_the_cost_is_linear_over_subjects(tmp_path: Path) -> None:
    with yard(tmp_path / "yard", 12) as archive:
        # Both take about as long, so that a busy machine is as likely to disturb either.
        of_all_at_once = ratio(
            lambda: work_out(archive, 12), lambda: [work_out(archive, 3) for _ in range(4)], rounds=5
        )

    print(f"12 subjects take {of_all_at_once:.2f} times as long as four times 3")
    assert of_all_at_once < 1.25


def test_a_change_of_one_subject_costs_the_same_beside_many_others(tmp_path: Path) -> None:
    with yard(tmp_path / "few", 2) as few, yard(tmp_path / "many", 12) as many:
        beside_others = ratio(lambda: work_out(many, 1), lambda: work_out(few, 1), rounds=9)

    print(f"beside six times as many subjects it takes {beside_others:.2f} times as long")
    assert beside_others < 1.25


@pytest.mark.timeout(180)
def test_showing_200_sizes_takes_at_most_twice_a_bare_start(tmp_path: Path) -> None:
    with new_archive(tmp_path / "wharf") as archive:
        enter_subject(archive, "Weighbridge hut", kind="hut")
        enter_instrument(archive, "long tape", kind="tape", resolution="1mm")
        lines = [f"board {n} width = {100 + n} mm" for n in range(200)]
        record_lines(archive, "Weighbridge hut", "\n".join(["with: long tape", *lines]))

    def run(*words: str) -> None:
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)

    shown = ratio(
        lambda: run("-m", "archive", "--archive", str(tmp_path / "wharf"), "sizes", "Weighbridge hut"),
        lambda: run("-c", IMPORTS),
        rounds=5,
    )

    print(f"showing 200 sizes takes {shown:.2f} times a bare start")
    assert shown < 2
