"""Where the small pictures of the photos lie, and those that are there."""

from __future__ import annotations

import contextlib
from pathlib import Path

from archive.records.archive import Archive
from archive.records.things import Photo

PREVIEW_PX = 512
_JPEG_END = b"\xff\xd9"


def preview_path(archive: Archive, photo: Photo) -> Path:
    """Return where a photo's preview lies, whether it is there or not."""
    return _path_of(archive, photo.id)


def kept_preview(archive: Archive, photo_id: str) -> bytes | None:
    """Return the preview of the photo with this public id as JPEG, None where it is not there whole."""
    with contextlib.suppress(OSError):
        content = _path_of(archive, photo_id).read_bytes()
        if content.endswith(_JPEG_END):  # a pulled plug may leave an empty file
            return content
    return None


def _path_of(archive: Archive, photo_id: str) -> Path:
    return archive.folder / "previews" / photo_id[1:3] / f"{photo_id}.jpg"
