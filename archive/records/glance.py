"""Pictures at a glance: which photo stands for a subject or a visit, by view, and what comes next to a photo."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Row, func, select

from archive.kinds import thesaurus
from archive.records import kinds
from archive.records import tables as t
from archive.records.changes import Look
from archive.records.photos import IN_TURN
from archive.records.things import Photo, Region, Sighting, Subject

# A picture of the whole thing stands for it before one of a part of it.
_FACES = (
    "three-quarter", "front", "right side", "left side", "rear", "overview", "top", "inside", "detail", "underside",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Glance:
    """The photo that stands for a subject or a visit, by its public id, and how many photos there are.

    `region` is where on it the subject is, where that was said.
    """

    photo_id: str
    photos: int
    region: Region | None = None


@dataclass(frozen=True, slots=True)
class View:
    """The photos of one view of a subject, the best first, and where on that the subject is, where that was said.

    `view` is None where none was said.
    """

    view: str | None
    photos: tuple[Photo, ...]
    region: Region | None


@dataclass(frozen=True, slots=True)
class Neighbours:
    """The public ids of the photos before and after one, in its visit's order of time."""

    before: str | None
    after: str | None
    place: int
    of: int


def subjects_at_a_glance(look: Look, among: Collection[int] | None = None) -> dict[int, Glance]:
    """Return the photo that stands for each subject that has any, by the subject's key; of a few, or of all."""
    statement = (
        select(t.sighting.c.subject_id, t.sighting.c.view, t.sighting.c.region, t.photo.c.public_id)
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .order_by(t.photo.c.id)
    )
    if among is not None:
        statement = statement.where(t.sighting.c.subject_id.in_(among))
    best: dict[int, tuple[int, Row[Any]]] = {}
    counts: dict[int, int] = {}
    for row in look.all(statement):
        counts[row.subject_id] = counts.get(row.subject_id, 0) + 1
        rank = _FACES.index(row.view) if row.view in _FACES else len(_FACES)
        if row.subject_id not in best or rank < best[row.subject_id][0]:
            best[row.subject_id] = (rank, row)
    return {
        key: Glance(row.public_id, counts[key], Region(**row.region) if row.region else None)
        for key, (_, row) in best.items()
    }


def visits_at_a_glance(look: Look, among: Collection[int] | None = None) -> dict[int, Glance]:
    """Return the first photo of each visit that has any, by the visit's key; of a few, or of all."""
    firsts = select(func.min(t.photo.c.id).label("first"), func.count().label("photos")).group_by(
        t.photo.c.visit_id
    )
    if among is not None:
        firsts = firsts.where(t.photo.c.visit_id.in_(among))
    counted = firsts.subquery("firsts")
    rows = look.all(
        select(t.photo.c.visit_id, t.photo.c.public_id, counted.c.photos).join(
            counted, counted.c.first == t.photo.c.id
        )
    )
    return {row.visit_id: Glance(row.public_id, row.photos) for row in rows}


def by_view(look: Look, subject: Subject, photos: Sequence[Photo]) -> tuple[list[View], list[str]]:
    """Return a subject's photos by view, those worth taking first, and the views that are missing.

    The best of a view shows nothing but the subject, unmirrored, with the most pixels.
    """
    wanted = thesaurus(kinds.own_kinds(look)).views(subject.kind)
    shelves: dict[str | None, list[Photo]] = {}
    for photo in photos:
        shelves.setdefault(_sighting_of(photo, subject).view, []).append(photo)
    order: list[str | None] = [view for view in dict.fromkeys((*wanted, *_FACES)) if view in shelves]
    order += [view for view in shelves if view not in order]
    views = [_shelved(view, shelves[view], subject) for view in order]
    return views, [view for view in wanted if view not in shelves]


def _shelved(view: str | None, photos: Sequence[Photo], subject: Subject) -> View:
    best_first = sorted(photos, key=lambda photo: _flaws(photo, subject))
    return View(view, tuple(best_first), _sighting_of(best_first[0], subject).region)


def _sighting_of(photo: Photo, subject: Subject) -> Sighting:
    return next(s for s in photo.sightings if s.subject_id == subject.id)


def _flaws(photo: Photo, subject: Subject) -> tuple[bool, int, int]:
    mirrored = _sighting_of(photo, subject).mirrored
    return mirrored, len(photo.sightings), -(photo.width or 0) * (photo.height or 0)


def neighbours(look: Look, photo: Photo) -> Neighbours:
    """Return what comes before and after a photo in its visit, by time taken, then by name."""
    ids = _ids_in_order(look, photo.visit_key)
    at = ids.index(photo.id)
    return Neighbours(
        before=ids[at - 1] if at else None,
        after=ids[at + 1] if at + 1 < len(ids) else None,
        place=at + 1,
        of=len(ids),
    )


def _ids_in_order(look: Look, visit_key: int) -> list[str]:
    statement = select(t.photo.c.public_id).where(t.photo.c.visit_id == visit_key).order_by(*IN_TURN)
    return [row.public_id for row in look.all(statement)]
