"""Everything that is written about subjects, loose photos and visits, in bulk."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from sqlalchemy import Table, select

from archive.records import tables as t
from archive.records.changes import Look, in_chunks

KNOWN_GRADES = ("measured", "worked out")


@dataclass(slots=True)
class SubjectWords:
    """Everything that is written about a subject, and how well it is covered."""

    key: int
    name: str
    kind: str | None
    also: list[str] = field(default_factory=list)
    part_of: str | None = None
    place: str | None = None
    maker: str | None = None
    numbers: str | None = None
    era: str | None = None
    notes: str | None = None
    parts: list[str] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    captions: list[str] = field(default_factory=list)
    keywords: list[str] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    visits: list[str] = field(default_factory=list)
    views: set[str] = field(default_factory=set)
    known_sizes: int = 0


@dataclass(frozen=True, slots=True)
class PhotoWords:
    """Everything that is written about a photo that shows no subject yet."""

    key: int
    file: str
    caption: str | None
    keywords: tuple[str, ...]
    visit: str
    place: str | None
    camera: str | None
    creator: str | None


@dataclass(frozen=True, slots=True)
class VisitWords:
    """Everything that is written about a visit."""

    key: int
    name: str
    place: str | None
    people: str | None
    access_notes: str | None
    place_notes: str | None
    days: tuple[str, ...]
    also: tuple[str, ...] = ()


def subject_words(look: Look, keys: Collection[int] | None = None) -> Iterator[SubjectWords]:
    """Yield the words of these subjects, or of all."""
    whole = t.subject.alias("whole")
    statement = (
        select(t.subject, whole.c.name.label("part_of"), t.place.c.name.label("place"))
        .outerjoin(whole, whole.c.id == t.subject.c.part_of_id)
        .outerjoin(t.place, t.place.c.id == t.subject.c.place_id)
        .order_by(t.subject.c.id)
    )
    for chunk in _chunks(look, t.subject, keys):
        found = {
            r.id: SubjectWords(
                key=r.id,
                name=r.name,
                kind=r.kind,
                part_of=r.part_of,
                place=r.place,
                maker=r.maker,
                numbers=r.numbers,
                era=r.era,
                notes=r.notes,
            )
            for r in look.all(statement.where(t.subject.c.id.in_(chunk)))
        }
        _add_names(look, found)
        _add_sizes(look, found)
        _add_photos(look, found)
        yield from found.values()


def _add_names(look: Look, found: Mapping[int, SubjectWords]) -> None:
    names = select(t.subject_name).where(t.subject_name.c.subject_id.in_(list(found)))
    for row in look.all(names.order_by(t.subject_name.c.id)):
        found[row.subject_id].also.append(row.name)
    parts = select(t.subject.c.part_of_id, t.subject.c.name).where(t.subject.c.part_of_id.in_(list(found)))
    for row in look.all(parts.order_by(t.subject.c.id)):
        found[row.part_of_id].parts.append(row.name)


def _add_sizes(look: Look, found: Mapping[int, SubjectWords]) -> None:
    sizes = (
        select(t.dimension.c.subject_id, t.dimension.c.label, t.estimate.c.grade)
        .outerjoin(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
        .where(t.dimension.c.subject_id.in_(list(found)))
        .order_by(t.dimension.c.id)
    )
    for row in look.all(sizes):
        words = found[row.subject_id]
        if row.label not in words.labels:
            words.labels.append(row.label)
        if row.grade in KNOWN_GRADES:
            words.known_sizes += 1


def _add_photos(look: Look, found: Mapping[int, SubjectWords]) -> None:
    shown = (
        select(
            t.sighting.c.subject_id,
            t.sighting.c.view,
            t.photo.c.file,
            t.photo.c.caption,
            t.photo.c.keywords,
            t.visit.c.name.label("visit"),
            t.place.c.name.label("place"),
        )
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .outerjoin(t.place, t.place.c.id == t.visit.c.place_id)
        .where(t.sighting.c.subject_id.in_(list(found)))
        .order_by(t.sighting.c.id)
    )
    for row in look.all(shown):
        words = found[row.subject_id]
        words.files.append(row.file)
        words.keywords.extend(row.keywords)
        if row.caption:
            words.captions.append(row.caption)
        if row.view:
            words.views.add(row.view)
        for name in (row.visit, row.place):
            if name and name not in words.visits:
                words.visits.append(name)


def loose_photo_words(look: Look, keys: Collection[int] | None = None) -> Iterator[PhotoWords]:
    """Yield the words of those of these photos, or of all, that show no subject yet."""
    statement = (
        select(t.photo, t.visit.c.name.label("visit"), t.place.c.name.label("place"))
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .outerjoin(t.place, t.place.c.id == t.visit.c.place_id)
        .where(t.photo.c.id.not_in(select(t.sighting.c.photo_id)))
        .order_by(t.photo.c.id)
    )
    for chunk in _chunks(look, t.photo, keys):
        for r in look.all(statement.where(t.photo.c.id.in_(chunk))):
            camera = " ".join(name for name in (r.make, r.model) if name) or None
            yield PhotoWords(r.id, r.file, r.caption, tuple(r.keywords), r.visit, r.place, camera, r.creator)


def visit_words(look: Look, keys: Collection[int] | None = None) -> Iterator[VisitWords]:
    """Yield the words of these visits, or of all."""
    statement = (
        select(t.visit, t.place.c.name.label("place"), t.place.c.notes.label("place_notes"))
        .outerjoin(t.place, t.place.c.id == t.visit.c.place_id)
        .order_by(t.visit.c.id)
    )
    for chunk in _chunks(look, t.visit, keys):
        also: dict[int, list[str]] = defaultdict(list)
        for r in look.all(select(t.visit_name).where(t.visit_name.c.visit_id.in_(chunk))):
            also[r.visit_id].append(r.name)
        for r in look.all(statement.where(t.visit.c.id.in_(chunk))):
            days = tuple(day for day in (r.first_day, r.last_day) if day)
            yield VisitWords(
                r.id, r.name, r.place, r.people, r.access_notes, r.place_notes, days, tuple(also[r.id])
            )


def _chunks(look: Look, table: Table, keys: Collection[int] | None) -> Iterator[list[int]]:
    if keys is None:
        keys = [row.id for row in look.all(select(table.c.id).order_by(table.c.id))]
    return in_chunks(sorted(keys))
