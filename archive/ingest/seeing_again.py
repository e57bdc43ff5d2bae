"""Photos that could hardly be shown when they came in, and can be now: a part that renders them was installed since."""

from __future__ import annotations

from collections.abc import Mapping

from archive.errors import PictureNotReadable
from archive.ingest import previews
from archive.ingest.report import Hint, ImportReport
from archive.pictures import PictureFacts
from archive.records import photos
from archive.records.archive import Archive
from archive.records.look_alikes import keep_fingerprints


def see_again(archive: Archive, found: Mapping[str, PictureFacts], report: ImportReport) -> None:
    """Note the size of pictures that were given again, by checksum, and make their previews, where more is seen now."""
    for sha256, facts in found.items():
        with archive.look() as look:
            photo = photos.photo_of_file(look, sha256)
        if any(sighting.region for sighting in photo.sightings):
            continue  # like marks, regions lie on the picture as it was shown
        try:
            drawn = previews.drawn(archive.path_of(photo.picture.stored_path))
        except PictureNotReadable:
            continue
        with archive.change(f"Showed {photo.file} better than before") as writer:
            photos.show_at(writer, photo, facts)
            keep_fingerprints(writer, {photo.key: drawn.fingerprint}, anew=True)
        previews.keep_preview(archive, photo, drawn.jpeg)
        message = "It is held already, and can be shown better now than when it came in; it is."
        report.hints.append(Hint(photo.file, "shown-better", message))
