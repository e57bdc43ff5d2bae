"""Where things are: places, and the positions that photos were taken from."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy import BindParameter, ColumnElement, Select, bindparam, select

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
_Statements = tuple[Select[Any], Select[Any]]  # over all, and over a few


def _taken_within(statement: Select[Any]) -> _Statements:
    east_west = t.photo.c.longitude.between(bindparam("west"), bindparam("east"))
    latitudes = (t.photo.c.latitude, not_first(t.photo.c.latitude))
    of_all, of_some = (
        statement.where(latitude.between(bindparam("south"), bindparam("north")), east_west)
        for latitude in latitudes
    )
    return of_all, of_some


def _taken_at(statement: Select[Any]) -> _Statements:
    """Add that a photo is of a visit to one of some places, and does not know its own position."""
    nowhere = not_first(t.photo.c.latitude).is_(None)  # as most photos of many people are
    of_all, of_some = (
        statement.join(t.visit, t.visit.c.id == t.photo.c.visit_id).where(place.in_(_PLACES), nowhere)
        for place in (t.visit.c.place_id, not_first(t.visit.c.place_id))
    )
    return of_all, of_some


# What runs at each search is put together once, with its values left open.
_PLACES: BindParameter[Any] = bindparam("places", expanding=True)
_SUBJECT, _PHOTO = t.sighting.c.subject_id, t.photo.c.id
_SHOWN = select(_SUBJECT, t.photo.c.latitude, t.photo.c.longitude).join(
    t.photo, t.photo.c.id == t.sighting.c.photo_id
)
_LOOSE = select(_PHOTO, t.photo.c.latitude, t.photo.c.longitude).where(SHOWS_NOTHING)
_SHOWN_WITHIN, _LOOSE_WITHIN = _taken_within(_SHOWN), _taken_within(_LOOSE)
_SHOWN_AT, _LOOSE_AT = _taken_at(_SHOWN), _taken_at(_LOOSE)
_STANDS_AT = select(t.subject.c.id).where(t.subject.c.place_id.in_(_PLACES))


def _within(
    look: Look, statements: _Statements, key: ColumnElement[int], box: Box, among: Collection[int] | None
) -> list[Standing]:
    ends = dict(zip(("south", "north", "west", "east"), box, strict=True))
    rows = of_few(look, statements[among is not None], key, among, ends)
    return [Standing(*row) for row in rows]


def subjects_seen_within(look: Look, box: Box, among: Collection[int] | None = None) -> list[Standing]:
    """Return the subjects that were photographed from within a box, among these or all, with where from."""
    return _within(look, _SHOWN_WITHIN, _SUBJECT, box, among)


def loose_photos_within(look: Look, box: Box, among: Collection[int] | None = None) -> list[Standing]:
    """Return the photos that show no subject and were taken within a box, among these or all."""
    return _within(look, _LOOSE_WITHIN, _PHOTO, box, among)


def subjects_at(look: Look, place_keys: Collection[int], among: Collection[int] | None = None) -> set[int]:
    """Return the subjects of these places, among these or all.

    A subject belongs to its own place, and with every photo that does not know its own position to that
    of the photo's visit.
    """
    places = {"places": list(place_keys)}
    stands = keys_of_few(look, _STANDS_AT, t.subject.c.id, among, places)
    return stands | keys_of_few(look, _SHOWN_AT[among is not None], _SUBJECT, among, places)


def loose_photos_at(
    look: Look, place_keys: Collection[int], among: Collection[int] | None = None
) -> set[int]:
    """Return the photos, among these or all, that show no subject, know no position, and are of visits to these places."""
    return keys_of_few(look, _LOOSE_AT[among is not None], _PHOTO, among, {"places": list(place_keys)})
