"""What the person typed, as a question to the index. Nothing that can be typed is a fault.

There is no language to learn: every word counts, words in quotation marks stand together. Signs are
taken for spaces.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from archive.search import ranking
from archive.search.index.fields import word_of_kind
from archive.search.words import (
    as_compared,
    common_words,
    is_piece_of_run,
    other_words,
    pairs_of,
    plain_words,
    root,
)

MOST_WORDS = 24  # what is typed beyond says no more of what is looked for
_QUOTED = re.compile(r'["“”„«»]([^"“”„«»]*)["“”„«»]')


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to find a unit: these words as the index holds them, all of them somewhere."""

    words: tuple[str, ...]
    weight: float = 1.0
    beginning: bool = False  # anything that begins with the (only) word
    phrase: str = ""  # what must stand in one text, word for word
    kind: str = ""  # the id of the kind that it is, where it is no word


@dataclass(frozen=True, slots=True)
class Unit:
    """One thing that was asked for: what was typed, and the ways to find it, the person's own first."""

    typed: str
    choices: tuple[Choice, ...]

    def also(self, choices: Iterable[Choice]) -> Unit:
        """Return the unit with further ways to find it."""
        return replace(self, choices=(*self.choices, *(c for c in choices if c not in self.choices)))


@dataclass(frozen=True, slots=True)
class Asked:
    """A question: everything in it is asked for."""

    units: tuple[Unit, ...]

    @property
    def only_word(self) -> str | None:
        """The one word that the question is; None where it is more than that."""
        choices = [choice for unit in self.units for choice in unit.choices]
        plain = len(choices) == 1 and len(choices[0].words) == 1 and not choices[0].beginning
        return choices[0].words[0] if plain and choices[0].weight == 1 else None


def asked_for(typed: str, is_known: Callable[[str], bool]) -> Asked:
    """Return what the typed words ask for; `is_known` tells whether a word stands anywhere in the index."""
    units: list[Unit] = []
    rest = typed
    for quoted in _QUOTED.findall(typed):
        units += _quoted(quoted)
        rest = _QUOTED.sub(" ", rest, count=1)
    units += _loose(plain_words(rest)[: MOST_WORDS * 4], is_known)
    telling = [unit for unit in units if not says_nothing(unit)]
    once = {unit.choices[0]: unit for unit in telling or units}
    return Asked(tuple(once.values())[:MOST_WORDS])


def _quoted(text: str) -> list[Unit]:
    words = plain_words(text)
    return [Unit(text.strip(), (side_by_side(words),))] if words else []


def _loose(words: Sequence[str], is_known: Callable[[str], bool]) -> list[Unit]:
    units: list[Unit] = []
    at = 0
    crossings = other_words()
    while at < len(words):
        for length in (3, 2, 1):
            window = tuple(words[at : at + length])
            roots = tuple(root(word) for word in window)
            if len(window) == length and roots in crossings:
                others = (_other_words(other, in_place_of=roots) for other in crossings[roots])
                units.append(Unit(" ".join(window), (Choice(roots), *others)))
                break
            joined = root("".join(window))
            if length == 2 and len(window) == 2 and _may_join(window) and is_known(joined):
                units.append(Unit(" ".join(window), (Choice(roots), Choice((joined,)))))
                break
        else:
            units.append(_single(words[at]))
            length = 1
        at += length
    return units


def _other_words(words: tuple[str, ...], *, in_place_of: tuple[str, ...]) -> Choice:
    """Return what the other side of the Atlantic says, which counts for as many words as were typed."""
    return Choice(words, weight=ranking.OTHER_WORD * len(in_place_of) / len(words))


def _single(word: str) -> Unit:
    return Unit(word, (side_by_side([word]),))


def side_by_side(words: Sequence[str], weight: float = 1.0) -> Choice:
    """Return the choice of what has these plain words, one after the other."""
    telling = [word for word in words if word not in common_words()] or words
    pieces = tuple(piece for word in telling for piece in _pieces(word))
    if len(words) == len(pieces) == 1:
        return Choice(pieces, weight)
    start, end = ("" if is_piece_of_run(word) else " " for word in (words[0], words[-1]))
    return Choice(pieces, weight, phrase=f"{start}{as_compared(' '.join(words))}{end}")


def of_kind(kind_id: str, weight: float) -> Choice:
    """Return the choice of what is of a kind or of a narrower one."""
    return Choice((word_of_kind(kind_id),), weight, kind=kind_id)


def _pieces(word: str) -> tuple[str, ...]:
    """Return a word as the index holds it; an unspaced run as its overlapping pairs of letters."""
    return pairs_of(word) if is_piece_of_run(word) and len(word) > 1 else (root(word),)


def _may_join(window: Sequence[str]) -> bool:
    return all(word.isalpha() and not is_piece_of_run(word) for word in window)


def says_nothing(unit: Unit) -> bool:
    """Tell whether a unit is made of common words only."""
    return all(word in common_words() for word in plain_words(unit.typed))
