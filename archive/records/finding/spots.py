"""Where things are: places, and the positions that photos were taken from."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy import ColumnElement, select

from archive.records import tables as t
from archive.records.changes import Look
from archive.records.finding.among import keys_of_few, not_first, of_few
from archive.records.finding.shots import SHOWS_NOTHING


@dataclass(frozen=True, slots=True)
class Spot:
    """A place and where it is, degrees; None where nobody wrote that down."""

    key: int
    name: str
    latitude: float | None
    longitude: float | None


def all_spots(look: Look) -> list[Spot]:
    """Return every place."""
    rows = look.all(select(t.place.c.id, t.place.c.name, t.place.c.latitude, t.place.c.longitude))
    return [Spot(*tuple(row)) for row in rows]


def positions_at(look: Look, place_key: int) -> list[tuple[float, float]]:
    """Return the latitudes and longitudes that the photos of visits to a place were taken at."""
    statement = (
        select(t.photo.c.latitude, t.photo.c.longitude)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .where(
            t.visit.c.place_id == place_key, t.photo.c.latitude.is_not(None), t.photo.c.longitude.is_not(None)
        )
    )
    return [(row.latitude, row.longitude) for row in look.all(statement)]


class Standing(NamedTuple):
    """A subject, or a photo that shows none, and a position that it was photographed from, degrees."""

    key: int
    latitude: float
    longitude: float


Box = tuple[float, float, float, float]  # its south, north, west and east ends, degrees


def _taken_within(box: Box, among: Collection[int] | None) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    south, north, west, east = box
    latitude = t.photo.c.latitude if among is None else not_first(t.photo.c.latitude)
    return latitude.between(south, north), t.photo.c.longitude.between(west, east)


def subjects_seen_within(look: Look, box: Box, among: Collection[int] | None = None) -> list[Standing]:
    """Return the subjects that were photographed from within a box, among these or all, with where from."""
    statement = (
        select(t.sighting.c.subject_id, t.photo.c.latitude, t.photo.c.longitude)
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .where(*_taken_within(box, among))
    )
    return [Standing(*row) for row in of_few(look, statement, t.sighting.c.subject_id, among)]


def loose_photos_within(look: Look, box: Box, among: Collection[int] | None = None) -> list[Standing]:
    """Return the photos that show no subject and were taken within a box, among these or all."""
    statement = select(t.photo.c.id, t.photo.c.latitude, t.photo.c.longitude).where(
        SHOWS_NOTHING, *_taken_within(box, among)
    )
    return [Standing(*row) for row in of_few(look, statement, t.photo.c.id, among)]


def subjects_at(look: Look, place_keys: Collection[int], among: Collection[int] | None = None) -> set[int]:
    """Return the subjects of these places, among these or all.

    A subject belongs to its own place, and with every photo that does not know its own position to that
    of the photo's visit.
    """
    own = select(t.subject.c.id).where(t.subject.c.place_id.in_(list(place_keys)))
    place = t.visit.c.place_id if among is None else not_first(t.visit.c.place_id)
    nowhere = not_first(t.photo.c.latitude).is_(None)  # as most photos of many people are
    shown = (
        select(t.sighting.c.subject_id)
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .where(place.in_(list(place_keys)), nowhere)
    )
    return keys_of_few(look, own, t.subject.c.id, among) | keys_of_few(
        look, shown, t.sighting.c.subject_id, among
    )


def loose_photos_at(
    look: Look, place_keys: Collection[int], among: Collection[int] | None = None
) -> set[int]:
    """Return the photos, among these or all, that show no subject, know no position, and are of visits to these places."""
    place = t.visit.c.place_id if among is None else not_first(t.visit.c.place_id)
    nowhere = not_first(t.photo.c.latitude).is_(None)  # as most photos of many people are
    statement = (
        select(t.photo.c.id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .where(place.in_(list(place_keys)), nowhere, SHOWS_NOTHING)
    )
    return keys_of_few(look, statement, t.photo.c.id, among)
