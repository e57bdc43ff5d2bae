"""The words of kinds, as subjects of the kind are found by them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from functools import cache, lru_cache

from archive.errors import SeveralMatch, UnknownKind
from archive.kinds import ROOT, Kind, Thesaurus, thesaurus
from archive.records.changes import Look
from archive.records.kinds import own_kinds
from archive.search.documents import KindWords
from archive.search.words import plain_words, root


def all_kinds(look: Look) -> Thesaurus:
    """Return the thesaurus with the person's own kinds."""
    return _thesaurus(own_kinds(look))


@lru_cache(maxsize=8)
def _thesaurus(own: tuple[Kind, ...]) -> Thesaurus:
    return thesaurus(own)


def words_of_kinds(look: Look) -> Callable[[str], KindWords]:
    """Return a function that gives what a kind (its id) is called and those above it, the root left out."""
    kinds = all_kinds(look)
    known = {kind.id for kind in kinds}

    @cache
    def words(kind_id: str) -> KindWords:
        if kind_id not in known:
            return KindWords((kind_id,), (), ())
        own = kinds.words(kind_id)
        above = [kind for kind in kinds.broader(kind_id) if kind.id != ROOT]
        broader = (word for kind in above for word in kind.words if word not in own)
        return KindWords(own, tuple(broader), (kind_id, *(kind.id for kind in above)))

    return words


@lru_cache(maxsize=8)
def kinds_used_for(kinds: Thesaurus) -> Mapping[str, tuple[str, ...]]:
    """Return, for each word as compared, the ids of the kinds that are used for it: 'lift' for cranes and hoists."""
    found: dict[str, list[str]] = defaultdict(list)
    for kind in kinds:
        for word in dict.fromkeys(root(word) for word in plain_words(kind.purpose)):
            found[word].append(kind.id)
    return {word: tuple(ids) for word, ids in found.items()}


@lru_cache(maxsize=256)
def kinds_meant(kinds: Thesaurus, asked: str) -> tuple[Kind, ...]:
    """Return every kind that the word names: 'truck' is a lorry, a wagon and a bogie. Raises `UnknownKind`."""
    try:
        return (kinds.find(asked),)
    except SeveralMatch as several:
        return tuple(kinds.find(name) for name in several.matches)


@lru_cache(maxsize=256)
def kinds_named(kinds: Thesaurus, asked: str) -> tuple[Kind, ...]:
    """Return every kind that the word names, written as one word or as several; or none."""
    try:
        return kinds_meant(kinds, asked)
    except UnknownKind:
        joined = "".join(plain_words(asked))
        return tuple(k for k in kinds if any("".join(plain_words(word)) == joined for word in k.words))


@lru_cache(maxsize=8)
def words_for_kinds(kinds: Thesaurus) -> frozenset[str]:
    """Return the single words that name a kind, as they are compared."""
    return frozenset(
        root(words[0]) for kind in kinds for word in kind.words if len(words := plain_words(word)) == 1
    )


def with_narrower(kinds: Thesaurus, meant: tuple[Kind, ...]) -> frozenset[str]:
    """Return the ids of these kinds and of all below them."""
    return frozenset(each.id for kind in meant for each in (kind, *kinds.narrower(kind)))
