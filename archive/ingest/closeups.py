"""Larger upright pictures for the screen: one that fills it, kept beside the preview, and tiles of the whole."""

from __future__ import annotations

import threading
from collections import OrderedDict
from pathlib import Path

from archive import pictures
from archive.pictures.closeup import Closeup, cut_out
from archive.records import originals
from archive.records.archive import Archive
from archive.records.kept_previews import PREVIEW_PX, keep_picture, kept_picture, preview_path
from archive.records.things import Photo, Region

SCREEN_PX = 2048


def screen_picture_path(archive: Archive, photo: Photo) -> Path:
    """Return where the picture that fills a screen lies, whether it is there or not."""
    return preview_path(archive, photo).with_suffix(".screen.jpg")


def screen_picture_of(archive: Archive, photo: Photo) -> bytes:
    """Return the picture that fills a screen as JPEG, made and kept if it is not there.

    Raises `PictureNotReadable` or `FileGone`. Where the archive cannot be written it is made each time.
    """
    path = screen_picture_path(archive, photo)
    content = kept_picture(path)
    if content is None:
        original = originals.picture_there(archive, photo)
        content = pictures.upright_preview(original, SCREEN_PX, photo.page_index)
        keep_picture(archive, path, content)
    return content


def part_of(archive: Archive, photo: Photo, region: Region) -> bytes:
    """Return what a photo shows within a region as a small JPEG, cut from the picture that fills a screen.

    Raises `PictureNotReadable` or `FileGone`.
    """
    wide, tall = photo.width or 1, photo.height or 1
    left, top = region.left_px / wide, region.top_px / tall
    box = (left, top, left + region.width_px / wide, top + region.height_px / tall)
    return cut_out(screen_picture_of(archive, photo), box, PREVIEW_PX)


class Closeups:
    """Keeps the pictures that were looked at last, whole, so that their tiles come at once.

    A picture of 50 megapixels takes 150 MB: `most` of them are kept.
    """

    def __init__(self, most: int = 2) -> None:
        self._most = most
        self._kept: OrderedDict[str, Closeup] = OrderedDict()
        self._decoding = threading.Lock()

    def tile(self, archive: Archive, photo: Photo, level: int, column: int, row: int) -> bytes | None:
        """Return a tile of the photo as `Closeup.tile` does; raises `PictureNotReadable`."""
        return self._of(archive, photo).tile(level, column, row)

    def _of(self, archive: Archive, photo: Photo) -> Closeup:
        with self._decoding:  # the tiles of one picture are asked for together: it is decoded once
            if photo.id not in self._kept:
                while len(self._kept) >= self._most:
                    self._kept.popitem(last=False)
                self._kept[photo.id] = Closeup(originals.picture_there(archive, photo), photo.page_index)
            self._kept.move_to_end(photo.id)
            return self._kept[photo.id]
