"""Putting records right: renamed, amended, merged, split, moved, taken out. All of it can be taken back.

These take a `Writer`; the best figures that a change touches are worked out anew by the caller.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Table, select

from archive.errors import NameTaken, NotAccepted, RecordNotFound
from archive.records import clocks, photos, removing, sizes, subjects, visits
from archive.records import folder as folders
from archive.records import tables as t
from archive.records.changes import Look, Row_, Writer
from archive.records.following import follow
from archive.records.manifests import MANIFEST
from archive.records.names import clean_name, name_key
from archive.records.structure import is_derived, pointed_at_by, rows_alike
from archive.records.things import Dimension, Photo, Subject, Visit

# Subjects


def rename_subject(writer: Writer, subject: Subject, name: str, *, keep_old: bool) -> Subject:
    """Give a subject another name; the old one stays as another name of it where that is wanted."""
    name = _new_name(name, "subject", subject.name)
    held = subjects.find_subject(writer, name)
    if held is not None and held.key != subject.key:
        raise NameTaken("subject", name, held.name)
    _drop_name(writer, t.subject_name, name)
    writer.update(t.subject, subject.key, name=name, name_key=name_key(name))
    if keep_old and name_key(name) != name_key(subject.name):
        _also(writer, t.subject_name, "subject_id", subject.key, subject.name)
    return subjects.subjects_by_key(writer, [subject.key])[0]


def amend_subject(
    writer: Writer,
    subject: Subject,
    facts: Mapping[str, str | None],
    *,
    also: Iterable[str] = (),
    no_longer: Iterable[str] = (),
) -> Subject:
    """Put in other facts (columns of `subject`; `part_of` and `place` by name) and add or drop other names."""
    values: dict[str, Any] = dict(facts)
    if "part_of" in values:
        values["part_of_id"] = _whole(writer, subject, values.pop("part_of"))
    if "place" in values:
        place = values.pop("place")
        values["place_id"] = visits.place_key(writer, place) if place else None
    if values:
        writer.update(t.subject, subject.key, **values)
    for name in no_longer:
        if name_key(name) not in {name_key(each) for each in subject.also}:
            raise RecordNotFound(f"other name of {subject.name}", name, subject.also)
        _drop_name(writer, t.subject_name, name)
    for name in also:
        held = subjects.find_subject(writer, _needed_name(name, "subject"))
        if held is None:
            _also(writer, t.subject_name, "subject_id", subject.key, clean_name(name))
        elif held.key != subject.key:
            raise NameTaken("subject", name, held.name)
    return subjects.subjects_by_key(writer, [subject.key])[0]


def merge_subjects(writer: Writer, kept: Subject, other: Subject) -> Subject:
    """Make two subjects one: all that hangs on the other goes to the kept one, its name becomes another name."""
    if kept.key == other.key:
        raise NotAccepted(
            f"Both names are those of '{kept.name}', which cannot be merged with itself",
            "Name two different subjects.",
        )
    mine, theirs = _row(writer, t.subject, kept.key), _row(writer, t.subject, other.key)
    if mine["part_of_id"] == other.key:
        writer.update(t.subject, kept.key, part_of_id=theirs["part_of_id"])
    facts: Row_ = {
        name: theirs[name] for name in ("kind", "maker", "numbers", "era", "place_id") if mine[name] is None
    }
    if mine["part_of_id"] is None and not _lies_within(writer, theirs["part_of_id"], kept.key):
        facts["part_of_id"] = theirs["part_of_id"]
    if theirs["notes"] and theirs["notes"] != mine["notes"]:
        facts["notes"] = "\n".join(note for note in (mine["notes"], theirs["notes"]) if note)
    _join_rows(writer, t.subject, kept.key, other.key)
    writer.delete(t.subject, other.key)
    if facts:
        writer.update(t.subject, kept.key, **facts)
    _also(writer, t.subject_name, "subject_id", kept.key, other.name)
    return subjects.subjects_by_key(writer, [kept.key])[0]


def split_subject(
    writer: Writer, subject: Subject, name: str, *, dimensions: Sequence[Dimension], shown_by: Sequence[Photo]
) -> Subject:
    """Make a new subject of the same kind and place, and give it some of the sizes and photos of another."""
    if not dimensions and not shown_by:
        raise NotAccepted(
            f"Nothing was named that should go from '{subject.name}' to '{name}'",
            "Name sizes or photos to go there.",
        )
    made = subjects.add_subject(
        writer, name, kind=subject.kind, place=subject.place, part_of=subject.part_of, era=subject.era
    )
    for dimension in dimensions:
        writer.update(t.dimension, dimension.key, subject_id=made.key)
    for photo in shown_by:
        writer.update(t.sighting, photos.sighting_key(writer, photo, subject), subject_id=made.key)
    return made


def remove_subject(writer: Writer, subject: Subject) -> dict[str, int]:
    """Take a subject out with its sizes and links; its parts go to what it was part of. Returns rows by table."""
    for row in writer.all(select(t.build_subject).where(t.build_subject.c.subject_id == subject.key)):
        others = t.build_subject.c.build_id == row.build_id, t.build_subject.c.subject_id != subject.key
        if writer.first(select(t.build_subject).where(*others)) is None:
            build = _row(writer, t.build, row.build_id)["name"]
            raise NotAccepted(
                f"'{subject.name}' is all that the build '{build}' is made after",
                "Merge it with another subject instead, or take back what made the build.",
            )
    whole = _row(writer, t.subject, subject.key)["part_of_id"]
    for part in writer.all(select(t.subject.c.id).where(t.subject.c.part_of_id == subject.key)):
        writer.update(t.subject, part.id, part_of_id=whole)
    return remove_row(writer, t.subject, subject.key)


# Visits


def rename_visit(writer: Writer, visit: Visit, name: str, *, keep_old: bool) -> Visit:
    """Give a visit another name; its folder keeps the name it has."""
    name = _new_name(name, "visit", visit.name)
    held = visits.find_visit(writer, name)
    if held is not None and held.key != visit.key:
        raise NameTaken("visit", name, held.name)
    _drop_name(writer, t.visit_name, name)
    writer.update(t.visit, visit.key, name=name, name_key=name_key(name))
    if keep_old and name_key(name) != name_key(visit.name):
        _also(writer, t.visit_name, "visit_id", visit.key, visit.name)
    return visits.visit_named(writer, name)


def amend_visit(writer: Writer, visit: Visit, facts: Mapping[str, str | None]) -> Visit:
    """Put in other facts of a visit (columns of `visit`; `place` by name)."""
    values: dict[str, Any] = dict(facts)
    if "place" in values:
        place = values.pop("place")
        values["place_id"] = visits.place_key(writer, place) if place else None
    if values:
        writer.update(t.visit, visit.key, **values)
        follow(writer, [visit.key])  # places by a track depend on the zone
    return visits.visit_named(writer, visit.name)


def merge_visits(writer: Writer, kept: Visit, other: Visit) -> Visit:
    """Make two visits one: photos, with their files, and readings go to the kept one."""
    if kept.key == other.key:
        raise NotAccepted(
            f"Both names are those of '{kept.name}', which cannot be merged with itself",
            "Name two different visits.",
        )
    move_photos(writer, photos.all_photos(writer, visit=other), kept)
    _move_visit_files(writer, other, kept)
    clocks.forget(writer, other)
    mine, theirs = _row(writer, t.visit, kept.key), _row(writer, t.visit, other.key)
    facts: Row_ = {
        name: theirs[name] for name in ("place_id", "people", "access_notes") if mine[name] is None
    }
    days = sorted(day for row in (mine, theirs) for day in (row["first_day"], row["last_day"]) if day)
    if days:
        facts |= {"first_day": days[0], "last_day": days[-1]}
    _join_rows(writer, t.visit, kept.key, other.key)
    writer.delete(t.visit, other.key)
    writer.update(t.visit, kept.key, **facts)
    _also(writer, t.visit_name, "visit_id", kept.key, other.name)
    follow(writer, [kept.key])
    return visits.visit_named(writer, kept.name)


# Photos


def move_photos(writer: Writer, moved: Sequence[Photo], to: Visit) -> None:
    """Put photos into another visit; their files follow into its folder."""
    moved = photos.with_all_pages(writer, moved)
    taken = {*photos.taken_paths(writer, to), folders.path_key(f"visits/{to.folder}/{MANIFEST}")}
    for photo in moved:
        if photo.visit_key == to.key:
            continue
        names = {}
        for row in writer.all(select(t.original).where(t.original.c.photo_id == photo.key)):
            old = row.stored_path.rpartition("/")[2]
            held = {key.rpartition("/")[2] for key in taken}
            names[old] = folders.free_name(old, held)
            path = f"visits/{to.folder}/{names[old]}"
            taken.add(folders.path_key(path))
            writer.update(t.original, row.id, stored_path=path, path_key=folders.path_key(path))
        file = names.get(photo.file, photo.file)
        writer.update(
            t.photo,
            photo.key,
            visit_id=to.key,
            file=file,
            file_key=name_key(file),
            stem_key=name_key(photos.stem_of(file)),
        )
    came = [photo for photo in moved if photo.visit_key != to.key]
    clocks.carry(writer, came, to)
    follow(
        writer, {to.key, *(photo.visit_key for photo in came)}
    )  # also those that stay: their order may change


def _move_visit_files(writer: Writer, visit: Visit, to: Visit) -> None:
    """Put a visit's films and voice notes into another visit; the files follow into its folder."""
    place = f"visits/{to.folder}"
    names = {*photos.taken_names(writer, place), folders.path_key(MANIFEST)}
    for row in writer.all(select(t.visit_file).where(t.visit_file.c.visit_id == visit.key)):
        name = folders.free_name(row.stored_path.rpartition("/")[2], names)
        names.add(folders.path_key(name))
        path = f"{place}/{name}"
        writer.update(
            t.visit_file, row.id, visit_id=to.key, stored_path=path, path_key=folders.path_key(path)
        )


def amend_photo(writer: Writer, photo: Photo, facts: Mapping[str, Any]) -> None:
    """Put in another caption, creator or rights (columns of `photo`); what its file says stays in the file."""
    if facts:
        writer.update(t.photo, photo.key, **facts)


def remove_photo(writer: Writer, photo: Photo) -> dict[str, int]:
    """Take a photo out: its files go to `removed/`, its links go, readings that name it keep all else."""
    row = writer.row(t.photo, photo.key)
    if row is None:
        return {}  # it went with the photo that holds its file
    gone = Counter[str]()
    for page in photos.keys_of_pages(writer, photo.key):
        gone.update(remove_row(writer, t.photo, page))
    taken: set[str] = set()
    for original in writer.all(select(t.original).where(t.original.c.photo_id == photo.key)):
        writer.insert(
            t.removed_file, **removing.removed_file_row(writer, row, dict(original._mapping), taken)
        )
    gone.update(remove_row(writer, t.photo, photo.key))
    return dict(gone)


def unlink(writer: Writer, photo: Photo, subject: Subject) -> None:
    """Say that the photo does not show the subject; raises `RecordNotFound` if nobody said so."""
    remove_row(writer, t.sighting, photos.sighting_key(writer, photo, subject))


# Sizes


def move_dimension(writer: Writer, dimension: Dimension, *, to: Subject, label: str) -> Dimension:
    """Put a size under another subject or label; where that has such a size, the readings join it."""
    label = clean_name(label)
    if not label:
        raise NotAccepted("A size needs a label", "Say what is measured, such as 'door height'.")
    held = sizes.dimension_of(writer, to, label, state=dimension.state, span=dimension.span)
    if held is not None and held.key != dimension.key:
        if held.quantity != dimension.quantity:
            raise NotAccepted(
                f"'{held.label}' of {to.name} is a {held.quantity}, and this is a {dimension.quantity}",
                "Choose another label.",
            )
        _join_rows(writer, t.dimension, held.key, dimension.key)
        writer.delete(t.dimension, dimension.key)
        return held
    writer.update(t.dimension, dimension.key, subject_id=to.key, label=label, label_key=name_key(label))
    return sizes.dimensions_by_key(writer, [dimension.key])[0]


def set_reading_aside(writer: Writer, reading_key: int, why: str) -> None:
    """Let a reading count no longer, and say why; it is kept as it was written."""
    writer.update(t.reading, reading_key, set_aside=why)


# Rows


def remove_row(writer: Writer, table: Table, row_id: int) -> dict[str, int]:
    """Take a row out with the rows that are nothing without it; others that point at it forget it.

    Returns how many rows went, by table.
    """
    gone: Counter[str] = Counter()
    for other, column in pointed_at_by(table):
        for row in writer.all(select(other.c.id).where(other.c[column] == row_id)):
            if other.c[column].nullable:
                writer.update(other, row.id, **{column: None})
            else:
                gone.update(remove_row(writer, other, row.id))
    writer.delete(table, row_id)
    gone[table.name] += 1
    return dict(gone)


def _join_rows(writer: Writer, table: Table, kept: int, other: int) -> None:
    """Let everything that points at one row point at another; rows that would then be alike are joined in turn."""
    for child, column in pointed_at_by(table):
        for row in writer.all(select(child).where(child.c[column] == other).order_by(child.c.id)):
            alike = rows_alike(writer, child, row.id, {**row._mapping, column: kept})
            if is_derived(child):
                remove_row(writer, child, row.id)  # worked out anew
            elif alike:
                _join_alike(writer, child, alike[0], row._mapping)
            elif not (child is table and row.id == kept):
                writer.update(child, row.id, **{column: kept})


def _join_alike(writer: Writer, table: Table, kept: int, other: Mapping[Any, Any]) -> None:
    """Join two rows that say the same: what the kept one leaves unsaid is taken from the other."""
    mine = _row(writer, table, kept)
    if table is t.dimension and mine["quantity"] != other["quantity"]:
        raise NotAccepted(
            f"'{mine['label']}' is a {mine['quantity']} of one and a {other['quantity']} of the other",
            "Move one of them to another label first, with 'rivetbook size move'.",
        )
    _join_rows(writer, table, kept, other["id"])
    writer.delete(table, other["id"])
    unsaid = {name: other[name] for name, value in mine.items() if value is None and other[name] is not None}
    if unsaid:
        writer.update(table, kept, **unsaid)


def _row(writer: Writer, table: Table, row_id: int) -> Row_:
    row = writer.row(table, row_id)
    if row is None:
        raise LookupError(f"{table.name} {row_id} is not there")
    return row


def _needed_name(name: str, sort: str) -> str:
    name = clean_name(name)
    if not name:
        raise NotAccepted(f"A {sort} needs a name", "Give it the name that you would look for.")
    return name


def _new_name(name: str, sort: str, old: str) -> str:
    name = _needed_name(name, sort)
    if name == old:
        raise NotAccepted(f"'{old}' is called so already", "Give the name that it is to have.")
    return name


def _also(writer: Writer, table: Table, column: str, of: int, name: str) -> None:
    writer.insert(table, **{column: of}, name=name, name_key=name_key(name))


def _drop_name(writer: Writer, table: Table, name: str) -> None:
    held = writer.value(select(table.c.id).where(table.c.name_key == name_key(name)))
    if held is not None:
        writer.delete(table, held)


def _whole(writer: Writer, subject: Subject, part_of: str | None) -> int | None:
    if not part_of:
        return None
    whole = subjects.subject_named(writer, part_of)
    if whole.key == subject.key:
        raise NotAccepted(f"'{subject.name}' cannot be part of itself", "Name a larger thing.")
    if _lies_within(writer, whole.key, subject.key):
        raise NotAccepted(
            f"'{subject.name}' cannot be part of '{whole.name}', which is part of it",
            "Name a larger thing.",
        )
    return whole.key


def _lies_within(look: Look, inner: int | None, outer: int) -> bool:
    """Tell whether a subject is another one, or part of it at any depth."""
    while inner is not None:
        if inner == outer:
            return True
        inner = look.value(select(t.subject.c.part_of_id).where(t.subject.c.id == inner))
    return False
