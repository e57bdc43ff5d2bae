"""Small upright pictures of the photos, made at import and again whenever one is missing."""

from __future__ import annotations

import contextlib
from pathlib import Path

from archive import pictures
from archive.records import durable, originals
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


def preview_of(archive: Archive, photo: Photo) -> bytes:
    """Return a photo's preview as JPEG, made if it is not there; raises `PictureNotReadable`.

    Where the archive cannot be written it is made each time.
    """
    return kept_preview(archive, photo.id) or make_preview(archive, photo)


def _path_of(archive: Archive, photo_id: str) -> Path:
    return archive.folder / "previews" / photo_id[1:3] / f"{photo_id}.jpg"


def make_preview(archive: Archive, photo: Photo) -> bytes:
    """Make a photo's preview and keep it where the archive can be written; raises `PictureNotReadable`."""
    content: bytes = pictures.upright_preview(originals.picture_path(archive, photo), PREVIEW_PX)
    path = preview_path(archive, photo)
    with contextlib.suppress(OSError):  # a preview is never worth an error: it can be made again
        path.parent.mkdir(parents=True, exist_ok=True)
        part = durable.part_beside(archive.folder / "previews" / "x")  # where the next import sweeps
        part.write_bytes(content)
        part.replace(path)
    return content
