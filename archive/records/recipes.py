"""Derivations: recipes that work sizes out from marks and other sizes, and the lenses that they find.

What a recipe says is judged and solved elsewhere; this keeps it, and knows what leans on what.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Row, select

from archive.errors import RecordNotFound
from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks
from archive.records.names import has_id_form
from archive.records.things import Derivation, KeptLens, Photo, PhotoMark


def derivation_named(look: Look, public_id: str) -> Derivation:
    """Return the derivation of this id; raises `RecordNotFound`."""
    found = _derivations(look, t.derivation.c.public_id == public_id) if has_id_form(public_id) else []
    if not found:
        raise RecordNotFound("derivation", public_id)
    return found[0]


def derivations_by_id(look: Look, ids: Iterable[str]) -> dict[str, Derivation]:
    """Return the derivations with these public ids, as far as they are there."""
    return {
        d.id: d
        for chunk in in_chunks(set(ids))
        for d in _derivations(look, t.derivation.c.public_id.in_(chunk))
    }


def derivations_by_key(look: Look, keys: Iterable[int]) -> list[Derivation]:
    """Return the derivations with these keys, the oldest first."""
    found = [d for chunk in in_chunks(keys) for d in _derivations(look, t.derivation.c.id.in_(chunk))]
    return sorted(found, key=lambda d: d.key)


def derivations_of_photo(look: Look, photo: Photo) -> list[Derivation]:
    """Return the derivations from a photo, the oldest first."""
    return _derivations(look, t.derivation.c.photo_id == photo.key)


def add_derivation(
    writer: Writer,
    public_id: str,
    photo: Photo | None,
    method: str,
    recipe: Mapping[str, Any],
    *,
    input_keys: Mapping[int, int],
    marks: Sequence[PhotoMark],
) -> Derivation:
    """Keep a recipe, not solved yet, with what it leans on."""
    key = writer.insert(
        t.derivation,
        public_id=public_id,
        photo_id=photo.key if photo else None,
        method=method,
        recipe=dict(recipe),
        solved=False,
        why=None,
        results=[],
    )
    writer.insert_all(
        t.derivation_input,
        [
            {"derivation_id": key, "number": number, "dimension_id": dimension}
            for number, dimension in input_keys.items()
        ],
    )
    writer.insert_all(t.derivation_mark, [{"derivation_id": key, "mark_id": mark.key} for mark in marks])
    return derivations_by_key(writer, [key])[0]


def keep_results(
    writer: Writer, derivation: Derivation, results: Sequence[Mapping[str, Any]], *, why: str | None
) -> None:
    """Store what came of a recipe; `why` tells why it does not solve."""
    writer.update(
        t.derivation,
        derivation.key,
        solved=why is None,
        why=why,
        results=[dict(result) for result in results],
    )


def keep_derived_value(
    writer: Writer, reading_key: int, value: float, as_written: str, *, is_length: bool = True
) -> None:
    """Let a worked-out reading say what its recipe comes to now."""
    value_mm = value if is_length else None
    writer.update(t.reading, reading_key, value=value, value_mm=value_mm, as_written=as_written)


def drop_derivation(writer: Writer, derivation: Derivation) -> None:
    """Take away a recipe of which no reading is left, with the lens that it found and what it leaned on."""
    for table in (t.derivation_input, t.derivation_mark, t.lens):
        for row in writer.all(select(table.c.id).where(table.c.derivation_id == derivation.key)):
            writer.delete(table, row.id)
    writer.delete(t.derivation, derivation.key)


def keys_leaning_on_dimensions(look: Look, dimension_keys: Iterable[int]) -> set[int]:
    """Return the keys of the derivations that start from these sizes."""
    column = t.derivation_input.c.dimension_id
    return {
        row.derivation_id
        for chunk in in_chunks(look.pointed_at(dimension_keys, of=t.dimension, by=t.derivation_input))
        for row in look.all(select(t.derivation_input.c.derivation_id).where(column.in_(chunk)))
    }


def keys_resting_on_touched(writer: Writer) -> set[int]:
    """Return the keys of the derivations, as far as they are there, that rest on what this transaction has changed."""
    own = {row.row_id for row in writer.touched(t.derivation)}
    leaning = writer.touched(t.derivation_input, t.derivation_mark)
    own.update(side["derivation_id"] for row in leaning for side in row.sides)
    using = t.derivation_mark.c
    for chunk in in_chunks(row.row_id for row in writer.touched(t.mark)):
        by_mark = select(using.derivation_id).where(using.mark_id.in_(chunk))
        own.update(row.derivation_id for row in writer.all(by_mark))
    readings = {side.get("derived_by") for row in writer.touched(t.reading) for side in row.sides}
    for ids in in_chunks(readings - {None}):
        wanted = select(t.derivation.c.id).where(t.derivation.c.public_id.in_(ids))
        own.update(row.id for row in writer.all(wanted))
    for camera in {side["camera"] for row in writer.touched(t.lens) for side in row.sides}:
        own |= keys_by_camera(writer, camera)
    return {d.key for d in derivations_by_key(writer, own)}


def camera_of(photo: Photo) -> str:
    """Return whose lens it is: the camera's make and model, or the photo itself where it names none."""
    return " ".join(part for part in (photo.make, photo.model) if part) or photo.id


def keys_by_camera(look: Look, camera: str) -> set[int]:
    """Return the keys of the derivations from photos that this camera took."""
    columns = select(t.derivation.c.id, t.photo.c.make, t.photo.c.model, t.photo.c.public_id).join(
        t.photo, t.photo.c.id == t.derivation.c.photo_id
    )
    return {
        row.id
        for row in look.all(columns)
        if (" ".join(part for part in (row.make, row.model) if part) or row.public_id) == camera
    }


def keep_lens(writer: Writer, derivation: Derivation, facts: Mapping[str, Any]) -> None:
    """Keep the lens that a derivation found (columns of `lens`), in place of the one that it found before."""
    held = writer.value(select(t.lens.c.id).where(t.lens.c.derivation_id == derivation.key))
    if held is None:
        writer.insert(t.lens, derivation_id=derivation.key, **facts)
    else:
        writer.update(t.lens, held, **facts)


def lens_for(look: Look, photo: Photo) -> KeptLens | None:
    """Return the newest lens of the camera that took a photo, at its focal length and pixel size.

    One whose recipe no longer solves stays as it was last found.
    """
    focal = t.lens.c.focal_mm
    statement = (
        select(t.lens, t.derivation.c.public_id.label("derivation"))
        .join(t.derivation, t.derivation.c.id == t.lens.c.derivation_id)
        .where(
            t.lens.c.camera == camera_of(photo),
            t.lens.c.width == photo.stored_width,
            t.lens.c.height == photo.stored_height,
            focal.is_(None) if photo.focal_mm is None else focal == photo.focal_mm,
        )
        .order_by(t.lens.c.derivation_id.desc())
        .limit(1)
    )
    row = look.first(statement)
    if row is None:
        return None
    return KeptLens(
        derivation=row.derivation,
        camera=row.camera,
        focal_mm=row.focal_mm,
        width=row.width,
        height=row.height,
        model=row.model,
        strength=row.strength,
        off_x_px=row.off_x_px,
        off_y_px=row.off_y_px,
        norm_radius_px=row.norm_radius_px,
        factor=tuple(tuple(line) for line in row.factor),
    )


def _derivations(look: Look, *conditions: ColumnElement[bool]) -> list[Derivation]:
    statement = (
        select(t.derivation, t.photo.c.file.label("photo"))
        .outerjoin(t.photo, t.photo.c.id == t.derivation.c.photo_id)
        .where(*conditions)
        .order_by(t.derivation.c.id)
    )
    rows = look.all(statement)
    inputs: dict[int, dict[int, int | None]] = defaultdict(dict)
    for chunk in in_chunks(row.id for row in rows):
        links = select(t.derivation_input).where(t.derivation_input.c.derivation_id.in_(chunk))
        for link in look.all(links):
            inputs[link.derivation_id][link.number] = link.dimension_id
    return [_derivation(row, inputs[row.id]) for row in rows]


def _derivation(row: Row[Any], input_keys: Mapping[int, int | None]) -> Derivation:
    return Derivation(
        key=row.id,
        id=row.public_id,
        photo_key=row.photo_id,
        photo=row.photo,
        method=row.method,
        recipe=row.recipe,
        input_keys=input_keys,
        solved=row.solved,
        why=row.why,
        results=tuple(row.results),
    )
