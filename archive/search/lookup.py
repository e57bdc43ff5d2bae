"""Looking words up in the index, forgivingly: exactly; then beginnings and slips; then the most of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace

from whoosh.query import Query
from whoosh.searching import Searcher

from archive.kinds import Thesaurus
from archive.search import ranking, spelling
from archive.search.index import SHELVES, OpenIndex
from archive.search.kind_words import words_of_broader
from archive.search.query import Asked, Choice, Unit, asked_for, says_nothing
from archive.search.weighting import BestOf
from archive.search.words import plain_words, root

_FIELD = "words"
_FEW = 1000  # things that words leave, of which conditions are sooner judged than of all


@dataclass(frozen=True, slots=True)
class Wanted:
    """How many of the best of a shelf to return, and which of its things may be among them (None: any).

    `keeping` gives the keys of those that may, among a few that it is given or among all. `every` asks for
    the keys of all that match too, whatever their score.
    """

    most: int
    keeping: Callable[[Collection[int] | None], set[int]] | None = None
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
    searchers = [index.searcher(shelf) for shelf in SHELVES]

    def is_known(word: str) -> bool:
        return any(searcher.doc_frequency(_FIELD, word) for searcher in searchers)

    asked = asked_for(typed, is_known)
    if not asked.units:
        return Found({}, asked)
    if typing:
        last = asked.units[-1]
        asked = Asked((*asked.units[:-1], last.also(spelling.beginning_with(searchers, last.typed))))
    unknown = tuple(unit for unit in asked.units if not _may_be_found(unit, is_known))
    if not unknown:
        found = _search(index, asked.all_of_it(), wanted, Found({}, asked))
        return found if found or len(asked.units) == 1 else _most_of(index, asked, wanted, (), ())
    meant = {unit: _meant(searchers, unit, kinds, is_known) for unit in unknown}
    for nearest in (True, False):
        mended = {
            unit: Unit(unit.typed, spelling.nearest_of(choices) if nearest else choices)
            for unit, choices in meant.items()
            if choices
        }
        replaced = tuple(mended.values())
        repaired = Asked(tuple(mended.get(u, u) for u in asked.units if u not in unknown or u in mended))
        if len(repaired.units) == len(asked.units):
            found = _search(index, repaired.all_of_it(), wanted, Found({}, repaired, unknown, replaced))
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
    return _search(index, asked.most_of_it(), wanted, empty, partly=True)


def _may_be_found(unit: Unit, is_known: Callable[[str], bool]) -> bool:
    return any(choice.beginning or all(is_known(word) for word in choice.words) for choice in unit.choices)


def _meant(
    searchers: list[Searcher], unit: Unit, kinds: Thesaurus, is_known: Callable[[str], bool]
) -> tuple[Choice, ...]:
    """Return what an unknown unit may have been meant to be, the likeliest first.

    The word of a kind that nothing here is of is no slip: its kin is shown, by the words of the broader kind.
    """
    if says_nothing(unit):
        return ()
    begun = spelling.beginning_with(searchers, unit.typed)
    return begun or _kin(kinds, unit, is_known) or spelling.near_words(searchers, unit.typed)


def _kin(kinds: Thesaurus, unit: Unit, is_known: Callable[[str], bool]) -> tuple[Choice, ...]:
    broader = (
        tuple(root(word) for word in plain_words(words)) for words in words_of_broader(kinds, unit.typed)
    )
    return tuple(
        Choice(words, together=True, weight=ranking.KIN)
        for words in broader
        if words and all(is_known(word) for word in words)
    )


def _search(
    index: OpenIndex, query: Query, wanted: Mapping[str, Wanted], empty: Found, *, partly: bool = False
) -> Found:
    """Return what the query finds, put into the empty answer.

    Where the words leave but a few, the conditions are judged of those; else of all.
    """
    shelves: dict[str, dict[int, float]] = {}
    matching: dict[str, set[int]] = {}
    for shelf, want in wanted.items():
        searcher = index.searcher(shelf, partly=partly)
        if want.keeping is not None and query.estimate_size(searcher.reader()) <= _FEW:
            scores = _scored(index, shelf, searcher, query, BestOf(_FEW, None))
            kept = want.keeping(scores)
            best = [key for key in scores if key in kept]
            shelves[shelf] = {key: scores[key] for key in best[: want.most]}
            matching[shelf] = set(best) if want.every else set()
            continue
        among = None if want.keeping is None else index.numbers(shelf, want.keeping(None))
        shelves[shelf] = _scored(index, shelf, searcher, query, BestOf(want.most, among))
        if want.every:
            numbers = [n for n in searcher.docs_for_query(query) if among is None or n in among]
            matching[shelf] = set(index.keys(shelf, numbers))
    return replace(empty, shelves=shelves, matching=matching)


def _scored(index: OpenIndex, shelf: str, searcher: Searcher, query: Query, best: BestOf) -> dict[int, float]:
    """Return the keys of what is found with their scores, the best first."""
    searcher.search_with_collector(query, best)
    top = best.results().top_n
    keys = index.keys(shelf, [number for _, number in top])
    return {key: score for key, (score, _) in zip(keys, top, strict=True)}
