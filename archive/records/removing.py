"""Taking photos out: their files go to `removed/` with their checksums, and are known there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select

from archive.records import folder as folders
from archive.records import tables as t
from archive.records.changes import Look, Row_, Writer
from archive.records.manifests import MANIFEST


def place_in_removed(look: Look, stored_path: str, taken: set[str]) -> str:
    """Return a free path under `removed/` for a file of a visit, and note it in `taken`."""
    inside = stored_path.split("/")[1:]
    place = "/".join(["removed", *inside[:-1]])
    held = {row.path_key for row in look.all(select(t.removed_file.c.path_key))} | taken
    names = {key.rpartition("/")[2] for key in held if key.rpartition("/")[0] == folders.path_key(place)}
    names.add(MANIFEST)
    path = f"{place}/{folders.free_name(inside[-1], names)}"
    taken.add(folders.path_key(path))
    return path


def removed_file_row(
    look: Look, photo: Mapping[str, Any], original: Mapping[str, Any], taken: set[str]
) -> Row_:
    """Return the row of `removed_file` for an original of a photo that is taken out."""
    path = place_in_removed(look, original["stored_path"], taken)
    return {
        "photo": photo["public_id"],
        "file": photo["file"],
        "role": original["role"],
        "stored_path": path,
        "path_key": folders.path_key(path),
        "sha256": original["sha256"],
        "bytes": original["bytes"],
    }


def files_that_would_be_lost(writer: Writer, wanted: Mapping[tuple[str, int], Row_ | None]) -> list[Row_]:
    """Return rows of `removed_file` for originals that go without any row saying where their file lies."""
    kept = {
        values["sha256"]
        for (name, _), values in wanted.items()
        if values is not None and name in (t.original.name, t.removed_file.name)
    }
    found, taken = [], set[str]()
    for (name, row_id), values in wanted.items():
        if name != t.original.name or values is not None:
            continue
        original = writer.row(t.original, row_id)
        if original is not None and original["sha256"] not in kept:
            photo = writer.row(t.photo, original["photo_id"])
            if photo is not None:
                found.append(removed_file_row(writer, photo, original, taken))
    return found
