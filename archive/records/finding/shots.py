"""What photos show: subjects by the sort of photo there is of them, and photos that show none yet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import ColumnElement, exists, func, select

from archive.records import tables as t
from archive.records.changes import Look
from archive.records.finding.among import KEYS, keys_of_few, rows_of
from archive.records.periods import Period


@dataclass(frozen=True, slots=True)
class Shot:
    """What a photo must be to count: of a view, of a visit, of a time; None: any."""

    view: str | None = None
    visit_key: int | None = None
    taken: Period | None = None

    def __bool__(self) -> bool:
        return (self.view, self.visit_key, self.taken) != (None, None, None)


# Where a photo does not know its time, that of its visit says when.
WHEN = func.coalesce(t.photo.c.taken, t.visit.c.first_day)


def conditions_on(shot: Shot) -> list[ColumnElement[bool]]:
    """Return the conditions on photos, visits and sightings that joined rows must keep to."""
    asked: list[ColumnElement[bool]] = []
    if shot.view is not None:
        asked.append(t.sighting.c.view == shot.view)
    if shot.visit_key is not None:
        asked.append(t.photo.c.visit_id == shot.visit_key)
    if shot.taken is not None:
        if shot.taken.first is not None:
            asked.append(shot.taken.first <= WHEN)
        if shot.taken.beyond is not None:
            asked.append(shot.taken.beyond > WHEN)
        if shot.taken.months:
            asked.append(func.substr(WHEN, 6, 2).in_([f"{month:02d}" for month in sorted(shot.taken.months)]))
    return asked


def subjects_shown(look: Look, shot: Shot, among: Collection[int] | None = None) -> set[int]:
    """Return the subjects that some photo of this sort shows; among these, or among all."""
    statement = select(t.sighting.c.subject_id).distinct().where(*conditions_on(shot))
    if shot.visit_key is not None or shot.taken is not None:
        statement = statement.join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        statement = statement.join(t.visit, t.visit.c.id == t.photo.c.visit_id)
    return keys_of_few(look, statement, t.sighting.c.subject_id, among)


def subjects_on(look: Look, photo_keys: Collection[int]) -> set[int]:
    """Return the subjects that these photos show."""
    shown = select(t.sighting.c.subject_id).where(t.sighting.c.photo_id.in_(KEYS))
    return {row[0] for row in rows_of(look, shown, photo_keys)}


SHOWS_NOTHING = ~exists().where(t.sighting.c.photo_id == t.photo.c.id)


def loose_photos(look: Look, shot: Shot, among: Collection[int] | None = None) -> set[int]:
    """Return the photos of this sort that show no subject yet, among these or all; one that must be of a view shows one."""
    if shot.view is not None:
        return set()
    statement = select(t.photo.c.id).where(SHOWS_NOTHING, *conditions_on(shot))
    return keys_of_few(look, statement.join(t.visit, t.visit.c.id == t.photo.c.visit_id), t.photo.c.id, among)


def subjects_of_kinds(look: Look, kinds: Collection[str]) -> frozenset[int]:
    """Return the subjects of these kinds (their ids)."""
    return frozenset(row.id for row in look.all(select(t.subject.c.id).where(t.subject.c.kind.in_(kinds))))
