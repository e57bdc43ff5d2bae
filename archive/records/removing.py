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
    return _removed_row(look, photo["public_id"], photo["file"], original, taken)


def removed_visit_file_row(look: Look, file: Mapping[str, Any], taken: set[str]) -> Row_:
    """Return the row of `removed_file` for a film or voice note of a visit that is taken out."""
    return _removed_row(look, file["public_id"], file["stored_path"].rpartition("/")[2], file, taken)


def _removed_row(look: Look, of: str, file: str, original: Mapping[str, Any], taken: set[str]) -> Row_:
    path = place_in_removed(look, original["stored_path"], taken)
    return {
        "photo": of,
        "file": file,
        "role": original["role"],
        "stored_path": path,
        "path_key": folders.path_key(path),
        "sha256": original["sha256"],
        "bytes": original["bytes"],
    }


def sizes_in_removed(look: Look) -> set[int]:
    """Return how long, in bytes, the files are that lie in `removed/`."""
    return {row.bytes for row in look.all(select(t.removed_file.c.bytes))}


def files_that_would_be_lost(writer: Writer, wanted: Mapping[tuple[str, int], Row_ | None]) -> list[Row_]:
    """Return rows of `removed_file` for files that go without any row saying where they lie."""
    files = {table.name for table in t.ON_DISK}
    kept = {values["sha256"] for (name, _), values in wanted.items() if values is not None and name in files}
    found, taken = [], set[str]()
    held = {table.name: table for table in t.HELD}
    for (name, row_id), values in wanted.items():
        file = writer.row(held[name], row_id) if name in held and values is None else None
        if file is None or file["sha256"] in kept:
            continue
        if name == t.visit_file.name:
            found.append(removed_visit_file_row(writer, file, taken))
        elif photo := writer.row(t.photo, file["photo_id"]):
            found.append(removed_file_row(writer, photo, file, taken))
    return found
