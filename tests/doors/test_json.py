"""What programs read: one JSON document a command, format 1, stable keys, unknown is null."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from doors.basin import run
from doors.every_command import USAGES, commands, said

WITH_JSON = [name for name, command in commands() if any("--json" in p.opts for p in command.params)]
PHOTO = [
    "id",
    "file",
    "sha256",
    "bytes",
    "files",
    "width",
    "height",
    "stored_width",
    "stored_height",
    "orientation",
    "taken",
    "taken_as_read",
    "utc_offset",
    "subsecond",
    "make",
    "model",
    "lens",
    "focal_mm",
    "focal_35mm",
    "latitude",
    "longitude",
    "altitude_m",
    "bearing_deg",
    "bearing_reference",
    "caption",
    "keywords",
    "creator",
    "rights",
    "visit",
    "sightings",
    "warnings",
]
IMPORT = ["imported", "already_held", "left_out", "warnings", "seconds"]
READING = [
    "id",
    "dimension",
    "as_written",
    "value_mm",
    "resolution_mm",
    "instrument",
    "grade",
    "photo",
    "taken",
    "replaces",
    "derived_by",
    "value",
    "unit",
]
ESTIMATE = [
    "subject",
    "dimension",
    "quantity",
    "span",
    "state",
    "grade",
    "value_mm",
    "standard_uncertainty_mm",
    "interval_95_mm",
    "degrees_of_freedom",
    "agree",
    "readings",
    "sources",
    "warnings",
]
HIT = ["subject", "kind", "photos", "sizes", "in_range_probability", "score"]


def told(*words: str, status: int = 0) -> dict[str, Any]:
    """The one document that a command prints, and nothing beside it but what a change did to worked-out sizes."""
    result = run(*words, "--json")
    assert result.exit_code == status, result.output
    assert all(line.startswith("Worked out anew: ") for line in result.stderr.splitlines())
    document: dict[str, Any] = json.loads(result.stdout)
    assert document["format"] == 1
    return document


@pytest.mark.parametrize("name", WITH_JSON)
def test_every_document_is_format_1_and_nothing_but_json(here: Path, name: str) -> None:
    told(*name.split(), *said(USAGES[name].words))


def test_every_command_that_shows_something_has_json() -> None:
    # The others make or put right one thing and say so, tell a story, or print a file.
    assert {name for name, _ in commands()} - set(WITH_JSON) <= {
        "new",
        "open", "demo", "kind add", "kind remove", "visit add", "subject add", "instrument add", "build add",
        "instrument amend", "instrument remove-check", "instrument usual",
        "size template", "size set-aside", "size move", "subject rename", "subject amend", "subject merge",
        "subject split", "subject remove", "visit rename", "visit amend", "visit clock", "visit merge",
        "unlink",
        "photo move", "photo amend", "photo remove", "tally remove",
    }  # fmt: skip


def test_a_photo_has_all_its_keys_and_what_is_unknown_is_null(here: Path) -> None:
    photo = next(p for p in told("photos")["photos"] if p["file"] == "HC20_0415.JPG")

    assert set(PHOTO) <= set(photo)
    assert (photo["width"], photo["height"], photo["taken"]) == (121, 80, "2023-06-17T10:14:31")
    assert (photo["make"], photo["model"]) == ("Halden", "Halden C20")
    assert photo["sightings"] == [
        {"subject": "Wharf crane", "view": "right side", "mirrored": False, "region": None}
    ]
    assert len(photo["sha256"]) == 64
    assert set(photo["files"][0]) >= {"role", "path", "sha256", "bytes"}
    assert (photo["keywords"], photo["warnings"]) == ([], [])
    for unknown in ("utc_offset", "subsecond", "lens", "focal_mm", "latitude", "longitude", "altitude_m",
                    "bearing_deg", "bearing_reference", "caption", "creator", "rights", "orientation"):  # fmt: skip
        assert photo[unknown] is None, unknown


def test_an_import_tells_what_became_of_each_file(here: Path) -> None:
    (here / "card" / "notes.txt").write_text("jib 18ft 6in")
    words = ("import", "card", "--visit", "Wendle Basin, June")

    first, again = told(*words, status=3), told(*words, status=3)

    assert set(IMPORT) <= set(first)
    assert first["imported"] == ["HC20_0500.JPG"]
    assert (first["already_held"], first["warnings"]) == ([], [])
    assert isinstance(first["seconds"], float)
    assert again["imported"] == []
    assert [set(held) for held in again["already_held"]] == [{"file", "held_as"}]
    (left,) = again["left_out"]
    assert Path(left["file"]) == Path("card/notes.txt")
    assert "not a picture" in left["reason"]


def test_a_reading_has_all_its_keys(here: Path) -> None:
    document = told(
        "size", "add", "Wharf crane", "post height", "9ft", "--with", "long tape", "--on", "2023-06-17"
    )
    reading = document["reading"]

    assert set(READING) <= set(reading)
    assert (reading["as_written"], reading["value_mm"]) == ("9ft", pytest.approx(2743.2))  # 9 x 304.8
    assert (reading["instrument"], reading["grade"], reading["taken"]) == (
        "long tape",
        "measured",
        "2023-06-17",
    )
    assert (reading["photo"], reading["replaces"], reading["derived_by"]) == (None, None, None)


def test_a_count_has_a_value_and_a_unit_and_no_millimetres(here: Path) -> None:
    reading = told("size", "add", "Wharf crane", "tooth count", "48")["reading"]

    assert (reading["value"], reading["unit"], reading["value_mm"]) == (48, "1", None)


def test_an_estimate_has_all_its_keys(here: Path) -> None:
    estimate, *_ = told("sizes", "Wharf crane")["sizes"]

    assert set(ESTIMATE) <= set(estimate)
    assert (estimate["subject"], estimate["dimension"]) == ("Wharf crane", "jib length")
    assert (estimate["quantity"], estimate["span"], estimate["state"]) == ("length", "plain", "as found")
    assert estimate["value_mm"] == pytest.approx(5638.8)  # 18 x 304.8 + 6 x 25.4
    low, high = estimate["interval_95_mm"]
    assert low < estimate["value_mm"] < high
    assert {"model_mm", "model_interval_95_mm"} <= set(estimate)
    assert estimate["model_mm"] is None


def test_a_hit_has_all_its_keys(here: Path) -> None:
    (hit,) = told("find", "crane")["hits"]

    assert set(HIT) <= set(hit)
    assert (hit["subject"], hit["kind"]) == ("Wharf crane", "crane")


def test_a_worked_out_size_has_all_its_keys(here: Path) -> None:
    made, document = told("derive", "post.toml", "--dry-run"), told("derive", "post.toml")
    (size,) = document["sizes"]

    assert {
        "derivation",
        "method",
        "photo",
        "dry_run",
        "already_held",
        "moved_marks",
        "sizes",
        "lens",
    } <= set(document)
    assert {"method", "value_mm", "standard_uncertainty_mm", "interval_95_mm", "sources", "warnings"} <= set(
        size
    )
    assert (document["method"], document["photo"], document["lens"]) == ("square on", "HC20_0415.JPG", None)
    # By hand: jib length is 18ft 6in = 5638.8 mm over 110 px; the post 70 px.
    assert size["value_mm"] == pytest.approx(5638.8 * 70 / 110)
    assert sum(source["share"] for source in size["sources"]) == pytest.approx(1)
    assert {w["code"] for w in size["warnings"]} == {"focal-assumed"}
    assert (made["derivation"], made["dry_run"], document["already_held"]) == (None, True, True)
    held = next(s for s in told("sizes", "Wharf crane")["sizes"] if s["dimension"] == "hook drop")
    assert held["grade"] == "worked out"
    assert held["readings"][0]["derived_by"] == document["derivation"]


def test_marks_have_their_places_and_their_doubt(here: Path) -> None:
    told("mark", "HC20_0415", "post foot", "60.5", "70", "--worn")
    *others, mark = told("marks", "HC20_0415")["marks"]
    assert [(m["name"], m["used_by"]) for m in others] == [("a", 1), ("b", 1), ("c", 1), ("d", 1)]

    assert (mark["name"], mark["x_px"], mark["y_px"], mark["clear"]) == ("post foot", 60.5, 70.0, "worn")
    assert (mark["u_px"], mark["snapped"], mark["used_by"]) == (2.5, None, 0)


def test_an_explanation_has_all_its_keys(here: Path) -> None:
    document = told("explain", "Wharf crane", "hook drop", "--at", "1:43.5", "--picture", "drop.png")

    assert {"reading", "subject", "dimension", "grade", "method", "photo", "value", "unit", "standard_uncertainty",
            "interval_95", "on_the_model", "explanation", "marks", "solved", "sources", "warnings", "picture"} <= set(document)  # fmt: skip
    assert (document["grade"], document["method"], document["solved"]) == ("worked out", "square on", True)
    assert document["value"] == pytest.approx(5638.8 * 70 / 110)
    assert [mark["name"] for mark in document["marks"]] == ["a", "b", "c", "d"]
    assert (here / "drop.png").read_bytes().startswith(b"\x89PNG")
