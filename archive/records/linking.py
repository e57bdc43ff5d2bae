"""Saying what photos show: which subjects, from which view, and where on the photo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from archive.errors import NotAccepted
from archive.kinds import thesaurus
from archive.records import kinds, photos, subjects
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.choosing import photos_of_words
from archive.records.entering import check_view
from archive.records.regions import parse_region, put_region, where_told
from archive.records.things import Photo, Region, Subject
from archive.wording import counted, in_brackets, listed


@dataclass(frozen=True, slots=True)
class Linked:
    """What linking did: the photos now linked, those that were so already, and `how` as it ends a sentence."""

    subjects: tuple[Subject, ...]
    view: str | None
    region: Region | None
    how: str
    photos: tuple[Photo, ...]
    unchanged: tuple[Photo, ...]
    warnings: tuple[str, ...]


def link_photos(
    archive: Archive,
    named: Sequence[str],
    to: Sequence[str],
    *,
    view: str | None,
    mirrored: bool | None = None,
    region: str | None = None,
) -> Linked:
    """Say that photos show subjects, from a view; all of them or, if one name is wrong, none.

    What is None stays as it was said before. A region, as `parse_region` reads it, is of one photo and one subject.
    """
    checked_view = check_view(view) if view else None
    with archive.look() as look:
        shown = photos_of_words(look, named)
        seen = [subjects.subject_named(look, each) for each in to]
    where = _region_of_one(region, shown, seen) if region is not None else None
    ids = {subject.id for subject in seen}
    was_mirrored = any(s.mirrored for p in shown for s in p.sightings if s.subject_id in ids)
    way = "mirrored" if mirrored else "not mirrored" if mirrored is False and was_mirrored else None
    how = in_brackets(checked_view, way, None if region is None else where_told(where))
    changed: set[int] = set()
    with archive.change() as writer:
        for photo, subject in product(shown, seen):
            if photos.link(writer, photo, subject, view=checked_view, mirrored=mirrored):
                changed.add(photo.key)
            if region is not None and put_region(writer, photo, subject, where):
                changed.add(photo.key)
        names, count = listed([s.name for s in seen]), counted(len(changed), "photo", "photos")
        writer.sentence = f"Linked {count} to {names}{how}"
        warnings = tuple(w for s in seen if checked_view for w in _unusual_view(writer, s, checked_view))
    return Linked(
        tuple(seen),
        checked_view,
        where,
        how,
        tuple(p for p in shown if p.key in changed),
        tuple(p for p in shown if p.key not in changed),
        warnings,
    )


def _region_of_one(written: str, shown: Sequence[Photo], seen: Sequence[Subject]) -> Region | None:
    if len(shown) != 1 or len(seen) != 1:
        raise NotAccepted(
            "A region is where one photo shows one subject",
            "Name one of each, and link the others without it.",
        )
    return parse_region(written, shown[0])


def _unusual_view(look: Look, subject: Subject, view: str) -> list[str]:
    if subject.kind is None:
        return []
    usual = thesaurus(kinds.own_kinds(look)).views(subject.kind)
    if view in usual or view in ("detail", "overview", "three-quarter"):
        return []
    return [f"'{view}' is an unusual view of this kind of thing ({subject.name}); it was kept all the same."]
