"""What a search shows of subjects, and by what it orders those that are equally likely."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from functools import partial
from typing import NamedTuple

from archive.records.changes import Look
from archive.records.finding.cards import (
    PhotoCard,
    SubjectCard,
    coverage_of,
    photo_cards,
    photos_of_subjects,
    subject_cards,
)
from archive.records.finding.shots import Shot
from archive.records.things import Visit
from archive.records.visits import visits_by_key
from archive.search.ranking import coverage_boost
from archive.search.unchanged import WhileUnchanged
from archive.search.words import fold, is_piece_of_run

_SIGNS = re.compile(r"[^\w\n]+")
_BEST_VIEWS = ("three-quarter", "front", "right side", "left side", "rear", "overview")
_VIEWS: dict[str | None, int] = {view: place for place, view in enumerate(_BEST_VIEWS)}


class Cards(NamedTuple):
    """A subject and its photos, the fullest view first; `said` is what is said of each photo, folded, in lines."""

    subject: SubjectCard
    photos: tuple[PhotoCard, ...]
    visits: tuple[str, ...]  # in order of time
    said: str

    def best_first(self, typed: frozenset[str]) -> tuple[PhotoCard, ...]:
        """Return the photos, those first that the most of the typed words, or words that begin like their roots, are said of."""
        starts = [word if is_piece_of_run(word) else f" {word}" for word in typed]
        if not any(start in self.said for start in starts):
            return self.photos
        has = [sum(start in line for start in starts) for line in self.said.split("\n")]
        order = sorted(range(len(has)), key=lambda number: -has[number])
        return tuple(self.photos[number] for number in order)


_cards: WhileUnchanged[int, Cards] = WhileUnchanged(5000)
_photos: WhileUnchanged[int, PhotoCard] = WhileUnchanged(5000)
_visits: WhileUnchanged[int, Visit] = WhileUnchanged(5000)
_boosts: WhileUnchanged[int, float] = WhileUnchanged(100_000)


def cards_of(look: Look, keys: Sequence[int], shot: Shot, stamp: object) -> dict[int, Cards]:
    """Return these subjects with their photos of a sort, by key; `stamp` is that of the newest change."""

    def read(keys: Sequence[int]) -> dict[int, Cards]:
        photos = photos_of_subjects(look, keys, shot)
        return {key: _laid_out(card, photos.get(key, [])) for key, card in subject_cards(look, keys).items()}

    return read(keys) if shot else _cards.of(stamp, keys, read)


def photos_shown(look: Look, keys: Sequence[int], stamp: object) -> tuple[PhotoCard, ...]:
    """Return these photos."""
    return tuple(_photos.of(stamp, keys, partial(photo_cards, look)).values())


def visits_shown(look: Look, keys: Sequence[int], stamp: object) -> tuple[Visit, ...]:
    """Return these visits, the earliest first."""
    found = _visits.of(stamp, keys, lambda new: {visit.key: visit for visit in visits_by_key(look, new)})
    return tuple(sorted(found.values(), key=lambda visit: (visit.first_day or "", visit.name)))


def _laid_out(subject: SubjectCard, photos: list[PhotoCard]) -> Cards:
    visits = tuple(dict.fromkeys(photo.visit for photo in photos))
    photos = sorted(photos, key=lambda photo: _VIEWS.get(photo.view, len(_VIEWS)))
    lines = (" ".join(f"{photo.caption or ''} {photo.file}".splitlines()) for photo in photos)
    said = _SIGNS.sub(" ", fold("\n".join(f" {line}" for line in lines)))
    return Cards(subject, tuple(photos), visits, said)


def coverage_boosts(look: Look, keys: Collection[int], stamp: object) -> dict[int, float]:
    """Return by how much each subject weighs more for being well covered."""

    def read(keys: Collection[int]) -> dict[int, float]:
        return {key: coverage_boost(*covered) for key, covered in coverage_of(look, keys).items()}

    return _boosts.of(stamp, keys, read)
