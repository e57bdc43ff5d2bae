"""What photos show: subjects by the sort of photo there is of them, and photos that show none yet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from sqlalchemy import ColumnElement, and_, exists, func, or_, select

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


_OF_PLACE = select(t.place.c.latitude).where(t.place.c.id == t.visit.c.place_id).scalar_subquery()
_IN_THE_SOUTH = func.coalesce(t.photo.c.latitude, _OF_PLACE, 0) < 0


def conditions_on(shot: Shot) -> list[ColumnElement[bool]]:
    """Return the conditions on photos, visits and sightings that joined rows must keep to."""
    asked: list[ColumnElement[bool]] = []
    if shot.view is not None:
        asked.append(t.sighting.c.view == shot.view)
    if shot.visit_key is not None:
        asked.append(t.photo.c.visit_id == shot.visit_key)
    if shot.taken is not None:
        asked.append(_taken_in(shot.taken))
    return asked


def _taken_in(period: Period) -> ColumnElement[bool]:
    if period.south is not None:
        north = replace(period, south=None)
        return or_(and_(_IN_THE_SOUTH, _taken_in(period.south)), and_(~_IN_THE_SOUTH, _taken_in(north)))
    asked: list[ColumnElement[bool]] = []
    if period.first is not None:
        asked.append(period.first <= WHEN)
    if period.beyond is not None:
        asked.append(period.beyond > WHEN)
    if period.months:
        asked.append(func.substr(WHEN, 6, 2).in_([f"{month:02d}" for month in sorted(period.months)]))
    return and_(*asked)


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
