"""Subjects, their names, and the person's own kinds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from sqlalchemy import ColumnElement, select

from archive.errors import NameTaken, NotAccepted, RecordNotFound
from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks
from archive.records.names import (
    clean_name,
    has_id_form,
    in_natural_order,
    name_key,
    near_names,
    new_public_id,
)
from archive.records.things import Subject
from archive.records.visits import place_key


def all_subjects(look: Look) -> list[Subject]:
    """Return every subject by name."""
    return _subjects(look)


def newest_subjects(look: Look, at_most: int) -> list[Subject]:
    """Return the subjects that were added last, the newest first."""
    newest = look.all(select(t.subject.c.id).order_by(t.subject.c.id.desc()).limit(at_most))
    return sorted(subjects_by_key(look, [row.id for row in newest]), key=lambda subject: -subject.key)


def subject_named(look: Look, asked: str) -> Subject:
    """Return the subject of this name, other name or id; raises `RecordNotFound`."""
    found = find_subject(look, asked)
    if found is None:
        names = [row.name for row in look.all(select(t.subject.c.name))]
        also = [row.name for row in look.all(select(t.subject_name.c.name))]
        raise RecordNotFound("subject", asked, near_names(asked, names + also))
    return found


def find_subject(look: Look, asked: str) -> Subject | None:
    """Return the subject of this name, other name or id, or None."""
    matches = _subjects(look, t.subject.c.public_id == asked) if has_id_form(asked) else []
    if not matches:
        key = name_key(asked)
        by_other_name = select(t.subject_name.c.subject_id).where(t.subject_name.c.name_key == key)
        matches = _subjects(look, (t.subject.c.name_key == key) | t.subject.c.id.in_(by_other_name))
    return matches[0] if matches else None


def add_subject(
    writer: Writer,
    name: str,
    *,
    kind: str | None = None,
    also: tuple[str, ...] = (),
    part_of: str | None = None,
    place: str | None = None,
    maker: str | None = None,
    numbers: str | None = None,
    era: str | None = None,
    notes: str | None = None,
) -> Subject:
    """Add a subject; `kind` is a kind's id, `also` are other names it goes by. Raises `NameTaken`."""
    name = clean_name(name)
    if not name:
        raise NotAccepted("A subject needs a name", "Give it the name that you would look for.")
    names = {name_key(n): n for n in (name, *(clean_name(n) for n in also)) if n}
    for each in names.values():
        held = find_subject(writer, each)
        if held is not None:
            raise NameTaken("subject", each, held.name)
    key = writer.insert(
        t.subject,
        public_id=new_public_id("subject"),
        name=name,
        name_key=name_key(name),
        kind=kind,
        part_of_id=subject_named(writer, part_of).key if part_of else None,
        place_id=place_key(writer, place) if place else None,
        maker=maker,
        numbers=numbers,
        era=era,
        notes=notes,
    )
    others = [n for k, n in names.items() if k != name_key(name)]
    writer.insert_all(
        t.subject_name, [{"subject_id": key, "name": n, "name_key": name_key(n)} for n in others]
    )
    return subject_named(writer, name)


def subjects_of_build(look: Look, build_key: int) -> list[Subject]:
    """Return the subjects of a build, in the order in which they were given."""
    of_build = t.build_subject.c.build_id == build_key
    order = [
        r.subject_id for r in look.all(select(t.build_subject).where(of_build).order_by(t.build_subject.c.id))
    ]
    found = {s.key: s for s in _subjects(look, t.subject.c.id.in_(order))}
    return [found[key] for key in order]


def subjects_by_key(look: Look, keys: Iterable[int]) -> list[Subject]:
    """Return the subjects with these keys, by name."""
    found = [s for chunk in in_chunks(keys) for s in _subjects(look, t.subject.c.id.in_(chunk))]
    return in_natural_order(found)


def kinds_by_key(look: Look, keys: Iterable[int]) -> dict[int, str | None]:
    """Return what kind of thing each of these subjects is, as far as they are there and it was said."""
    columns = select(t.subject.c.id, t.subject.c.kind)
    found = (row for chunk in in_chunks(keys) for row in look.all(columns.where(t.subject.c.id.in_(chunk))))
    return {row.id: row.kind for row in found}


def _subjects(look: Look, *conditions: ColumnElement[bool]) -> list[Subject]:
    whole = t.subject.alias("whole")
    statement = (
        select(t.subject, whole.c.name.label("part_of"), t.place.c.name.label("place"))
        .outerjoin(whole, whole.c.id == t.subject.c.part_of_id)
        .outerjoin(t.place, t.place.c.id == t.subject.c.place_id)
        .where(*conditions)
    )
    rows = in_natural_order(look.all(statement))
    also = defaultdict[int, list[str]](list)
    names = select(t.subject_name).order_by(t.subject_name.c.id)
    if len(rows) < 100:
        names = names.where(t.subject_name.c.subject_id.in_([row.id for row in rows]))
    for row in look.all(names):
        also[row.subject_id].append(row.name)
    return [
        Subject(
            key=r.id,
            id=r.public_id,
            name=r.name,
            also=tuple(also[r.id]),
            kind=r.kind,
            part_of=r.part_of,
            place=r.place,
            maker=r.maker,
            numbers=r.numbers,
            era=r.era,
            notes=r.notes,
        )
        for r in rows
    ]
