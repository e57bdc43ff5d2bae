"""Every file of a corpus of real and broken pictures, against values that two independent readers agreed on.

Its manifest gives for each file what should happen to it and the values that both readers gave.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import case_files
import pytest
from wendle_basin import new_archive

from archive import pictures
from archive.errors import PictureNotReadable
from archive.ingest.importing import import_files
from archive.ingest.metadata import read_metadata
from archive.ingest.report import ImportReport
from archive.records import photos
from archive.records.archive import Archive
from archive.records.fixity import verify

NAMED = os.environ.get("RIVETBOOK_CORPUS")
FOLDER = Path(NAMED) if NAMED else case_files.BESIDE / "corpus"
MANIFEST: dict[str, Any] = {"files": [], "tolerance": {}}
if (FOLDER / "manifest.json").is_file():
    MANIFEST = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))
elif NAMED:
    raise FileNotFoundError(f"RIVETBOOK_CORPUS names {NAMED}, and there is no manifest.json in it.")

FILES: list[dict[str, Any]] = MANIFEST["files"]
REFUSED = [entry for entry in FILES if entry["expect"].startswith("refused")]
IMPORTED = [entry for entry in FILES if entry not in REFUSED]
if FILES:
    case_files.count("picture corpus", len(IMPORTED), len(REFUSED), FOLDER / "manifest.json")

NO_CORPUS = "no picture corpus: none beside the checkout, and RIVETBOOK_CORPUS is not set"
pytestmark = [pytest.mark.cases, pytest.mark.skipif(not FILES, reason=NO_CORPUS)]

# the manifest's word, ours, the tolerance's name or an absolute difference
VALUES = [
    ("capture_time", "taken", None),
    ("subsec", "subsecond", None),
    ("offset", "utc_offset", None),
    ("make", "make", None),
    ("model", "model", None),
    ("lens", "lens", None),
    ("focal_length_mm", "focal_mm", "focal_mm"),
    ("focal_length_35mm", "focal_35mm", "focal_mm"),
    ("gps_lat", "latitude", "gps_deg"),
    ("gps_lon", "longitude", "gps_deg"),
    ("gps_alt", "altitude_m", "gps_alt_m"),
    ("image_direction", "bearing_deg", "direction_deg"),
    ("image_direction_ref", "bearing_reference", None),
    ("caption", "caption", None),
    ("creator", "creator", None),
    ("rights", "rights", None),
]
SIZES = [
    ("width", "stored_width"),
    ("height", "stored_height"),
    ("display_width", "width"),
    ("display_height", "height"),
    ("orientation", "orientation"),
]
# words of a wanted warning, and the code of the warning of ours that says it
MEANINGS = [
    ("0,0", "position-zero"),
    ("too large to decode", "too-large-to-decode"),
    ("text chunk", "text-left-out"),
    ("metadata is", "metadata-damaged"),
    ("cut off", "cut-off"),
    ("not a valid time", "taken-impossible"),
    ("position is invalid", "position-invalid"),
    ("non-standard form", "position-odd-form"),
    ("no usable embedded preview", "no-preview"),
    ("although the name says", "name-differs-from-content"),
]


def named(entry: dict[str, Any]) -> str:
    return entry["name"]


def file_of(entry: dict[str, Any]) -> Path:
    return FOLDER / "files" / entry["name"]


@pytest.mark.parametrize("entry", IMPORTED, ids=named)
def test_every_expected_value_is_read(entry: dict[str, Any]):
    metadata, facts = read_metadata(file_of(entry)), pictures.inspect(file_of(entry))
    expected = entry["expected"]
    zero_position = expected.get("gps_lat") == expected.get("gps_lon") == 0

    wrong = {}
    for theirs, ours, tolerance in VALUES:
        if zero_position and theirs in ("gps_lat", "gps_lon"):
            continue  # the manifest takes null with a warning as well
        got = getattr(metadata, ours)
        if theirs in expected and not agrees(got, expected[theirs], tolerance):
            wrong[theirs] = (got, expected[theirs])
        if f"{theirs}_any_of" in expected and not any(
            agrees(got, one, tolerance) for one in expected[f"{theirs}_any_of"]
        ):
            wrong[theirs] = (got, expected[f"{theirs}_any_of"])
    if "keywords" in expected and set(metadata.keywords) != set(expected["keywords"]):
        wrong["keywords"] = (metadata.keywords, expected["keywords"])
    if "keywords_any_of" in expected and set(metadata.keywords) not in map(set, expected["keywords_any_of"]):
        wrong["keywords"] = (metadata.keywords, expected["keywords_any_of"])
    for theirs, ours in SIZES:
        if theirs in expected and getattr(facts, ours) != expected[theirs]:
            wrong[theirs] = (getattr(facts, ours), expected[theirs])

    assert wrong == {}


def agrees(got: Any, expected: Any, tolerance: str | None) -> bool:
    if isinstance(expected, str):
        return isinstance(got, str) and got.strip("\0 \t\r\n") == expected.strip("\0 \t\r\n")
    if expected is None or got is None:
        return got is expected
    return got == pytest.approx(expected, abs=MANIFEST["tolerance"][tolerance] if tolerance else 0)


@pytest.mark.parametrize("entry", IMPORTED, ids=named)
def test_it_comes_in_with_the_warning_that_is_due_and_no_other(entry: dict[str, Any]):
    facts = pictures.inspect(file_of(entry))
    warnings = [*facts.warnings, *read_metadata(file_of(entry)).warnings]

    if entry["expect"] == "imports":
        assert warnings == []
    else:
        meaning = next((code for words, code in MEANINGS if words in entry["expect"]), None)
        assert warnings
        assert meaning is None or meaning in {warning.code for warning in warnings}


@pytest.mark.parametrize("entry", IMPORTED, ids=named)
def test_it_has_a_preview_unless_none_can_be_had(entry: dict[str, Any]):
    none_due = re.search("too large|no usable embedded preview", entry["expect"])
    may_be_absent = "no thumbnail" in entry["expect"]  # of a damaged file: better to show what is whole

    viewable = pictures.inspect(file_of(entry)).viewable
    assert viewable == (not none_due) or may_be_absent
    if not viewable:
        with pytest.raises(PictureNotReadable):
            pictures.upright_preview(file_of(entry))
        return
    preview = pictures.upright_preview(file_of(entry))
    facts = pictures.inspect(file_of(entry))
    assert preview.startswith(b"\xff\xd8\xff")
    assert facts.width is not None
    assert facts.height is not None
    width, height = size_of_jpeg(preview)
    assert max(width, height) == min(512, max(facts.width, facts.height))
    assert width / height == pytest.approx(facts.width / facts.height, rel=0.01)


def size_of_jpeg(data: bytes) -> tuple[int, int]:
    frame = re.search(rb"\xff[\xc0\xc2]\x00.\x08(..)(..)", data, re.DOTALL)
    assert frame is not None
    return int.from_bytes(frame[2], "big"), int.from_bytes(frame[1], "big")


@pytest.mark.parametrize("entry", REFUSED, ids=named)
def test_what_is_no_picture_is_refused_with_the_reason(entry: dict[str, Any]):
    why = {"empty": "is empty", "text": "text file"}
    wanted = next((ours for word, ours in why.items() if word in entry["expect"]), "not a picture")

    with pytest.raises(PictureNotReadable, match=wanted):
        pictures.inspect(file_of(entry))


def test_the_same_scene_in_every_orientation_gives_the_same_picture():
    import io

    import numpy as np
    from PIL import Image

    scenes = [FOLDER / "files" / f"landscape_{turn}.jpg" for turn in range(2, 9)]
    if not all(scene.is_file() for scene in scenes):
        pytest.skip("must skip: the corpus holds no scene in all orientations")
    small = [
        np.asarray(
            Image.open(io.BytesIO(pictures.upright_preview(scene))).convert("L").resize((32, 24)), float
        )
        for scene in scenes
    ]
    # The corpus says: less than 2 grey levels on average between any two of 2 to 8.
    assert max(abs(one - other).mean() for one in small for other in small) < 2


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Archive, ImportReport]]:
    """An archive into which the whole corpus was imported in one go."""
    with new_archive(tmp_path_factory.mktemp("corpus") / "archive") as archive:
        yield archive, import_files(archive, [FOLDER / "files"], visit="The corpus")


def test_the_whole_corpus_comes_in_in_one_go_and_only_what_must_is_left_out(
    whole: tuple[Archive, ImportReport],
):
    archive, report = whole

    must_not = {entry["name"] for entry in REFUSED}
    left_out = {Path(left.file).name for left in report.left_out}
    assert left_out <= must_not
    beside = {kept.file for kept in report.kept_beside}  # a film is no picture, and is kept all the same
    assert left_out | (beside & must_not) == must_not
    with archive.look() as look:
        held = photos.held_files(look)
    assert {entry["sha256"] for entry in IMPORTED} <= set(held)
    for sha256, (size, path) in held.items():
        content = archive.path_of(path).read_bytes()
        assert (len(content), hashlib.sha256(content).hexdigest()) == (size, sha256), path
    assert verify(archive).findings == []


def test_what_the_records_say_of_each_is_what_was_read_of_it(whole: tuple[Archive, ImportReport]):
    archive, _ = whole
    with archive.look() as look:
        by_sum = {photo.picture.sha256: photo for photo in photos.all_photos(look)}
    for entry in IMPORTED:
        photo, read = by_sum.get(entry["sha256"]), read_metadata(file_of(entry))
        if photo is None or any(original.role == "sidecar" for original in photo.originals):
            continue  # it came in as part of another photo, or a sidecar had a say as well
        for _, ours, _ in VALUES:
            assert getattr(photo, ours) == getattr(read, ours), (entry["name"], ours)
        assert photo.keywords == read.keywords


def test_importing_the_corpus_again_changes_nothing(whole: tuple[Archive, ImportReport]):
    archive, first = whole
    again = import_files(archive, [FOLDER / "files"], visit="The corpus")

    assert again.imported == again.kept_beside == []
    assert len(again.already_held) >= len(IMPORTED)
    assert len(again.left_out) == len(first.left_out)
