"""What a search shows of subjects, kept while nothing changes: who types a word goes over the same subjects at every letter."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import NamedTuple

from archive.records import finding as records
from archive.records.changes import Look
from archive.records.finding import PhotoCard, Shot, SubjectCard

_MOST = 5000  # subjects; beyond, all are let go of


class Cards(NamedTuple):
    """A subject and its photos, in order of time taken."""

    subject: SubjectCard
    photos: Sequence[PhotoCard]


_kept = threading.local()


def cards_of(look: Look, keys: Sequence[int], shot: Shot, stamp: object) -> dict[int, Cards]:
    """Return these subjects with their photos of a sort, by key; `stamp` is that of the newest change."""
    if shot:
        return _read(look, keys, shot)
    if getattr(_kept, "stamp", None) != stamp or len(_kept.cards) > _MOST:
        _kept.stamp, _kept.cards = stamp, {}
    cards: dict[int, Cards] = _kept.cards
    cards.update(_read(look, [key for key in keys if key not in cards], shot))
    return {key: cards[key] for key in keys if key in cards}


def _read(look: Look, keys: Sequence[int], shot: Shot) -> dict[int, Cards]:
    if not keys:
        return {}
    photos = records.photos_of_subjects(look, keys, shot)
    return {key: Cards(card, photos.get(key, ())) for key, card in records.subject_cards(look, keys).items()}
