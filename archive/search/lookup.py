"""Looking words up in the index, forgivingly: exactly; then beginnings and slips; then the most of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from heapq import nlargest

from archive.kinds import ROOT, Thesaurus
from archive.search import ranking, spelling
from archive.search.index.opened import OpenIndex
from archive.search.index.shelf import Shelf
from archive.search.index.writing import SHELVES
from archive.search.kind_words import kinds_named, kinds_used_for, words_for_kinds
from archive.search.query import Asked, Choice, Unit, asked_for, of_kind, says_nothing
from archive.search.scoring import Scorer, Scores
from archive.search.words import plain_words, root

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
    by_use: bool = False  # nothing has all of it; what is used for all of it was looked for too
    partly: bool = False  # nothing has all of it; what has some was looked for
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

    asked = asked_for(typed, lambda word: is_known(word) or word in words_for_kinds(kinds))
    if not asked.units:
        return Found({}, asked)
    if typing:
        last = asked.units[-1]
        asked = Asked((*asked.units[:-1], last.also(spelling.beginning_with(shelves, last.typed))))
    unknown = tuple(unit for unit in asked.units if not _may_be_found(unit, is_known))
    question = Found({}, asked, unknown)
    if not unknown:
        found = _search(index, wanted, question)
        if found:
            return found
    else:
        meant = {unit: _meant(shelves, unit, kinds, is_known) for unit in unknown}
        for nearest in (True, False):
            question = _mended(asked, unknown, meant, nearest=nearest)
            if len(question.asked.units) == len(asked.units):
                found = _search(index, wanted, question)
                if found:
                    return found
    return _most_of(index, question, wanted, kinds, is_known)


def _mended(
    asked: Asked, unknown: tuple[Unit, ...], meant: Mapping[Unit, tuple[Choice, ...]], *, nearest: bool
) -> Found:
    """Return the question with what its unknown units may have been meant to be; what they may not be is left out."""
    mended = {
        unit: Unit(unit.typed, spelling.nearest_of(choices) if nearest else choices)
        for unit, choices in meant.items()
        if choices
    }
    units = tuple(mended.get(unit, unit) for unit in asked.units if unit not in unknown or unit in mended)
    return Found({}, Asked(units), unknown, tuple(mended.values()))


def _most_of(
    index: OpenIndex,
    question: Found,
    wanted: Mapping[str, Wanted],
    kinds: Thesaurus,
    is_known: Callable[[str], bool],
) -> Found:
    """Return what is used for all of what was said, where nothing has all of the words; else what has the most of them."""
    units = question.asked.units
    if not units:
        return question
    asked = Asked(tuple(unit.also(_used_for(kinds, unit, is_known)) for unit in units))
    if asked.units != units:
        found = _search(index, wanted, replace(question, asked=asked, by_use=True))
        if found:
            return found
    return _search(index, wanted, replace(question, asked=asked, partly=len(units) > 1))


def _may_be_found(unit: Unit, is_known: Callable[[str], bool]) -> bool:
    return any(choice.beginning or all(is_known(word) for word in choice.words) for choice in unit.choices)


def _meant(
    shelves: Sequence[Shelf], unit: Unit, kinds: Thesaurus, is_known: Callable[[str], bool]
) -> tuple[Choice, ...]:
    """Return what an unknown unit may have been meant to be, the likeliest first.

    The word of a kind that nothing here is of is no slip: its kin is shown. Nor is one that says what a thing is for.
    """
    if says_nothing(unit):
        return ()
    named = kinds_named(kinds, unit.typed)
    kin = (above.id for kind in named for above in kinds.broader(kind) if above.id != ROOT)
    return (
        _of_kinds(dict.fromkeys(kin), ranking.KIN, is_known)
        or _used_for(kinds, unit, is_known)
        or spelling.beginning_with(shelves, unit.typed)
        or (() if named else spelling.near_words(shelves, unit.typed))
    )


def _used_for(kinds: Thesaurus, unit: Unit, is_known: Callable[[str], bool]) -> tuple[Choice, ...]:
    """Return the kinds that are used for what a unit says."""
    uses = kinds_used_for(kinds)
    ids = (kind_id for word in plain_words(unit.typed) for kind_id in uses.get(root(word), ()))
    return _of_kinds(ids, ranking.PURPOSE, is_known)


def _of_kinds(ids: Iterable[str], weight: float, is_known: Callable[[str], bool]) -> tuple[Choice, ...]:
    choices = (of_kind(kind_id, weight) for kind_id in ids)
    return tuple(choice for choice in choices if is_known(choice.words[0]))


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
