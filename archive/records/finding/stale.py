"""Whose words may have changed since an index was made: by the change log."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import ColumnElement, Select, func, select

from archive.records import tables as t
from archive.records.changes import Look, Touched, in_chunks


@dataclass(slots=True)
class Stale:
    """The things whose words may have changed, by key."""

    subjects: set[int] = field(default_factory=set)
    photos: set[int] = field(default_factory=set)
    visits: set[int] = field(default_factory=set)

    def __len__(self) -> int:
        return len(self.subjects) + len(self.photos) + len(self.visits)


def stale_after(look: Look, touched: Iterable[Touched]) -> Stale:
    """Return whose words lean on the rows that were touched, as they were before and as they are after."""
    rows: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for row in touched:
        rows[row.table] += [{"id": row.row_id, **side} for side in row.sides]
    stale = Stale()
    photos = {row["id"] for row in rows["photo"]}
    subjects = {row["id"] for row in rows["subject"]}
    visits = {row["id"] for row in rows["visit"]} | {row["visit_id"] for row in rows["visit_name"]}
    places = {row["id"] for row in rows["place"]}
    visits |= _keys(look, select(t.visit.c.id), t.visit.c.place_id, places)
    photos |= _keys(look, select(t.photo.c.id), t.photo.c.visit_id, visits)
    subjects |= {row["part_of_id"] for row in rows["subject"] if row["part_of_id"]}
    subjects |= _keys(
        look, select(t.subject.c.id), t.subject.c.part_of_id, {r["id"] for r in rows["subject"]}
    )
    subjects |= _keys(look, select(t.subject.c.id), t.subject.c.place_id, places)
    subjects |= _keys(look, select(t.sighting.c.subject_id), t.sighting.c.photo_id, photos)
    for table in ("subject_name", "dimension", "sighting"):
        subjects |= {row["subject_id"] for row in rows[table]}
    measured = {row["dimension_id"] for row in rows["estimate"]}
    subjects |= _keys(look, select(t.dimension.c.subject_id), t.dimension.c.id, measured)
    photos |= {row["photo_id"] for row in rows["sighting"]}
    if rows["kind"]:
        # What a kind is called may say something of every narrower one.
        subjects |= {row.id for row in look.all(select(t.subject.c.id).where(t.subject.c.kind.is_not(None)))}
    stale.subjects, stale.photos, stale.visits = subjects, photos, visits
    return stale


def _keys(look: Look, keys: Select[Any], column: ColumnElement[Any], among: Collection[int]) -> set[int]:
    return {row[0] for chunk in in_chunks(among) for row in look.all(keys.where(column.in_(chunk)))}


def count_of_words(look: Look) -> int:
    """Return how many things have words: subjects, photos and visits."""
    return sum(
        look.value(select(func.count()).select_from(table)) or 0 for table in (t.subject, t.photo, t.visit)
    )


_STAMPS = select(t.change.c.number, t.change.c.at_utc)
_NEWEST_STAMP = _STAMPS.order_by(t.change.c.number.desc()).limit(1)


def change_stamp(look: Look, number: int | None = None) -> tuple[int, str]:
    """Return the number and time of the newest change, or of this one; (0, '') where there is none."""
    row = look.first(_NEWEST_STAMP if number is None else _STAMPS.where(t.change.c.number == number))
    return (row.number, row.at_utc) if row is not None else (0, "")
