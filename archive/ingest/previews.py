"""Small upright pictures of the photos, made at import and again whenever one is missing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from archive import pictures
from archive.records import originals
from archive.records.archive import Archive
from archive.records.kept_previews import PREVIEW_PX, keep_picture, kept_preview, preview_path
from archive.records.things import Photo


@dataclass(frozen=True, slots=True)
class Drawn:
    """A picture made small, and its fingerprint."""

    jpeg: bytes
    fingerprint: str


def drawn(picture: Path, page: int = 0) -> Drawn:
    """Make a picture small, and see what it looks like; raises `PictureNotReadable`."""
    jpeg = pictures.upright_preview(picture, PREVIEW_PX, page)
    return Drawn(jpeg, pictures.fingerprint(jpeg))


def preview_of(archive: Archive, photo: Photo) -> bytes:
    """Return a photo's preview as JPEG, made if it is not there; raises `PictureNotReadable`.

    Where the archive cannot be written it is made each time.
    """
    return kept_preview(archive, photo.id) or make_preview(archive, photo)


def make_preview(archive: Archive, photo: Photo) -> bytes:
    """Make a photo's preview and keep it where the archive can be written; raises `PictureNotReadable` or `FileGone`."""
    path = originals.picture_there(archive, photo)
    content: bytes = pictures.upright_preview(path, PREVIEW_PX, photo.page_index)
    keep_preview(archive, photo, content)
    return content


def keep_preview(archive: Archive, photo: Photo, content: bytes) -> None:
    """Put a photo's preview where it is looked for, if the archive can be written."""
    keep_picture(archive, preview_path(archive, photo), content)
