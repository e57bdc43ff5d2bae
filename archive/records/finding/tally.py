"""Counts of what was found: by kind, by place and by year."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import func, select

from archive.records import tables as t
from archive.records.changes import Look
from archive.records.finding.among import of_few
from archive.records.finding.shots import WHEN


@dataclass(frozen=True, slots=True)
class Tally:
    """How many subjects are of each kind (its id), at each place, and were photographed in each year.

    Photos that show no subject are counted in the years that they were taken in.
    """

    kinds: Mapping[str, int]
    places: Mapping[str, int]
    years: Mapping[str, int]


_YEAR = func.substr(WHEN, 1, 4)


def tally(look: Look, subject_keys: Collection[int], photo_keys: Collection[int]) -> Tally:
    """Return the counts over these subjects and these photos, which show none."""
    about = select(t.subject.c.id, t.subject.c.kind, t.place.c.name).outerjoin(
        t.place, t.place.c.id == t.subject.c.place_id
    )
    seen = (
        select(t.sighting.c.subject_id, _YEAR.label("year"))
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .distinct()
    )
    alone = select(t.photo.c.id, _YEAR.label("year")).join(t.visit, t.visit.c.id == t.photo.c.visit_id)
    kinds: Counter[str] = Counter()
    places: Counter[str] = Counter()
    for row in of_few(look, about, t.subject.c.id, subject_keys):
        kinds.update([row.kind] if row.kind else [])
        places.update([row.name] if row.name else [])
    years = Counter(r.year for r in of_few(look, seen, t.sighting.c.subject_id, subject_keys) if r.year)
    years.update(r.year for r in of_few(look, alone, t.photo.c.id, photo_keys) if r.year)
    return Tally(kinds, places, years)
