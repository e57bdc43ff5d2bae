"""Where the small pictures of the photos lie: those that are there, and how one is put there."""

from __future__ import annotations

import contextlib
from pathlib import Path

from archive.records import durable
from archive.records.archive import Archive
from archive.records.things import Photo

PREVIEW_PX = 512
_JPEG_END = b"\xff\xd9"


def preview_path(archive: Archive, photo: Photo) -> Path:
    """Return where a photo's preview lies, whether it is there or not."""
    return _path_of(archive, photo.id)


def kept_preview(archive: Archive, photo_id: str) -> bytes | None:
    """Return the preview of the photo with this public id as JPEG, None where it is not there whole."""
    return kept_picture(_path_of(archive, photo_id))


def kept_picture(path: Path) -> bytes | None:
    """Return a made picture, None where it is not there whole."""
    with contextlib.suppress(OSError):
        content = path.read_bytes()
        if content.endswith(_JPEG_END):  # a pulled plug may leave an empty file
            return content
    return None


def keep_picture(archive: Archive, path: Path, content: bytes) -> None:
    """Put a made picture where it is looked for, if the disk takes it: it is never worth an error, for it can be made again."""
    part = durable.part_beside(archive.folder / "previews" / "x")  # where the next import sweeps
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(content)
        part.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _path_of(archive: Archive, photo_id: str) -> Path:
    return archive.folder / "previews" / photo_id[1:3] / f"{photo_id}.jpg"
