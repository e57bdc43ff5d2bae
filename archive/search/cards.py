"""What a search shows of subjects, and by what it orders those that are equally likely."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from archive.records.changes import Look
from archive.records.finding.cards import (
    PhotoCard,
    SubjectCard,
    coverage_of,
    photos_of_subjects,
    subject_cards,
)
from archive.records.finding.shots import Shot
from archive.search.ranking import coverage_boost
from archive.search.unchanged import WhileUnchanged
from archive.search.words import fold, plain_words, root

_BEST_VIEWS = ("three-quarter", "front", "right side", "left side", "rear", "overview")
_MOST_CARDS = 5000


class Cards(NamedTuple):
    """A subject and its photos, the fullest view first; `said` is what is said of each photo, folded."""

    subject: SubjectCard
    photos: Sequence[PhotoCard]
    said: Sequence[str]

    def best_first(self, typed: frozenset[str]) -> tuple[PhotoCard, ...]:
        """Return the photos, those first that the most of the typed words (their roots) are said of."""
        starts = {word[:3] for word in typed}
        has = [
            len(typed & {root(word) for word in plain_words(said)}) if any(s in said for s in starts) else 0
            for said in self.said
        ]
        if not any(has):
            return tuple(self.photos)
        order = sorted(range(len(has)), key=lambda n: -has[n])
        return tuple(self.photos[n] for n in order)


_cards: WhileUnchanged[int, Cards] = WhileUnchanged(_MOST_CARDS)
_boosts: WhileUnchanged[int, float] = WhileUnchanged(100_000)


def cards_of(look: Look, keys: Sequence[int], shot: Shot, stamp: object) -> dict[int, Cards]:
    """Return these subjects with their photos of a sort, by key; `stamp` is that of the newest change."""
    if shot:
        return _read(look, keys, shot)
    cards = _cards.kept(stamp)
    cards.update(_read(look, [key for key in keys if key not in cards], shot))
    return {key: cards[key] for key in keys if key in cards}


def _read(look: Look, keys: Sequence[int], shot: Shot) -> dict[int, Cards]:
    if not keys:
        return {}
    photos = photos_of_subjects(look, keys, shot)
    return {key: _laid_out(card, photos.get(key, [])) for key, card in subject_cards(look, keys).items()}


def _laid_out(subject: SubjectCard, photos: list[PhotoCard]) -> Cards:
    photos = sorted(photos, key=_view)
    return Cards(subject, photos, [fold(f"{photo.caption or ''} {photo.file}") for photo in photos])


def _view(photo: PhotoCard) -> int:
    return _BEST_VIEWS.index(photo.view) if photo.view in _BEST_VIEWS else len(_BEST_VIEWS)


def coverage_boosts(look: Look, keys: Collection[int], stamp: object) -> dict[int, float]:
    """Return by how much each subject weighs more for being well covered."""
    boosts = _boosts.kept(stamp)
    new = coverage_of(look, [key for key in keys if key not in boosts])
    boosts.update({key: coverage_boost(*covered) for key, covered in new.items()})
    return {key: boosts[key] for key in keys}
