"""The words of kinds, as subjects of the kind are found by them."""

from __future__ import annotations

from functools import cache, lru_cache

from archive.errors import SeveralMatch, UnknownKind
from archive.kinds import ROOT, Kind, Thesaurus, thesaurus
from archive.records.changes import Look
from archive.records.kinds import own_kinds
from archive.search.documents import KindWords


def all_kinds(look: Look) -> Thesaurus:
    """Return the thesaurus with the person's own kinds."""
    return _thesaurus(own_kinds(look))


@lru_cache(maxsize=8)
def _thesaurus(own: tuple[Kind, ...]) -> Thesaurus:
    return thesaurus(own)


def words_of_kinds(look: Look) -> KindWords:
    """Return a function that gives a kind's own words and those of the kinds above it, the root left out."""
    kinds = all_kinds(look)
    known = {kind.id for kind in kinds}

    @cache
    def words(kind_id: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        if kind_id not in known:
            return (kind_id,), ()
        own = kinds.words(kind_id)
        above = [kind for kind in kinds.broader(kind_id) if kind.id != ROOT]
        return own, tuple(word for kind in above for word in kind.words if word not in own)

    return words


@lru_cache(maxsize=256)
def kinds_meant(kinds: Thesaurus, asked: str) -> tuple[Kind, ...]:
    """Return every kind that the word names: 'truck' is a lorry, a wagon and a bogie. Raises `UnknownKind`."""
    try:
        return (kinds.find(asked),)
    except SeveralMatch as several:
        return tuple(kinds.find(name) for name in several.matches)


@lru_cache(maxsize=256)
def words_of_broader(kinds: Thesaurus, typed: str) -> tuple[str, ...]:
    """Return what the next broader kinds are called, nearest first, where the word is that of a kind: all below them are kin."""
    try:
        meant = kinds_meant(kinds, typed)
    except UnknownKind:
        return ()
    above = [kind for each in meant for kind in kinds.broader(each) if kind.id != ROOT]
    return tuple(dict.fromkeys(word for kind in above for word in kind.words))


def with_narrower(kinds: Thesaurus, meant: tuple[Kind, ...]) -> frozenset[str]:
    """Return the ids of these kinds and of all below them."""
    return frozenset(each.id for kind in meant for each in (kind, *kinds.narrower(kind)))
