"""Visits and places."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import ColumnElement, Row, bindparam, func, select

from archive.errors import NameTaken, NotAccepted, RecordNotFound
from archive.records import folder as folders
from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import (
    clean_name,
    has_id_form,
    in_natural_order,
    name_key,
    natural_key,
    near_names,
    new_public_id,
)
from archive.records.things import Place, Visit


def all_visits(look: Look) -> list[Visit]:
    """Return every visit, the earliest first."""
    return _visits(look)


def visit_named(look: Look, asked: str) -> Visit:
    """Return the visit of this name or id; raises `RecordNotFound`."""
    found = find_visit(look, asked)
    if found is None:
        names = [row.name for row in look.all(select(t.visit.c.name))]
        raise RecordNotFound("visit", asked, near_names(asked, names))
    return found


def visits_by_key(look: Look, keys: Iterable[int]) -> list[Visit]:
    """Return the visits with these keys, the earliest first."""
    return _in_order(look.all(_VISITS_BY_KEY, {"keys": list(keys)}))


def find_visit(look: Look, asked: str) -> Visit | None:
    """Return the visit of this name or id, or None."""
    matches = _visits(look, t.visit.c.public_id == asked) if has_id_form(asked) else []
    if not matches:
        key = name_key(asked)
        by_other_name = select(t.visit_name.c.visit_id).where(t.visit_name.c.name_key == key)
        matches = _visits(look, (t.visit.c.name_key == key) | t.visit.c.id.in_(by_other_name))
    return matches[0] if matches else None


def add_visit(
    writer: Writer,
    name: str,
    *,
    zone: str,
    place: str | None = None,
    first_day: str | None = None,
    last_day: str | None = None,
    people: str | None = None,
    access_notes: str | None = None,
) -> Visit:
    """Add a visit; its place is added too where it is new. Raises `NameTaken`."""
    name = clean_name(name)
    if not name:
        raise NotAccepted(
            "A visit needs a name", "Call it what you would look for, such as 'Wendle Basin, June'."
        )
    held = find_visit(writer, name)
    if held is not None:
        raise NameTaken("visit", name, held.name)
    taken = {row.folder_key for row in writer.all(select(t.visit.c.folder_key))}
    folder = folders.free_name(folders.visit_folder_name(name, first_day), taken)
    writer.insert(
        t.visit,
        public_id=new_public_id("visit"),
        name=name,
        name_key=name_key(name),
        place_id=place_key(writer, place) if place else None,
        first_day=first_day,
        last_day=last_day or first_day,
        zone=zone,
        people=people,
        access_notes=access_notes,
        folder=folder,
        folder_key=folders.path_key(folder),
    )
    return visit_named(writer, name)


def give_days(writer: Writer, visit: Visit, first_day: str, last_day: str) -> Visit:
    """Say on which days a visit was, where nobody has said so yet."""
    if visit.first_day is None:
        writer.update(t.visit, visit.key, first_day=first_day, last_day=last_day)
    return visit_named(writer, visit.id)


def place_key(writer: Writer, name: str) -> int:
    """Return the key of the place of this name, added if it is new."""
    name = clean_name(name)
    held = writer.value(select(t.place.c.id).where(t.place.c.name_key == name_key(name)))
    if held is not None:
        return int(held)
    return writer.insert(
        t.place,
        public_id=new_public_id("place"),
        name=name,
        name_key=name_key(name),
        latitude=None,
        longitude=None,
        notes=None,
    )


def all_places(look: Look) -> list[Place]:
    """Return every place by name."""
    rows = in_natural_order(look.all(select(t.place)))
    return [Place(r.id, r.public_id, r.name, r.latitude, r.longitude, r.notes) for r in rows]


_PHOTOS = select(func.count()).where(t.photo.c.visit_id == t.visit.c.id).scalar_subquery()
_VISITS = select(t.visit, t.place.c.name.label("place"), _PHOTOS.label("photos")).outerjoin(
    t.place, t.place.c.id == t.visit.c.place_id
)
_VISITS_BY_KEY = _VISITS.where(t.visit.c.id.in_(bindparam("keys", expanding=True)))


def _visits(look: Look, *conditions: ColumnElement[bool]) -> list[Visit]:
    return _in_order(look.all(_VISITS.where(*conditions)))


def _in_order(rows: Iterable[Row[Any]]) -> list[Visit]:
    """The earliest first, those of one day by name."""
    return [_visit(row) for row in sorted(rows, key=lambda row: (row.first_day or "", natural_key(row.name)))]


def _visit(row: Row[Any]) -> Visit:
    return Visit(
        key=row.id,
        id=row.public_id,
        name=row.name,
        place=row.place,
        first_day=row.first_day,
        last_day=row.last_day,
        zone=row.zone,
        people=row.people,
        access_notes=row.access_notes,
        folder=row.folder,
        photos=row.photos,
    )
