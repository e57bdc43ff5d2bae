"""Films, voice notes and GPS tracks of a visit, kept beside its photos: a walk round a thing holds readings."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.folder import path_key
from archive.records.names import natural_key, new_public_id
from archive.records.things import Original, Visit, VisitFile


def visit_files_of(look: Look, visit: Visit) -> list[VisitFile]:
    """Return the visit's films and voice notes, by path."""
    rows = look.all(select(t.visit_file).where(t.visit_file.c.visit_id == visit.key))
    return [
        VisitFile(r.id, r.public_id, r.role, r.stored_path, r.name_as_found, r.sha256, r.bytes)
        for r in sorted(rows, key=lambda row: natural_key(row.stored_path))
    ]


def add_visit_files(writer: Writer, visit: Visit, files: Sequence[Original]) -> None:
    """Add films and voice notes to a visit; their files lie in their places already."""
    writer.insert_all(
        t.visit_file,
        [
            {
                "public_id": new_public_id("visit_file"),
                "visit_id": visit.key,
                "role": file.role,
                "stored_path": file.stored_path,
                "path_key": path_key(file.stored_path),
                "name_as_found": file.name_as_found,
                "sha256": file.sha256,
                "bytes": file.bytes,
            }
            for file in files
        ],
    )
