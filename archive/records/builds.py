"""Builds: model projects, with the subjects they are made after."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from sqlalchemy import ColumnElement, select

from archive.errors import NameTaken, NotAccepted, RecordNotFound
from archive.records import subjects
from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import (
    clean_name,
    has_id_form,
    in_natural_order,
    name_key,
    near_names,
    new_public_id,
)
from archive.records.things import Build, Subject


def all_builds(look: Look) -> list[Build]:
    """Return every build by name."""
    return _builds(look)


def build_named(look: Look, asked: str) -> Build:
    """Return the build of this name or id; raises `RecordNotFound`."""
    matches = _builds(look, t.build.c.public_id == asked) if has_id_form(asked) else []
    matches = matches or _builds(look, t.build.c.name_key == name_key(asked))
    if not matches:
        names = [row.name for row in look.all(select(t.build.c.name))]
        raise RecordNotFound("build", asked, near_names(asked, names))
    return matches[0]


def add_build(
    writer: Writer,
    name: str,
    *,
    scale_as_written: str,
    ratio: Fraction,
    of: Sequence[Subject],
    process: str | None = None,
    tolerance_as_written: str | None = None,
    tolerance_mm: float | None = None,
    notes: str | None = None,
) -> Build:
    """Add a build of one or more subjects; `ratio` is prototype over model. Raises `NameTaken`."""
    name = clean_name(name)
    if not name:
        raise NotAccepted("A build needs a name", "Call it what you would call the model.")
    held = _builds(writer, t.build.c.name_key == name_key(name))
    if held:
        raise NameTaken("build", name, held[0].name)
    key = writer.insert(
        t.build,
        public_id=new_public_id("build"),
        name=name,
        name_key=name_key(name),
        scale_as_written=scale_as_written,
        ratio_numerator=ratio.numerator,
        ratio_denominator=ratio.denominator,
        process=process,
        tolerance_as_written=tolerance_as_written,
        tolerance_mm=tolerance_mm,
        notes=notes,
    )
    different = list(dict.fromkeys(s.key for s in of))
    writer.insert_all(t.build_subject, [{"build_id": key, "subject_id": s} for s in different])
    return build_named(writer, name)


def _builds(look: Look, *conditions: ColumnElement[bool]) -> list[Build]:
    rows = in_natural_order(look.all(select(t.build).where(*conditions)))
    return [
        Build(
            key=r.id,
            id=r.public_id,
            name=r.name,
            scale_as_written=r.scale_as_written,
            ratio=Fraction(r.ratio_numerator, r.ratio_denominator),
            process=r.process,
            tolerance_as_written=r.tolerance_as_written,
            tolerance_mm=r.tolerance_mm,
            notes=r.notes,
            subjects=tuple(subjects.subjects_of_build(look, r.id)),
        )
        for r in rows
    ]
