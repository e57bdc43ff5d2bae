"""Words that stand nowhere in the archive: what they may be the beginning or a slip of."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice

from whoosh.searching import Searcher
from whoosh.support.levenshtein import distance

from archive.search import ranking
from archive.search.query import Choice
from archive.search.words import is_piece_of_run, root

_FIELD = "words"
_MOST = 12  # words that one slip may stand for; the other words of the question decide among them
_MOST_BEGINNINGS = 40


def beginning_with(searchers: Iterable[Searcher], typed: str) -> tuple[Choice, ...]:
    """Return the choice of what begins with the word typed, if anything does."""
    if len(typed) < 2 and not is_piece_of_run(typed):
        return ()
    for searcher in searchers:
        if next(iter(searcher.reader().expand_prefix(_FIELD, typed)), None) is not None:
            return (Choice((typed,), weight=ranking.BEGINNING, beginning=True),)
    return ()


def near_words(searchers: Iterable[Searcher], typed: str) -> tuple[Choice, ...]:
    """Return the words of the archive that the typed one may be a slip of, or two that it runs together."""
    searchers = list(searchers)
    reach = 0 if len(typed) < 3 or typed.isdigit() else 1 if len(typed) < 5 else 2
    asked = {typed, root(typed)}
    nearness: dict[str, float] = {}
    for searcher in searchers:
        for leaf, _ in searcher.reader().leaf_readers():
            for form in asked if reach else ():
                for word in leaf.terms_within(_FIELD, form, reach):
                    nearness[word] = min(nearness.get(word, 9.0), _slip(form, word))
    best = sorted(nearness, key=lambda word: (nearness[word], word))
    choices = [Choice((word,), weight=1.0 / (1.0 + nearness[word])) for word in islice(best, _MOST)]
    return (*choices, *_run_together(searchers, typed))


def _slip(typed: str, word: str) -> float:
    """Return how great a slip makes `word` into what was typed: edits, two swapped letters counting as one."""
    edits = float(distance(typed, word, limit=3))
    if edits == 2 and len(typed) == len(word) and sorted(typed) == sorted(word):
        edits = 1.0
    return edits + (0.5 if typed[0] != word[0] else 0.0)


def _run_together(searchers: list[Searcher], typed: str) -> list[Choice]:
    found = []
    for at in range(3, len(typed) - 2):
        parts = (root(typed[:at]), root(typed[at:]))
        if all(any(s.doc_frequency(_FIELD, part) for s in searchers) for part in parts):
            found.append(Choice(parts, together=True, weight=0.7))
    return found[:2]
