"""Times, places and order of photos that follow from other records: from clocks that were put right, and from tracks.

Whatever changes a clock, a track, a visit's zone or which visit a photo is of ends with `follow`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Row, func, select

from archive.records import tables as t
from archive.records.changes import Touched, Writer, in_chunks
from archive.records.clocks import as_read, camera_name, clocks_of, seconds_ahead
from archive.records.names import natural_key
from archive.records.tracks import TrackPoint, place_at, points_of

FROM_FILE = "file"  # what `position_from` says of a place that the photo's own file tells


def follow(writer: Writer, visit_keys: Collection[int], photo_keys: Collection[int] | None = None) -> int:
    """Work out anew when and where the photos of these visits were taken (or only these photos of them), and their order.

    Returns how many were given a place by a track that had none before.
    """
    placed = 0
    for key in visit_keys:
        clocks, points = clocks_of(writer, key), points_of(writer, key)
        zones_differ = _wrote_in_several_zones(writer, key)
        for row in _photos(writer, key, None if zones_differ else photo_keys):
            taken: dict[str, Any] = {"taken": row.taken, "clock_ahead_s": row.clock_ahead_s}
            if row.taken is not None:
                read = as_read(row.taken, row.clock_ahead_s)
                ahead_s = seconds_ahead(clocks, camera_name(row.make, row.model), read.isoformat())
                taken = _corrected(read, ahead_s)
            utc = _utc(row, taken) if points or zones_differ else None
            place = {} if _tells_its_place(row) else _place(points, utc)
            order = {
                "ordered_at": _there(utc, row.zone) if zones_differ and utc else taken["taken"],
                "name_order": natural_key(row.holder or row.file),
            }
            found = taken | place | order
            if any(row._mapping[name] != value for name, value in found.items()):
                writer.update(t.photo, row.id, **found)
                placed += row.latitude is None and place.get("latitude") is not None
    return placed


def _wrote_in_several_zones(writer: Writer, visit_key: int) -> bool:
    """Tell whether photos of a visit are known to be written in different offsets, so that their local times do not compare."""
    known = select(_OFFSET).where(t.photo.c.visit_id == visit_key, _OFFSET.is_not(None)).distinct()
    return len(writer.all(known)) > 1


def _there(utc: datetime, zone: str) -> str:
    """A moment as clocks showed it in a zone, ISO 8601 without the zone."""
    return utc.astimezone(ZoneInfo(zone)).replace(tzinfo=None).isoformat()


def _corrected(read: datetime, ahead_s: int) -> dict[str, Any]:
    """The columns of `photo` that say when it was; as the camera wrote it where the right time lies beyond any calendar."""
    try:
        return {"taken": (read - timedelta(seconds=ahead_s)).isoformat(), "clock_ahead_s": ahead_s or None}
    except OverflowError:
        return {"taken": read.isoformat(), "clock_ahead_s": None}


def visits_concerned(writer: Writer, touched: Iterable[Touched]) -> set[int]:
    """Return the visits, of those that are there, whose photos' times and places may follow from these rows."""
    keys: set[int] = set()
    for row in touched:
        if row.table == t.visit.name:
            keys.add(row.row_id)
        elif row.table in (t.photo.name, t.clock.name, t.visit_file.name):
            keys.update(side["visit_id"] for side in row.sides)
    return {row.id for row in writer.all(select(t.visit.c.id).where(t.visit.c.id.in_(keys)))}


def utc_of(taken: str, *, utc_offset: str | None, corrected: bool, zone: str) -> datetime | None:
    """Return the UTC of a photo: by the offset that its file tells, in its tags or by satellite time, else by its visit's zone.

    A time that was put right is the place's own, whatever offset the camera believed in. None for a year that no
    calendar has.
    """
    local = datetime.fromisoformat(taken)
    try:
        if utc_offset is not None and not corrected:
            sign = -1 if utc_offset.startswith("-") else 1
            hours, minutes = utc_offset[1:].split(":")
            offset = timezone(sign * timedelta(hours=int(hours), minutes=int(minutes)))
            return local.replace(tzinfo=offset).astimezone(UTC)
        return local.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    except OverflowError:
        return None


_OFFSET = func.coalesce(t.photo.c.utc_offset, t.photo.c.utc_offset_by_gps)
_HOLDER = t.photo.alias("holder")  # of the file, where it has several pages
_WANTED = (
    t.photo.c.id, t.photo.c.make, t.photo.c.model, t.photo.c.taken, t.photo.c.clock_ahead_s, _OFFSET.label("offset"),
    t.photo.c.latitude, t.photo.c.longitude, t.photo.c.position_from, t.photo.c.position_radius_m, t.visit.c.zone,
    t.photo.c.file, t.photo.c.ordered_at, t.photo.c.name_order, _HOLDER.c.file.label("holder"),
)  # fmt: skip


def _photos(writer: Writer, visit_key: int, photo_keys: Collection[int] | None) -> Sequence[Row[Any]]:
    statement = (
        select(*_WANTED)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .outerjoin(_HOLDER, _HOLDER.c.id == t.photo.c.page_of_id)
        .where(t.visit.c.id == visit_key)
        .order_by(t.photo.c.id)
    )
    if photo_keys is None:
        return writer.all(statement)
    chunks = in_chunks(photo_keys)
    return [row for chunk in chunks for row in writer.all(statement.where(t.photo.c.id.in_(chunk)))]


def _tells_its_place(row: Row[Any]) -> bool:
    return row.latitude is not None and row.position_from in (FROM_FILE, None)


def _utc(row: Row[Any], taken: dict[str, Any]) -> datetime | None:
    if taken["taken"] is None:
        return None
    corrected = taken["clock_ahead_s"] is not None
    return utc_of(taken["taken"], utc_offset=row.offset, corrected=corrected, zone=row.zone)


def _place(points: Sequence[TrackPoint], utc: datetime | None) -> dict[str, Any]:
    """The place on the track, if any, in the columns of `photo`."""
    placed = place_at(points, utc.timestamp()) if points and utc else None
    return {
        "latitude": placed.latitude if placed else None,
        "longitude": placed.longitude if placed else None,
        "position_from": placed.how if placed else None,
        "position_radius_m": round(placed.radius_m, 1) if placed else None,
    }
