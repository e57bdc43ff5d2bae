"""What a finder shows of subjects and photos."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import NamedTuple

from sqlalchemy import func, select

from archive.records import tables as t
from archive.records.changes import Look
from archive.records.finding.among import KEYS, rows_of
from archive.records.finding.shots import Shot, conditions_on
from archive.records.finding.words import KNOWN_GRADES
from archive.records.photos import IN_TURN


class PhotoCard(NamedTuple):
    """A photo as a finder lists it; `subject_key`, `view` and `mirrored` are of the subject that it is listed for."""

    key: int
    id: str
    file: str
    caption: str | None
    taken: str | None
    visit_key: int
    visit: str
    subject_key: int | None = None
    view: str | None = None
    mirrored: bool = False


class SubjectCard(NamedTuple):
    """A subject as a finder lists it; `kind` is a kind's id."""

    key: int
    id: str
    name: str
    kind: str | None
    place: str | None


_SUBJECT_CARDS = (
    select(t.subject.c.id, t.subject.c.public_id, t.subject.c.name, t.subject.c.kind, t.place.c.name)
    .outerjoin(t.place, t.place.c.id == t.subject.c.place_id)
    .where(t.subject.c.id.in_(KEYS))
)
_CARD = (
    t.photo.c.id,
    t.photo.c.public_id,
    t.photo.c.file,
    t.photo.c.caption,
    t.photo.c.taken,
    t.photo.c.visit_id,
    t.visit.c.name,
)
_PHOTO_CARDS = select(*_CARD).join(t.visit, t.visit.c.id == t.photo.c.visit_id).where(t.photo.c.id.in_(KEYS))
_SHOWN_CARDS = (
    select(*_CARD, t.sighting.c.subject_id, t.sighting.c.view, t.sighting.c.mirrored)
    .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
    .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
    .where(t.sighting.c.subject_id.in_(KEYS))
    .order_by(*IN_TURN)
)


def subject_cards(look: Look, keys: Iterable[int]) -> dict[int, SubjectCard]:
    """Return these subjects by key."""
    return {row[0]: SubjectCard._make(row) for row in rows_of(look, _SUBJECT_CARDS, keys)}


def photo_cards(look: Look, keys: Iterable[int]) -> dict[int, PhotoCard]:
    """Return these photos by key."""
    return {row[0]: PhotoCard(*row) for row in rows_of(look, _PHOTO_CARDS, keys)}


def photos_of_subjects(
    look: Look, subject_keys: Iterable[int], shot: Shot | None = None
) -> dict[int, list[PhotoCard]]:
    """Return the photos of this sort that show these subjects, by subject key, in order of time taken."""
    found: dict[int, list[PhotoCard]] = defaultdict(list)
    statement = _SHOWN_CARDS.where(*conditions_on(shot)) if shot else _SHOWN_CARDS
    for row in rows_of(look, statement, subject_keys):
        card = PhotoCard._make(row)
        found[row.subject_id].append(card)
    return found


_VIEWS = (
    select(t.sighting.c.subject_id, func.count(t.sighting.c.view.distinct()))
    .where(t.sighting.c.subject_id.in_(KEYS))
    .group_by(t.sighting.c.subject_id)
)
_KNOWN_SIZES = (
    select(t.dimension.c.subject_id, func.count())
    .join(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
    .where(t.estimate.c.grade.in_(KNOWN_GRADES), t.dimension.c.subject_id.in_(KEYS))
    .group_by(t.dimension.c.subject_id)
)


def coverage_of(look: Look, subject_keys: Collection[int]) -> dict[int, tuple[int, int]]:
    """Return how many views of a subject there are and how many of its sizes are known by measuring."""
    views = dict(map(tuple, rows_of(look, _VIEWS, subject_keys)))
    known = dict(map(tuple, rows_of(look, _KNOWN_SIZES, subject_keys)))
    return {key: (views.get(key, 0), known.get(key, 0)) for key in subject_keys}
