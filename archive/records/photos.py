"""Photos, their originals, and the sightings that say what they show."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Row, func, or_, select

from archive.errors import NotAccepted, RecordNotFound, SeveralMatch
from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks
from archive.records.folder import path_key
from archive.records.names import (
    has_id_form,
    in_natural_order,
    name_key,
    natural_key,
    near_names,
    new_public_id,
)
from archive.records.things import Original, Photo, Region, Sighting, Subject, Visit, Warned

if TYPE_CHECKING:  # what opens pictures takes a command a tenth of its time to load
    from archive.pictures import PictureFacts

IN_TURN = (
    t.photo.c.ordered_at.is_(None),
    t.photo.c.ordered_at,
    func.coalesce(t.photo.c.subsecond, ""),
    t.photo.c.name_order,
    func.coalesce(t.photo.c.page, 0),
    t.photo.c.id,
)
"""The order of photos: by the moment taken, then by name as people count ('HC20_9' before 'HC20_10'), then by page."""


def _turn_of(row: Row[Any]) -> tuple[bool, str, str, str, int, int]:
    """What puts a row in the order of `IN_TURN` among others that are in hand."""
    when, part, name = row.ordered_at or "", row.subsecond or "", row.name_order or ""
    return row.ordered_at is None, when, part, name, row.page or 0, row.id


def all_photos(look: Look, *, visit: Visit | None = None, unlinked: bool = False) -> list[Photo]:
    """Return photos in order of time taken: all, those of a visit, those that show nothing yet."""
    conditions: list[ColumnElement[bool]] = []
    if visit is not None:
        conditions.append(t.photo.c.visit_id == visit.key)
    if unlinked:
        conditions.append(t.photo.c.id.not_in(select(t.sighting.c.photo_id)))
    return _photos(look, *conditions)


def photo_named(look: Look, asked: str) -> Photo:
    """Return the photo of this id, file name (with or without its ending) or VISIT/NAME.

    Raises `RecordNotFound`, or `SeveralMatch` when photos of several visits have the name.
    """
    matches = photos_matching(look, asked)
    if not matches:
        names = [row.file for row in look.all(select(t.photo.c.file))]
        raise RecordNotFound("photo", asked, near_names(asked, names))
    if len(matches) > 1:
        raise SeveralMatch("photo", asked, tuple(f"{p.visit}/{p.file} ({p.id})" for p in matches))
    return matches[0]


def photos_matching(look: Look, asked: str) -> list[Photo]:
    """Return every photo of this id, file name (with or without its ending) or VISIT/NAME."""
    matches = _photos(look, t.photo.c.public_id == asked) if has_id_form(asked) else []
    matches = matches or _photos_of_name(look, asked)
    if not matches and "/" in asked:
        visit, _, name = asked.rpartition("/")
        wanted = name_key(visit)
        matches = [p for p in _photos_of_name(look, name) if name_key(p.visit) == wanted]
    return matches


def has_photo(look: Look, name: str) -> bool:
    """Tell whether a photo has this file name, with or without its ending."""
    return bool(_photos_of_name(look, name))


def photos_by_key(look: Look, keys: Iterable[int]) -> list[Photo]:
    """Return the photos with these keys, in order of time taken."""
    found = [p for chunk in in_chunks(keys) for p in _photos(look, t.photo.c.id.in_(chunk))]
    return sorted(found, key=lambda photo: photo.turn_key)


def photos_showing(look: Look, subject: Subject) -> list[Photo]:
    """Return the photos that show the subject, in order of time taken."""
    return _photos(
        look, t.photo.c.id.in_(select(t.sighting.c.photo_id).where(t.sighting.c.subject_id == subject.key))
    )


def held_files(look: Look) -> dict[str, tuple[int, str]]:
    """Return the size in bytes and the stored path of every file that is kept, by SHA-256."""
    return {
        row.sha256: (row.bytes, row.stored_path)
        for table in t.HELD
        for row in look.all(select(table.c.sha256, table.c.bytes, table.c.stored_path))
    }


def barely_shown(look: Look, below_px: int) -> dict[str, int]:
    """Return the width, 0 for none, of photos with none or one below this, by the checksum of their picture.

    Not those with marks: these lie on the picture as it was shown.
    """
    statement = (
        select(t.original.c.sha256, func.coalesce(t.photo.c.width, 0).label("width"))
        .join(t.photo, t.photo.c.id == t.original.c.photo_id)
        .where(
            t.original.c.role == "picture",
            t.photo.c.page.is_(None),
            func.coalesce(t.photo.c.width, 0) < below_px,
            t.photo.c.id.not_in(select(t.mark.c.photo_id)),
        )
    )
    return {row.sha256: row.width for row in look.all(statement)}


def photo_of_file(look: Look, sha256: str) -> Photo:
    """Return the photo that holds an original of this checksum."""
    return _photos(
        look, t.photo.c.id.in_(select(t.original.c.photo_id).where(t.original.c.sha256 == sha256))
    )[0]


def show_at(writer: Writer, photo: Photo, facts: PictureFacts) -> None:
    """Note the size at which a photo's picture can be shown now; what was said of its showing is said no more."""
    writer.update(
        t.photo,
        photo.key,
        width=facts.width,
        height=facts.height,
        stored_width=facts.stored_width,
        stored_height=facts.stored_height,
        warnings=[
            *({"code": w.code, "message": w.message} for w in photo.warnings if w.code not in _OF_SHOWING),
            *({"code": w.code, "message": w.message} for w in facts.warnings),
        ],
    )


_OF_SHOWING = frozenset({"no-preview", "small-preview"})


def are_any_known(look: Look, originals: Sequence[Original]) -> bool:
    """Tell whether the records know one of these files by now, by its bytes or by its path."""
    sums, paths = [o.sha256 for o in originals], [path_key(o.stored_path) for o in originals]
    return any(
        look.first(select(table.c.id).where(or_(table.c.sha256.in_(sums), table.c.path_key.in_(paths))))
        for table in t.HELD
    )


def taken_paths(look: Look, visit: Visit) -> set[str]:
    """Return the stored paths of a visit in the form in which paths are compared."""
    place = f"visits/{visit.folder}"
    return {f"{path_key(place)}/{name}" for name in taken_names(look, place)}


def taken_names(look: Look, place: str) -> set[str]:
    """Return the names of the files in a folder, such as 'visits/2023-06-17 wendle-basin', as names are compared."""
    prefix = path_key(f"{place}/")
    return {
        row.path_key.removeprefix(prefix)
        for table in t.HELD
        for row in look.all(
            select(table.c.path_key).where(table.c.path_key.startswith(prefix, autoescape=True))
        )
    }


def add_photos(
    writer: Writer, visit: Visit, photos: Sequence[tuple[Mapping[str, Any], Sequence[Original]]]
) -> list[int]:
    """Add photos to a visit: each is what is known of it (columns of `photo`) and its originals. Returns keys."""
    rows = [
        {
            **facts,
            "public_id": new_public_id("photo"),
            "visit_id": visit.key,
            "file_key": name_key(facts["file"]),
            "stem_key": name_key(stem_of(facts["file"])),
            "ordered_at": facts["taken"],
            "name_order": natural_key(facts["file"]),
        }
        for facts, _ in photos
    ]
    keys = writer.insert_all(t.photo, rows)
    writer.insert_all(
        t.original,
        [_original_row(key, o) for key, (_, originals) in zip(keys, photos, strict=True) for o in originals],
    )
    return keys


def pages_of(look: Look, stored_path: str) -> tuple[Photo | None, set[int]]:
    """Return the photo that holds the file of this path, and which of its pages are photos."""
    key = look.value(select(t.original.c.photo_id).where(t.original.c.stored_path == stored_path))
    if key is None:
        return None, set()
    whole = _photos(look, or_(t.photo.c.id == key, t.photo.c.page_of_id == key))
    return next(photo for photo in whole if photo.key == key), {photo.page or 1 for photo in whole}


def keys_of_pages(look: Look, holder_key: int) -> list[int]:
    """Return the keys of the photos of a file's other pages."""
    return [row.id for row in look.all(select(t.photo.c.id).where(t.photo.c.page_of_id == holder_key))]


def with_all_pages(look: Look, photos: Sequence[Photo]) -> list[Photo]:
    """Return the photos, and those of the other pages of their files: they have one file, so they go together."""
    holders = {photo.page_of_key or photo.key for photo in photos}
    if not any(photo.page for photo in photos):
        return list(photos)
    keys = {photo.key for photo in photos}
    others = [
        key for holder in sorted(holders) for key in (holder, *keys_of_pages(look, holder)) if key not in keys
    ]
    return [*photos, *photos_by_key(look, others)]


def add_pages(writer: Writer, holder: Photo, pages: Sequence[Mapping[str, Any]]) -> list[int]:
    """Add photos of other pages of a photo's file: what is known of each (columns of `photo`). Returns keys."""
    shared = _row_of(writer, holder.key)
    rows = [
        {
            **shared,
            **facts,
            "public_id": new_public_id("photo"),
            "page_of_id": holder.key,
            "file_key": name_key(facts["file"]),
            "stem_key": name_key(stem_of(facts["file"])),
        }
        for facts in pages
    ]
    return writer.insert_all(t.photo, rows)


def _row_of(writer: Writer, key: int) -> dict[str, Any]:
    row = writer.row(t.photo, key) or {}
    return {name: value for name, value in row.items() if name != "id"}


def add_originals(writer: Writer, of_sha256: str, originals: Sequence[Original]) -> Photo:
    """Add files to the photo that holds an original of this checksum."""
    key = writer.value(select(t.original.c.photo_id).where(t.original.c.sha256 == of_sha256))
    writer.insert_all(t.original, [_original_row(key, each) for each in originals])
    return photos_by_key(writer, [key])[0]


def _original_row(photo_key: int, original: Original) -> dict[str, Any]:
    return {
        "photo_id": photo_key,
        "role": original.role,
        "stored_path": original.stored_path,
        "path_key": path_key(original.stored_path),
        "name_as_found": original.name_as_found,
        "sha256": original.sha256,
        "bytes": original.bytes,
    }


def link(
    writer: Writer, photo: Photo, subject: Subject, *, view: str | None, mirrored: bool | None = None
) -> bool:
    """Say that the photo shows the subject; what is given later is put in. Returns whether anything changed."""
    held = writer.first(
        select(t.sighting).where(t.sighting.c.photo_id == photo.key, t.sighting.c.subject_id == subject.key)
    )
    if held is None:
        writer.insert(
            t.sighting,
            public_id=new_public_id("sighting"),
            photo_id=photo.key,
            subject_id=subject.key,
            view=view,
            mirrored=bool(mirrored),
            region=None,
        )
        return True
    now = {"view": view or held.view, "mirrored": held.mirrored if mirrored is None else mirrored}
    if now == {"view": held.view, "mirrored": held.mirrored}:
        return False
    writer.update(t.sighting, held.id, **now)
    return True


def sighting_key(look: Look, photo: Photo, subject: Subject) -> int:
    """Return the key of the link between them; raises `NotAccepted` if nobody said that the photo shows it."""
    linked = t.sighting.c.photo_id == photo.key, t.sighting.c.subject_id == subject.key
    key = look.value(select(t.sighting.c.id).where(*linked))
    if key is None:
        shown = ", ".join(s.subject_name for s in photo.sightings) or "nothing yet"
        raise NotAccepted(f"Nobody said that {photo.file} shows {subject.name}", f"It shows: {shown}.")
    return int(key)


def originals_of_visit(look: Look, visit: Visit) -> list[Original]:
    """Return the originals that lie in a visit's folder, by path."""
    statement = (
        select(t.original)
        .join(t.photo, t.photo.c.id == t.original.c.photo_id)
        .where(t.photo.c.visit_id == visit.key)
        .order_by(t.original.c.stored_path)
    )
    return [_original(row) for row in look.all(statement)]


def _photos_of_name(look: Look, name: str) -> list[Photo]:
    key = name_key(name)
    return _photos(look, t.photo.c.file_key == key) or _photos(look, t.photo.c.stem_key == key)


def _photos(look: Look, *conditions: ColumnElement[bool]) -> list[Photo]:
    statement = (
        select(t.photo, t.visit.c.name.label("visit"))
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .where(*conditions)
        .order_by(*IN_TURN)
    )
    rows = look.all(statement)
    holders = {row.id: row.page_of_id or row.id for row in rows}
    originals, sightings = _originals(look, set(holders.values())), _sightings_by_photo(look, holders)
    return [_photo(row, originals[holders[row.id]], sightings[row.id]) for row in rows]


def _originals(look: Look, keys: Iterable[int]) -> dict[int, list[Original]]:
    found: dict[int, list[Original]] = defaultdict(list)
    for chunk in in_chunks(keys):
        statement = select(t.original).where(t.original.c.photo_id.in_(chunk)).order_by(t.original.c.id)
        for row in look.all(statement):
            found[row.photo_id].append(_original(row))
    return found


def _sightings_by_photo(look: Look, keys: Iterable[int]) -> dict[int, list[Sighting]]:
    found: dict[int, list[Sighting]] = defaultdict(list)
    for chunk in in_chunks(keys):
        for sighting, photo_key in _sightings(look, t.sighting.c.photo_id.in_(chunk)):
            found[photo_key].append(sighting)
    return found


def _sightings(look: Look, *conditions: ColumnElement[bool]) -> list[tuple[Sighting, int]]:
    statement = (
        select(
            t.sighting,
            t.photo.c.public_id.label("photo_id_"),
            t.photo.c.file,
            t.subject.c.public_id.label("subject_id_"),
            t.subject.c.name,
        )
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .join(t.subject, t.subject.c.id == t.sighting.c.subject_id)
        .where(*conditions)
    )
    return [
        (
            Sighting(
                r.id,
                r.public_id,
                r.photo_id_,
                r.file,
                r.subject_id_,
                r.name,
                r.view,
                r.mirrored,
                region=Region(**r.region) if r.region else None,
            ),
            r.photo_id,
        )
        for r in in_natural_order(look.all(statement))
    ]


def _original(row: Row[Any]) -> Original:
    return Original(row.role, row.stored_path, row.name_as_found, row.sha256, row.bytes)


_NOT_PLAIN = {"id", "keywords", "warnings"}
_PLAIN = [name for name in Photo.__dataclass_fields__ if name in t.photo.c and name not in _NOT_PLAIN]


def _photo(row: Row[Any], originals: list[Original], sightings: list[Sighting]) -> Photo:
    columns = row._mapping
    return Photo(
        key=row.id,
        id=row.public_id,
        visit_key=row.visit_id,
        page_of_key=row.page_of_id,
        visit=row.visit,
        keywords=tuple(row.keywords),
        warnings=tuple(Warned(w["code"], w["message"]) for w in row.warnings),
        originals=tuple(originals),
        sightings=tuple(sightings),
        turn_key=_turn_of(row),
        **{name: columns[name] for name in _PLAIN},
    )


def stem_of(file: str) -> str:
    """Return a file name without its ending."""
    stem, dot, ending = file.rpartition(".")
    return stem if dot and stem else ending
