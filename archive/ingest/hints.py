"""What is likely of a picture that comes in, and what its owner may do about it. Hints never stop or change anything."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime
from itertools import pairwise

from archive.ingest.metadata import PhotoMetadata
from archive.ingest.report import Hint, ImportReport
from archive.pictures import PictureFacts
from archive.records import photos
from archive.records.archive import Archive
from archive.records.following import FROM_FILE, utc_of
from archive.records.look_alikes import same_pictures
from archive.records.things import Photo, Visit
from archive.records.tracks import points_of

_TRIPS_APART_DAYS = 14  # photos further apart than this are hardly of one trip
# What messengers and websites make of a photo is at most so large; cameras have made larger ones for twenty years.
_COPY_PX = 2560
_SCREEN_NAME = re.compile(
    r"screen[ _-]?(?:shot|cap|grab)|(?:^|[ _-])screen(?:[ _-]|$)|bildschirmfoto|capture d.?[ée]cran|captura de pantalla"
    r"|schermafbeelding|schermata|skjermbilde|sk[aä]rmavbild|zrzut ekranu|снимок экрана|スクリーンショット|屏幕截图|截屏",
    re.IGNORECASE,
)


def hint(name: str, facts: PictureFacts, metadata: PhotoMetadata) -> Hint | None:
    """Return what is likely of a picture of this name, if anything: a picture of a screen, or a shrunk copy."""
    if facts.width is None or facts.height is None or facts.paper_mm is not None:
        return None
    if metadata.is_of_screen or _SCREEN_NAME.search(name):
        return Hint(
            name,
            "picture-of-screen",
            "It is a picture of a screen.",
            "Where it shows a figure, write that down with the picture as evidence: "
            f"rivetbook size add SUBJECT LABEL SIZE --with phone --photo '{name}'",
        )
    says_its_camera = metadata.make or metadata.model or metadata.lens or metadata.focal_mm
    shrunk = max(facts.width, facts.height) <= _COPY_PX and facts.format in ("JPEG", "WEBP")
    if shrunk and not says_its_camera:
        return Hint(
            name,
            "likely-copy",
            f"It is small ({facts.width} × {facts.height}) and does not name its camera: most likely a copy made "
            "smaller on its way. The original is better to measure on; import that too if it can be had.",
        )
    return None


def hints_of_import(
    archive: Archive, report: ImportReport, keys: Sequence[int], *, visit_was_named: bool
) -> list[Hint]:
    """Return what is likely of the new photos together: which look alike, and whether time and place go together."""
    hints, visit = look_alike_hints(archive, keys), report.visit
    if visit is not None and report.visit_was_made:
        hints += [] if visit_was_named else other_trip_hints(archive, keys)
        hints += zone_hints(archive, visit, keys)
    if visit is not None and any(kept.role == "track" for kept in report.kept_beside):
        hints += track_hints(archive, visit)
    return hints


def look_alike_hints(archive: Archive, keys: Sequence[int]) -> list[Hint]:
    """Say of each photo that came in which other holds the same picture: the largest of them. A pair is told once."""
    if not keys:
        return []
    with archive.look() as look:
        found = same_pictures(look, keys)
        wanted = {*found, *(other for others in found.values() for other in others)}
        known = {photo.key: photo for photo in photos.photos_by_key(look, wanted)}
    hints, told = [], set[frozenset[int]]()
    for key in sorted(
        found, key=lambda key: (_pixels(known[key]), -key)
    ):  # of the smaller, else the later one
        largest = max((known[other] for other in found[key]), key=lambda photo: (_pixels(photo), -photo.key))
        pair = frozenset((key, largest.key))
        if pair not in told:
            told.add(pair)
            hints.append(Hint(known[key].file, "look-alike", _looks_like(known[key], largest)))
    return hints


def other_trip_hints(archive: Archive, keys: Sequence[int]) -> list[Hint]:
    """Say which photos were taken so long after the rest that nobody need have meant one visit."""
    with archive.look() as look:
        new = photos.photos_by_key(look, keys)
    taken = sorted((date.fromisoformat(photo.taken[:10]), photo.file) for photo in new if photo.taken)
    gaps = [(later[0] - earlier[0]).days for earlier, later in pairwise(taken)]
    if not gaps or max(gaps) < _TRIPS_APART_DAYS:
        return []
    first = gaps.index(max(gaps)) + 1
    more = len(taken) - first - 1
    others = f"{more} {'other' if more == 1 else 'others'}" if more else ""
    likely = f"It {f'and {others} were' if others else 'was'} taken {max(gaps)} days after the rest."
    by_command = (
        "If that was another trip: rivetbook photo move PHOTO... --to VISIT; or take this import back with "
        "rivetbook undo, and bring each trip in by itself with --visit NAME."
    )
    return [Hint(taken[first][1], "other-trip", likely, by_command)]


def zone_hints(archive: Archive, visit: Visit, keys: Sequence[int]) -> list[Hint]:
    """Say where photos tell another zone than the one that their visit was given without being asked."""
    with archive.look() as look:
        new = photos.photos_by_key(look, keys)
    for photo in new:
        told = photo.utc_offset or photo.utc_offset_by_gps
        if photo.taken is None or told is None:
            continue
        there = utc_of(photo.taken, utc_offset=None, corrected=False, zone=visit.zone)
        if there != utc_of(photo.taken, utc_offset=told, corrected=False, zone=visit.zone):
            likely = (
                f"Its clock was set to UTC{told}, and the visit's zone is {visit.zone}, as this machine's."
            )
            by_command = f"If the visit was elsewhere: rivetbook visit amend '{visit.name}' --zone ZONE, such as Europe/Paris."
            return [Hint(photo.file, "zone-differs", likely, by_command)]
    return []


def track_hints(archive: Archive, visit: Visit) -> list[Hint]:
    """Say why the tracks of a visit give no place to any of its photos, where some have none."""
    with archive.look() as look:
        points = points_of(look, visit.key)
        every = photos.all_photos(look, visit=visit)
    unplaced = [photo for photo in every if photo.latitude is None and photo.taken is not None]
    moments = sorted(filter(None, (_utc(photo, visit) for photo in unplaced)))
    if not points or not moments or any(photo.position_from not in (FROM_FILE, None) for photo in every):
        return []
    first, last = (datetime.fromtimestamp(point[0], UTC) for point in (points[0], points[-1]))
    likely = (
        f"It gives no photo a place: it runs from {_span(first, last)}, and the photos without one were taken from "
        f"{_span(moments[0], moments[-1])}, by the zone {visit.zone}."
    )
    by_command = (
        "If a clock or the visit's zone is wrong: rivetbook visit clock, or rivetbook visit amend --zone."
    )
    return [Hint("The GPS track", "track-elsewhen", likely, by_command)]


def _utc(photo: Photo, visit: Visit) -> datetime | None:
    offset, corrected = photo.utc_offset or photo.utc_offset_by_gps, photo.clock_ahead_s is not None
    return utc_of(str(photo.taken), utc_offset=offset, corrected=corrected, zone=visit.zone)


def _span(first: datetime, last: datetime) -> str:
    return f"{first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} UTC"


def _looks_like(photo: Photo, other: Photo) -> str:
    where = other.file if other.visit_key == photo.visit_key else f"{other.visit}/{other.file}"
    better = "; that one is larger, and better to measure on" if _pixels(other) > _pixels(photo) else ""
    return f"It looks like {where} ({other.width} × {other.height}){better}. Both are kept."


def _pixels(photo: Photo) -> int:
    return (photo.width or 0) * (photo.height or 0)
