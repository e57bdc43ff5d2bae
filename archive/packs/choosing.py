"""Which photos go into a pack, and in which order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from archive.packs.content import PackPhoto

MOST_PHOTOS: Final = 60  # a pack is carried to the bench; the archive holds the rest
VIEW_ORDER: Final = (
    "front",
    "rear",
    "left side",
    "right side",
    "three-quarter",
    "top",
    "underside",
    "overview",
    "detail",
    "inside",
)


def choose_photos(
    photos: Sequence[PackPhoto], subjects: Sequence[str], most: int = MOST_PHOTOS
) -> tuple[PackPhoto, ...]:
    """Return the photos in the order of the pack: by subject, by view, the best of each view first.

    The best shows nothing but the subject, unmirrored, with the most pixels; the earlier one decides
    between equals. Of more than `most` photos the best of every view go in before the second best.
    """
    by_view: dict[tuple[int, int], list[PackPhoto]] = defaultdict(list)
    for photo in photos:
        by_view[_subject_rank(photo, subjects), _view_rank(photo)].append(photo)
    ranked = [
        (place, view, photo)
        for view, alike in sorted(by_view.items())
        for place, photo in enumerate(sorted(alike, key=_better))
    ]
    chosen = sorted(ranked, key=lambda entry: entry[:2])[:most]
    return tuple(photo for _, _, photo in sorted(chosen, key=lambda entry: (entry[1], entry[0])))


def _subject_rank(photo: PackPhoto, subjects: Sequence[str]) -> int:
    return subjects.index(photo.main.subject)


def _view_rank(photo: PackPhoto) -> int:
    view = photo.main.view
    return VIEW_ORDER.index(view) if view in VIEW_ORDER else len(VIEW_ORDER)


def _better(photo: PackPhoto) -> tuple[int, bool, int, datetime, str]:
    taken = photo.taken or datetime.max
    pixels = (photo.width or 0) * (photo.height or 0)
    return len(photo.sightings), photo.main.mirrored, -pixels, taken, photo.name
