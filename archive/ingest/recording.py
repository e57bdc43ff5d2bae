"""Files that are in their places become rows: photos, what came with them, films, voice notes and tracks of the visit."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass, fields
from typing import Any

from archive.ingest.gpx import read_track
from archive.ingest.metadata import PhotoMetadata
from archive.ingest.pages import has_pages, paper
from archive.ingest.previews import Drawn
from archive.ingest.report import ImportReport
from archive.ingest.survey import Surveyed
from archive.records import photos
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.following import FROM_FILE, follow
from archive.records.things import Original, Photo, Visit
from archive.records.tracks import add_track
from archive.records.visit_files import add_visit_files
from archive.wording import counted


@dataclass(slots=True)
class Ready:
    """A photo whose files are in their places and not yet recorded; `of` is the held picture that they join, if any."""

    each: Surveyed
    files: list[Original]
    of: str | None = None
    drawing: Future[Drawn] | None = None


def record(
    archive: Archive, writer: Writer, new: Sequence[Ready], loose: Sequence[Original], report: ImportReport
) -> list[Photo]:
    """Add photos, and files that came with none, to the report's visit; returns the photos in the order given."""
    if report.visit is None:
        return []  # nothing new, so no visit was needed
    add_visit_files(writer, report.visit, loose)
    tracks = [each for each in loose if each.role == "track"]
    for each in tracks:
        add_track(writer, each.stored_path, read_track(archive.path_of(each.stored_path)))
    keys = photos.add_photos(writer, report.visit, [(_row(r.each, r.files[0]), r.files) for r in new])
    report.placed_by_track += follow(writer, [report.visit.key], None if tracks else keys)
    added = {photo.key: photo for photo in photos.photos_by_key(writer, keys)}
    return [added[key] for key in keys]


def sentence(
    new: Sequence[Ready], loose: Sequence[Original], joining: Sequence[Ready], visit: Visit | None
) -> str:
    """Return what the history says of it."""
    if visit is None or not (new or loose):
        return f"Kept more files of {counted(len(joining), 'photo', 'photos')}"
    tracks = sum(each.role == "track" for each in loose)
    what = [
        (len(new), "photo", "photos"),
        (len(loose) - tracks, "film or voice note", "films or voice notes"),
        (tracks, "GPS track", "GPS tracks"),
    ]
    return f"Imported {' and '.join(counted(*each) for each in what if each[0])} into {visit.name}"


_NOT_IN_ROW = {"gps_utc", "is_of_screen", "keywords", "readers", "warnings"}  # or not as they are
_IN_ROW = [each.name for each in fields(PhotoMetadata) if each.name not in _NOT_IN_ROW]


def _row(each: Surveyed, original: Original) -> dict[str, Any]:
    """The columns of `photo` that the file itself tells."""
    facts, found = each.facts, each.metadata
    warnings = {w.code: w for w in (*facts.warnings, *found.warnings)}
    return {
        "file": original.stored_path.rpartition("/")[2],
        "width": facts.width,
        "height": facts.height,
        "stored_width": facts.stored_width,
        "stored_height": facts.stored_height,
        "orientation": facts.orientation,
        "page": each.page if has_pages(facts) else None,
        "page_of_id": None,
        **paper(facts),
        **{name: getattr(found, name) for name in _IN_ROW},
        "position_from": FROM_FILE if found.latitude is not None else None,
        "clock_ahead_s": None,
        "keywords": list(found.keywords),
        "readers": dict(found.readers),
        "warnings": [{"code": w.code, "message": w.message} for w in warnings.values()],
    }
