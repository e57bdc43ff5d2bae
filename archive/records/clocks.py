"""How far cameras' clocks were ahead on a visit. What a camera wrote never changes; the times follow from these rows.

A row says it of all photos of a camera on a visit, or of those that were written between two moments. What was said
last counts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select

from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import name_key
from archive.records.things import Photo, Visit


@dataclass(frozen=True, slots=True)
class Clock:
    """How many seconds a camera's clock was ahead (negative: behind); moments are as the camera wrote them, ISO 8601."""

    key: int
    camera: str
    ahead_s: int
    first_read: str | None
    last_read: str | None


def camera_name(make: str | None, model: str | None) -> str:
    """Return a camera's name as people say it: make and model, the make not twice; '' where neither is known."""
    if make and model and name_key(model).startswith(name_key(make)):
        return model
    return " ".join(part for part in (make, model) if part)


def clocks_of(look: Look, visit_key: int) -> list[Clock]:
    """Return the clocks of a visit that were put right, what was said last first."""
    rows = look.all(select(t.clock).where(t.clock.c.visit_id == visit_key).order_by(t.clock.c.id.desc()))
    return [Clock(r.id, r.camera, r.ahead_s, r.first_read, r.last_read) for r in rows]


def seconds_ahead(clocks: Iterable[Clock], camera: str, read: str) -> int:
    """Return how far a camera's clock was ahead when it wrote a moment; `clocks` as `clocks_of` returns them."""
    for clock in clocks:
        within = clock.first_read is None or clock.first_read <= read <= (clock.last_read or read)
        if within and name_key(clock.camera) == name_key(camera):
            return clock.ahead_s
    return 0


def as_read(taken: str, ahead_s: int | None) -> datetime:
    """Return the moment that the camera wrote, from the corrected one and what was taken off."""
    return datetime.fromisoformat(taken) + timedelta(seconds=ahead_s or 0)


def say(
    writer: Writer,
    visit_key: int,
    camera: str,
    ahead_s: int,
    first_read: str | None = None,
    last_read: str | None = None,
) -> None:
    """Say how far a camera's clock was ahead; what was said of all its photos on the visit before no longer counts."""
    if first_read is None:
        for clock in clocks_of(writer, visit_key):
            if name_key(clock.camera) == name_key(camera):
                writer.delete(t.clock, clock.key)
        if ahead_s == 0:
            return
    writer.insert(
        t.clock,
        visit_id=visit_key,
        camera=camera,
        ahead_s=ahead_s,
        first_read=first_read,
        last_read=last_read,
    )


def carry(writer: Writer, moved: Sequence[Photo], to: Visit) -> None:
    """Let photos that come from another visit keep the times that its clocks gave them."""
    groups: dict[tuple[str, int], list[str]] = defaultdict(list)
    for photo in moved:
        if photo.taken is not None:
            ahead_s = photo.clock_ahead_s or 0
            read = as_read(photo.taken, ahead_s).isoformat()
            groups[camera_name(photo.make, photo.model), ahead_s].append(read)
    there = clocks_of(writer, to.key)
    for (camera, ahead_s), moments in groups.items():
        if any(seconds_ahead(there, camera, moment) != ahead_s for moment in moments):
            say(writer, to.key, camera, ahead_s, min(moments), max(moments))


def forget(writer: Writer, visit: Visit) -> None:
    """Take away the clocks of a visit whose photos have all left it."""
    for clock in clocks_of(writer, visit.key):
        writer.delete(t.clock, clock.key)
