"""Words that stand nowhere in the archive: what they may be the beginning or a slip of."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import islice

from whoosh.support.levenshtein import distance

from archive.search import ranking
from archive.search.index.shelf import Shelf
from archive.search.query import Choice, side_by_side
from archive.search.words import is_piece_of_run, root

_MOST = 12  # words that one slip may stand for; the other words of the question decide among them
# Letters: nobody mistypes a longer word, and looking for its slips takes the square of its length.
_LONGEST = 60
_LONG = 8  # letters from which on a word that sounds but nearly alike may be meant


def beginning_with(shelves: Iterable[Shelf], typed: str) -> tuple[Choice, ...]:
    """Return the choice of what begins with the word typed, if anything does."""
    if len(typed) < 2 and not is_piece_of_run(typed):
        return ()
    if any(next(shelf.beginning_with(typed), None) for shelf in shelves):
        return (Choice((typed,), weight=ranking.BEGINNING, beginning=True),)
    return ()


def near_words(shelves: Sequence[Shelf], typed: str) -> tuple[Choice, ...]:
    """Return the words of the archive that the typed one may be a slip of, nearest first, or two that it runs together."""
    if len(typed) > _LONGEST:
        return ()
    slips: dict[str, float] = {}
    for form in {typed, root(typed)}:
        reach = _reach(form)
        for shelf in shelves if reach else ():
            near = set(shelf.within(form, reach))
            for word in near | (set(_sounding_like(shelf, form, 0)) if reach > 1 else set()):
                slips[word] = min(slips.get(word, 9.0), _slip(form, word))
    together = _run_together(shelves, typed)
    if not slips and not together and len(typed) >= _LONG:
        form = root(typed)
        slips = {word: _slip(form, word) for shelf in shelves for word in _sounding_like(shelf, form, 2)}
    best = sorted(slips, key=lambda word: (slips[word], word))
    choices = [Choice((word,), weight=1.0 / (1.0 + slips[word])) for word in islice(best, _MOST)]
    return (*choices, *together)


def _reach(form: str) -> int:
    """Return how many edits a word of this length may be away."""
    return 0 if len(form) < 3 or form.isdigit() else 1 if len(form) < 5 else 2


def _sounding_like(shelf: Shelf, form: str, edits: int) -> Iterator[str]:
    """Yield the words that sound alike but for some edits, however many letters are other ones: 'weybridge' for 'weighbridge'."""
    sound = _sound(form)
    for word in shelf.beginning_with(form[0]):
        other = _sound(word)
        if sound == other or (
            edits
            and abs(len(other) - len(sound)) <= edits
            and distance(sound, other, limit=edits + 1) <= edits
        ):
            yield word


def nearest_of(choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """Return those of the choices that are as good as the first."""
    return tuple(choice for choice in choices if choice.weight >= choices[0].weight - 1e-9)


def _slip(typed: str, word: str) -> float:
    """Return how great a slip makes `word` into what was typed: the edits, fewer for what sounds the same.

    A doubled letter missed, two letters swapped, one vowel for another and ph for f are what people
    write when they know the word by ear.
    """
    if _sound(typed) == _sound(word):
        return 0.5
    edits = float(distance(typed, word, limit=4))
    if edits == 2 and sorted(typed) == sorted(word):
        edits = 1.0
    return edits + (0.5 if typed[0] != word[0] else 0.0)


_SOUNDS = tuple(
    (re.compile(pattern), sound)
    for pattern, sound in (
        (r"ph", "f"),
        (r"gh|(?<=w)h", ""),
        (r"d?g(?=[eiy])", "j"),
        (r"ck|q|c(?![eiy])", "k"),
        (r"c", "s"),
        (r"(.)\1+", r"\1"),
        (r"(?<=.)[aeiouy]+", "a"),
        (r"a$", ""),
    )
)


@lru_cache(maxsize=50_000)
def _sound(word: str) -> str:
    """Return a word roughly as it sounds: which vowel, doubled letters and a silent ending left out."""
    for pattern, sound in _SOUNDS:
        word = pattern.sub(sound, word)
    return word


def _run_together(shelves: Sequence[Shelf], typed: str) -> list[Choice]:
    found = []
    for at in range(3, len(typed) - 2):
        choice = side_by_side((typed[:at], typed[at:]), weight=0.7)
        if all(any(shelf.frequency(part) for shelf in shelves) for part in choice.words):
            found.append(choice)
    return found[:2]
