"""Finding among a lifetime's photos costs little more than the bare library, bare SQL and bare imports do.

A small archive in every run; RIVETBOOK_LARGE=1 makes one of 100,000 photos, 10,000 subjects and 60,000 sizes
(about five minutes), whose table stands in DEVELOPERS.md.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from time import perf_counter, perf_counter_ns

import pytest
from benchmarks.finding_study import Study, Times, study_of
from benchmarks.large_archive import Size, make_large_archive
from benchmarks.turns import ratio, work_seconds
from made_archives import add_photo
from wendle_basin import new_archive

from archive.demo import run_demo
from archive.records.archive import Archive
from archive.records.finding.stale import change_stamp
from archive.records.visits import add_visit, all_visits
from archive.search import find, index
from archive.search.index import writing

LARGE = bool(os.environ.get("RIVETBOOK_LARGE"))
SIZE = Size() if LARGE else Size(photos=600, subjects=60, sizes=360, visits=6, places=5, words=600)
QUESTIONS = 200 if LARGE else 12
# In a small archive next to nothing is searched, and what is left is reading what is shown.
ALLOWED = 1.0 if LARGE else 4.0

pytestmark = pytest.mark.timeout(3600 if LARGE else 120)


@pytest.fixture(scope="module")
def study(own_account: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Study]:
    folder = tmp_path_factory.mktemp("lifetime")
    with make_large_archive(folder / "archive", SIZE) as archive, study_of(archive, folder) as study:
        yield study
        index.let_go()


def tell(capsys: pytest.CaptureFixture[str], name: str, times: Times) -> None:
    told = [f"{who} {times.median_ms(who):.1f} / {times.p95_ms(who):.1f} ms" for who in times.seconds]
    ratios = [f"{times.ratio('ours', who):.2f} x {who}" for who in times.seconds if who != "ours"]
    with capsys.disabled():
        print(f"\n{name}: {', '.join(told)}; {', '.join(ratios)}", end="")


@pytest.mark.parametrize("sort", ["one_word", "two_words", "phrases", "beginnings"])
def test_words_cost_about_what_the_bare_library_takes(
    study: Study, sort: str, capsys: pytest.CaptureFixture[str]
) -> None:
    times: Times = getattr(study, sort)(QUESTIONS)
    tell(capsys, sort, times)
    assert times.ratio("ours", "library") <= 1.5 * ALLOWED


def test_a_size_costs_about_what_bare_sql_takes(study: Study, capsys: pytest.CaptureFixture[str]) -> None:
    times = study.sizes(QUESTIONS)
    tell(capsys, "sizes", times)
    assert times.ratio("ours", "rows") <= 2 * ALLOWED


@pytest.mark.parametrize("sort", ["word_and_size", "near_and_kind"])
def test_conditions_cost_little_beside_the_word(
    study: Study, sort: str, capsys: pytest.CaptureFixture[str]
) -> None:
    times: Times = getattr(study, sort)(QUESTIONS)
    tell(capsys, sort, times)
    assert times.ratio("ours", "word alone") <= 1.5 * ALLOWED


def test_a_word_and_a_size_find_what_both_find(study: Study) -> None:
    low, high = 200.0, 2000.0
    in_range = {row.name for row in study.rows("overall height", low, high)}
    for _ in range(QUESTIONS):
        word = study.word()
        both = find(study.archive, word, sizes=[f"overall height {low:.0f} to {high:.0f} mm"], limit=1000)
        alone = find(study.archive, word, limit=1000)
        if not both.more and not alone.more and not both.messages:
            likely = {hit.subject for hit in alone.hits} & in_range
            assert {hit.subject for hit in both.hits} <= likely
            unlikely = likely - {hit.subject for hit in both.hits}
            assert len(unlikely) <= 0.1 * len(likely) + 1  # whose interval meets the range by less than 5 %


def test_making_the_index_anew_keeps_up_with_the_bare_library(
    study: Study, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    begun = perf_counter()
    with study.archive.look() as look:
        writing.fill(tmp_path / "anew", look)
    seconds = perf_counter() - begun
    ours, bare = SIZE.photos + SIZE.subjects, study.library.seconds
    megabytes = sum(file.stat().st_size for file in (tmp_path / "anew").iterdir()) / 1e6
    with capsys.disabled():
        print(
            f"\nindex anew: {ours / seconds:.0f} things/s, bare library {ours / bare:.0f}; {megabytes:.1f} MB",
            end="",
        )
    if LARGE:
        assert bare / seconds >= 0.7


def seconds_to_follow(archive: Archive, many: int) -> float:
    """The median of what it takes to bring the index up to one more photo."""
    took = []
    for number in range(many):
        with archive.change("Brought one photo in") as writer:
            visit = all_visits(writer)[0]
            add_photo(
                writer, visit, f"more_{perf_counter_ns()}_{number}.jpg", caption="rope marks on the quay"
            )
        with archive.look() as look:
            newest = change_stamp(look)
        begun = perf_counter()
        index.up_to_date_index(archive, newest)
        took.append(perf_counter() - begun)
    return median(took[1:])


def test_one_more_photo_costs_the_full_index_little_more_than_an_empty_one(
    study: Study, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with new_archive(tmp_path / "empty") as empty:
        with empty.change("Went there") as writer:
            add_visit(writer, "Wendle Basin", zone="Europe/London")
        turns: list[tuple[float, float]] = []
        for _ in range(3):
            medians = []
            for archive in (empty, study.archive):
                index.let_go()
                find(archive, "quay")
                medians.append(seconds_to_follow(archive, 6))
            turns.append((medians[0], medians[1]))
        to_empty, to_full = (min(each) for each in zip(*turns, strict=True))
    with capsys.disabled():
        print(f"\none more photo: {to_full * 1000:.1f} ms, empty {to_empty * 1000:.1f} ms", end="")
    assert to_full / to_empty <= (2 if LARGE else 3)


def test_find_as_a_whole_process_costs_little_more_than_its_imports(
    study: Study, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = study.archive.folder
    if LARGE:
        folder = run_demo(tmp_path / "basin", say=lambda _line: None) / "archive"

    def run(*words: str) -> None:
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)

    bare = "import click, sqlalchemy.orm, whoosh.index, whoosh.searching, whoosh.query"
    run("-m", "archive", "--archive", str(folder), "find", "bollard")
    found = ratio(
        lambda: run("-m", "archive", "--archive", str(folder), "find", "bollard"),
        lambda: run("-c", bare),
        rounds=15 if LARGE else 5,
        clock=work_seconds,
    )
    with capsys.disabled():
        print(f"\na whole process: {found:.2f} x bare imports", end="")
    assert found <= (1.5 if LARGE else 2.0)
