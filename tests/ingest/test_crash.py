"""An import is cut off before each of its steps and at random moments, and the next one completes it."""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from made_pictures import exif_block, jpeg_bytes, png_bytes, upright_scene, with_exif

from archive.ingest.previews import preview_of
from archive.records import photos, visits
from archive.records.archive import open_archive

pytestmark = pytest.mark.skipif(os.name != "posix", reason="must skip: processes are forked and killed here")

PHOTOS = int(os.environ.get("RIVETBOOK_CRASH_PHOTOS", "4"))
MOMENTS = int(os.environ.get("RIVETBOOK_CRASH_MOMENTS", "10"))
TOP = Path(__file__).resolve().parents[2]
PART = ".rivetbook-part-"


def photo(number: int) -> bytes:
    """A small photo like no other, taken on one of two days."""
    scene = upright_scene(96 + number, 64)
    taken = f"2023:06:{17 + number % 2} 10:{number % 60:02}:00"
    return with_exif(jpeg_bytes(scene), exif_block({0x0110: (2, "Halden C20")}, {0x9003: (2, taken)}))


def fill_card(card: Path) -> None:
    """Two folders of one card that use the same names, as cameras do, and one photo that is there twice."""
    for number in range(PHOTOS - 1):
        file = card / f"{100 + number % 2}WHARF" / f"HC20_{number // 2:04}.JPG"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(photo(number))
    (card / "crane ½ scale.png").write_bytes(png_bytes(upright_scene(90, 70)))
    (card / "100WHARF" / "copy of HC20_0000.JPG").write_bytes(photo(0))


@dataclass
class Disturbed:
    card: Path
    steps: list[tuple[str, str]]
    runs: list[dict[str, Any]]

    @property
    def originals(self) -> Counter[str]:
        """How often each distinct file must be held: once."""
        return Counter({hash_of(file) for file in self.card.rglob("*") if file.is_file()})


def hash_of(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


@pytest.fixture(scope="module")
def disturbed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Disturbed]:
    where = tmp_path_factory.mktemp("crashes")
    fill_card(where / "card")
    driver = Path(__file__).with_name("crash_driver.py")
    done = subprocess.run(
        [sys.executable, driver, where / "card", where, str(MOMENTS)],
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": f"{TOP}{os.pathsep}{TOP / 'tests'}"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    return Disturbed(where / "card", [tuple(step) for step in told["steps"]], told["runs"])  # type: ignore[misc]


def test_every_photo_is_written_flushed_named_and_its_folder_flushed_before_the_records_learn_of_it(
    disturbed: Disturbed,
) -> None:
    steps = disturbed.steps
    named = [
        at
        for at, (what, path) in enumerate(steps)
        if what == "name" and re.fullmatch(r"visits/.*\.(JPG|png)", path)
    ]
    assert len(named) == len(disturbed.originals)
    for at in named:
        folder = steps[at][1].rpartition("/")[0]
        part = steps[at - 2][1]
        assert part.startswith(f"{folder}/{PART}")
        assert steps[at - 2 : at] == [("open to write", part), ("flush", part)]
        committed = steps.index(("commit", "."), at)
        assert ("flush", folder) in steps[at:committed]
        assert ("name", f"{folder}/manifest-sha256.txt") in steps[committed:]


def test_the_list_of_checksums_is_flushed_named_and_its_folder_flushed_after_the_last_commit(
    disturbed: Disturbed,
) -> None:
    last_commit = max(at for at, (what, _) in enumerate(disturbed.steps) if what == "commit")
    steps = disturbed.steps[last_commit:]
    after = [(what, path) for what, path in steps if path.startswith("visits") and what != "mkdir"]
    assert [what for what, _ in after] == ["open to write", "flush", "name", "flush"]
    assert after[2][1].endswith("/manifest-sha256.txt")


def test_an_original_once_named_is_never_opened_to_write_and_a_source_never_at_all(
    disturbed: Disturbed,
) -> None:
    for what, path in disturbed.steps:
        if what in ("open to write", "truncate"):
            assert PART in path or path == ".import.lock", path
        assert not path.startswith(".."), f"{what} outside the archive: {path}"


def test_the_import_was_cut_off_before_every_step(disturbed: Disturbed) -> None:
    before_steps = [run for run in disturbed.runs if run["name"].startswith("step")]
    assert len(before_steps) == len(disturbed.steps) > 5 * len(disturbed.originals)
    assert all(run["cut"]["killed"] for run in before_steps)
    assert len(disturbed.runs) - len(before_steps) == MOMENTS


def test_the_next_import_completes_it_with_nothing_lost_and_nothing_twice(disturbed: Disturbed) -> None:
    for run in disturbed.runs:
        visits_folder = Path(run["archive"]) / "visits"
        held = [f for f in visits_folder.rglob("*") if f.is_file() and f.name != "manifest-sha256.txt"]
        assert Counter(map(hash_of, held)) == disturbed.originals, run["name"]


def test_records_and_checksums_say_what_is_there(disturbed: Disturbed) -> None:
    for run in disturbed.runs:
        folder = Path(run["archive"])
        with closing(sqlite3.connect(folder / "archive.db")) as database:
            assert database.execute("PRAGMA foreign_key_check").fetchall() == [], run["name"]
            assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)], run["name"]
            rows = database.execute("SELECT stored_path, sha256, bytes FROM original").fetchall()
            assert database.execute("SELECT count(*) FROM photo").fetchone() == (len(disturbed.originals),)
            days = database.execute("SELECT name, first_day, last_day FROM visit").fetchall()
        assert Counter(sha256 for _, sha256, _ in rows) == disturbed.originals, run["name"]
        assert all(hash_of(folder / path) == sha256 for path, sha256, _ in rows), run["name"]
        assert days == [("Wendle Basin, June", "2023-06-17", "2023-06-18")], run["name"]
        (manifest,) = folder.glob("visits/*/manifest-sha256.txt")
        listed = dict(reversed(line.split("  ", 1)) for line in manifest.read_text("utf-8").splitlines())
        assert listed == {path.rpartition("/")[2]: sha256 for path, sha256, _ in rows}, run["name"]


def test_no_half_written_file_stays(disturbed: Disturbed) -> None:
    for run in disturbed.runs:
        assert list(Path(run["archive"]).rglob(f"{PART}*")) == [], run["name"]


def test_no_message_frightens(disturbed: Disturbed) -> None:
    frightening = re.compile(
        r"error|corrupt|fail|damage|broken|crash|lost|warning|traceback|exception", re.IGNORECASE
    )
    for run in disturbed.runs:
        assert run["status"] == 0, (run["name"], run["said"])
        assert not frightening.search(run["said"]), run["said"]
        assert run["said"].startswith(("Made the visit Wendle Basin, June", "Imported ")), run["said"]


def test_every_photo_has_its_preview_afterwards(disturbed: Disturbed) -> None:
    for run in disturbed.runs[:: max(1, len(disturbed.runs) // 8)]:
        with open_archive(Path(run["archive"])) as archive, archive.look() as look:
            for held in photos.all_photos(look):
                assert preview_of(archive, held).startswith(b"\xff\xd8"), run["name"]
            assert [visit.photos for visit in visits.all_visits(look)] == [len(disturbed.originals)]
