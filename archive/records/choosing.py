"""Which photos are meant: names one by one, or a run from one to another."""

from __future__ import annotations

from collections.abc import Sequence

from archive.errors import NotAccepted
from archive.records import photos, visits
from archive.records.changes import Look
from archive.records.things import Photo


def photos_of_words(look: Look, words: Sequence[str]) -> list[Photo]:
    """Return the photos that the words name, each once: 'A', 'A B', 'A to B', or one word 'A to B'.

    Raises `RecordNotFound`, `SeveralMatch`, or `NotAccepted` for a run that is none.
    """
    parts = [part for word in words for part in _parted(look, word)]
    chosen: dict[int, Photo] = {}
    at = 0
    while at < len(parts):
        if at + 2 < len(parts) and parts[at + 1].casefold() == "to":
            found = photos_from_to(look, parts[at], parts[at + 2])
            at += 3
        else:
            found = [photos.photo_named(look, parts[at])]
            at += 1
        chosen.update((photo.key, photo) for photo in found)
    return list(chosen.values())


def photos_from_to(look: Look, first: str, last: str) -> list[Photo]:
    """Return the photos from one to another of the same visit and camera, by time taken, then name."""
    start, end = photos.photo_named(look, first), photos.photo_named(look, last)
    if start.visit_key != end.visit_key:
        raise NotAccepted(
            f"'{start.file}' is of the visit '{start.visit}' and '{end.file}' of '{end.visit}'",
            "A run of photos lies within one visit; name two runs.",
        )
    if _camera(start) != _camera(end):
        raise NotAccepted(
            f"'{start.file}' and '{end.file}' were taken with different cameras",
            "A run of photos is of one camera; name two runs.",
        )
    visit = visits.visits_by_key(look, [start.visit_key])[0]
    run = [photo for photo in photos.all_photos(look, visit=visit) if _camera(photo) == _camera(start)]
    keys = [photo.key for photo in run]
    begin, finish = keys.index(start.key), keys.index(end.key)
    if finish < begin:
        raise NotAccepted(f"'{start.file}' was taken after '{end.file}'", "Name the earlier one first.")
    return run[begin : finish + 1]


def _camera(photo: Photo) -> tuple[str | None, str | None]:
    return photo.make, photo.model


def _parted(look: Look, word: str) -> list[str]:
    """'A to B' in one word is a run, unless a photo has that very name."""
    first, separator, last = word.partition(" to ")
    if not separator or photos.has_photo(look, word):
        return [word]
    return [first.strip(), "to", last.strip()]
