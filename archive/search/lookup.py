"""Looking words up in the index, forgivingly: exactly; then beginnings and slips; then the most of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from heapq import nlargest

from archive.kinds import Thesaurus
from archive.search import ranking, spelling
from archive.search.index import SHELVES, OpenIndex
from archive.search.kind_words import words_of_broader
from archive.search.query import Asked, Choice, Unit, asked_for, says_nothing, side_by_side
from archive.search.scoring import Scorer, Scores
from archive.search.shelf import Shelf
from archive.search.words import plain_words

_FEW = 1000  # things that words leave, of which conditions are sooner judged than of all


@dataclass(frozen=True, slots=True)
class Wanted:
    """How many of the best of a shelf to return, and which of its things may be among them (None: any).

    `keeping` gives the keys of those that may, among a few that it is given or among all. `every` asks for
    the keys of all that match too, whatever their score.
    """

    most: int
    keeping: Callable[[Collection[int] | None], Collection[int]] | None = None
    every: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """What the words found: for each shelf, keys with their scores, the best first."""

    shelves: Mapping[str, dict[int, float]]
    asked: Asked
    unknown: tuple[Unit, ...] = ()  # what stands nowhere, as it was typed
    replaced: tuple[Unit, ...] = ()  # what was looked for in place of it
    partly: bool = False  # nothing has all of it
    matching: Mapping[str, set[int]] = field(default_factory=dict)  # all that matches, where it was asked for

    def __bool__(self) -> bool:
        return any(self.shelves.values())


def look_up(
    index: OpenIndex,
    typed: str,
    wanted: Mapping[str, Wanted],
    kinds: Thesaurus,
    *,
    typing: bool = False,
) -> Found:
    """Return what the typed words find; with `typing` the last word may be the beginning of one."""
    shelves = [index.shelf(name) for name in SHELVES]

    def is_known(word: str) -> bool:
        return any(shelf.frequency(word) for shelf in shelves)

    asked = asked_for(typed, is_known)
    if not asked.units:
        return Found({}, asked)
    if typing:
        last = asked.units[-1]
        asked = Asked((*asked.units[:-1], last.also(spelling.beginning_with(shelves, last.typed))))
    unknown = tuple(unit for unit in asked.units if not _may_be_found(unit, is_known))
    if not unknown:
        found = _search(index, wanted, Found({}, asked))
        return found if found or len(asked.units) == 1 else _most_of(index, asked, wanted, (), ())
    meant = {unit: _meant(shelves, unit, kinds, is_known) for unit in unknown}
    for nearest in (True, False):
        mended = {
            unit: Unit(unit.typed, spelling.nearest_of(choices) if nearest else choices)
            for unit, choices in meant.items()
            if choices
        }
        replaced = tuple(mended.values())
        repaired = Asked(tuple(mended.get(u, u) for u in asked.units if u not in unknown or u in mended))
        if len(repaired.units) == len(asked.units):
            found = _search(index, wanted, Found({}, repaired, unknown, replaced))
            if found:
                return found
    if not repaired.units:
        return Found({}, asked, unknown)
    return _most_of(index, repaired, wanted, unknown, replaced)


def _most_of(
    index: OpenIndex,
    asked: Asked,
    wanted: Mapping[str, Wanted],
    unknown: tuple[Unit, ...],
    replaced: tuple[Unit, ...],
) -> Found:
    empty = Found({}, asked, unknown, replaced, partly=len(asked.units) > 1)
    return _search(index, wanted, empty)


def _may_be_found(unit: Unit, is_known: Callable[[str], bool]) -> bool:
    return any(choice.beginning or all(is_known(word) for word in choice.words) for choice in unit.choices)


def _meant(
    shelves: Sequence[Shelf], unit: Unit, kinds: Thesaurus, is_known: Callable[[str], bool]
) -> tuple[Choice, ...]:
    """Return what an unknown unit may have been meant to be, the likeliest first.

    The word of a kind that nothing here is of is no slip: its kin is shown, by the words of the broader kind.
    """
    if says_nothing(unit):
        return ()
    begun = spelling.beginning_with(shelves, unit.typed)
    return begun or _kin(kinds, unit, is_known) or spelling.near_words(shelves, unit.typed)


def _kin(kinds: Thesaurus, unit: Unit, is_known: Callable[[str], bool]) -> tuple[Choice, ...]:
    broader = (plain_words(words) for words in words_of_broader(kinds, unit.typed))
    choices = (side_by_side(words, ranking.KIN) for words in broader if words)
    return tuple(choice for choice in choices if all(is_known(word) for word in choice.words))


def _search(index: OpenIndex, wanted: Mapping[str, Wanted], empty: Found) -> Found:
    """Return what the question of an empty answer finds, put into it."""
    shelves: dict[str, dict[int, float]] = {}
    matching: dict[str, set[int]] = {}
    for name, want in wanted.items():
        shelf = index.shelf(name)
        scores = _scores(shelf, empty, want)
        best = _best(scores, want.most)
        shelves[name] = dict(zip(shelf.keys(best), (scores[number] for number in best), strict=True))
        matching[name] = set(shelf.keys(scores)) if want.every else set()
    return replace(empty, shelves=shelves, matching=matching)


def _scores(shelf: Shelf, question: Found, want: Wanted) -> Scores:
    """Return what is found and keeps to the conditions; of one word alone, it may be but the best."""
    if question.partly:
        return _kept(shelf, Scorer(shelf, ranking.SATURATION_OF_PART).most_of(question.asked), want)
    scorer, word = Scorer(shelf, ranking.SATURATION), question.asked.only_word
    if word is not None and not want.every:
        if want.keeping is None:
            return scorer.best_with(word, want.most)
        if shelf.frequency(word) > _FEW:
            return scorer.best_with(word, want.most, shelf.numbers(want.keeping(None)))
    return _kept(shelf, scorer.all_of(question.asked), want)


def _kept(shelf: Shelf, scores: Scores, want: Wanted) -> Scores:
    """Return those that keep to the conditions, which are judged of them alone where they are few."""
    if want.keeping is None:
        return scores
    if len(scores) <= _FEW:
        numbers = dict(zip(shelf.keys(scores), scores, strict=True))
        kept = {numbers[key] for key in want.keeping(numbers)}
    else:
        kept = shelf.numbers(want.keeping(None))
    return {number: score for number, score in scores.items() if number in kept}


def _best(scores: Scores, most: int) -> list[int]:
    """Return the numbers of the best, the best first; among equals the earliest."""
    least = min(nlargest(most, scores.values()), default=0.0)
    level = [number for number, score in scores.items() if score >= least]
    return sorted(level, key=lambda number: (-scores[number], number))[:most]
