"""Marks on photos: named points, each with how clear it is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import ColumnElement, Row, select

from archive.errors import NotAccepted
from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks
from archive.records.names import clean_name, name_key, new_public_id
from archive.records.things import Photo, PhotoMark


def marks_of(look: Look, photo: Photo) -> list[PhotoMark]:
    """Return the marks of a photo, in the order in which they were put."""
    return _marks(look, t.mark.c.photo_id == photo.key)


def marks_by_name(look: Look, photo_key: int) -> dict[str, PhotoMark]:
    """Return the marks of a photo by their names as they are compared."""
    return {name_key(mark.name): mark for mark in _marks(look, t.mark.c.photo_id == photo_key)}


def put_mark(
    writer: Writer,
    photo: Photo,
    name: str,
    *,
    x_px: float,
    y_px: float,
    clear: str,
    snapped: str | None = None,
    sigma_px: float | None = None,
) -> PhotoMark:
    """Put a mark on a photo; one that is there of that name moves."""
    name = clean_name(name)
    if not name:
        raise NotAccepted("A mark needs a name", "Name the place, such as 'door foot left'.")
    facts: dict[str, Any] = {
        "x_px": x_px,
        "y_px": y_px,
        "clear": clear,
        "snapped": snapped,
        "sigma_px": sigma_px,
    }
    held = marks_by_name(writer, photo.key).get(name_key(name))
    if held is not None:
        writer.update(t.mark, held.key, **facts)
        key = held.key
    else:
        key = writer.insert(
            t.mark,
            public_id=new_public_id("mark"),
            photo_id=photo.key,
            name=name,
            name_key=name_key(name),
            **facts,
        )
    return _marks(writer, t.mark.c.id == key)[0]


def uses_of(look: Look, marks: Iterable[PhotoMark]) -> Mapping[int, int]:
    """Return by how many recipes each mark is used, by its key; unused ones are left out."""
    counted: dict[int, int] = {}
    for chunk in in_chunks(mark.key for mark in marks):
        of_these = select(t.derivation_mark.c.mark_id).where(t.derivation_mark.c.mark_id.in_(chunk))
        for row in look.all(of_these):
            counted[row.mark_id] = counted.get(row.mark_id, 0) + 1
    return counted


def _marks(look: Look, *conditions: ColumnElement[bool]) -> list[PhotoMark]:
    statement = (
        select(t.mark, t.photo.c.file.label("photo"))
        .join(t.photo, t.photo.c.id == t.mark.c.photo_id)
        .where(*conditions)
        .order_by(t.mark.c.id)
    )
    return [_mark(row) for row in look.all(statement)]


def _mark(row: Row[Any]) -> PhotoMark:
    return PhotoMark(
        key=row.id,
        id=row.public_id,
        photo_key=row.photo_id,
        photo=row.photo,
        name=row.name,
        x_px=row.x_px,
        y_px=row.y_px,
        clear=row.clear,
        snapped=row.snapped,
        sigma_px=row.sigma_px,
    )
