"""How the library scores what it finds, and keeps the best: BM25 without the length of texts, which need not be looked up."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Container
from heapq import heappush, heapreplace
from typing import Any

from whoosh.codec.whoosh3 import W3LeafMatcher
from whoosh.collectors import TopCollector
from whoosh.scoring import BaseScorer, WeightingModel
from whoosh.searching import Searcher


class Saturating(WeightingModel):  # type: ignore[misc]
    """Rarer words count for more; each word's weight w counts as w (k + 1) / (w + k)."""

    def __init__(self, saturation: float) -> None:
        self._saturation = saturation

    def scorer(self, searcher: Any, fieldname: str, text: bytes, qf: float = 1) -> BaseScorer:  # noqa: ARG002
        """Return what scores one word."""
        known = searcher.term_info(fieldname, text)
        return _WordScorer(searcher.idf(fieldname, text), self._saturation, known.max_weight())


class _WordScorer(BaseScorer):  # type: ignore[misc]
    def __init__(self, rarity: float, saturation: float, most_weight: float) -> None:
        self._most = rarity * (saturation + 1)
        self._saturation = saturation
        self._best = self._counted(most_weight)

    def _counted(self, weight: float) -> float:
        return self._most * weight / (weight + self._saturation)

    def supports_block_quality(self) -> bool:
        return True

    def score(self, matcher: Any) -> float:
        weight = matcher.weight()
        return float(self._most * weight / (weight + self._saturation))

    def max_quality(self) -> float:
        return self._best

    def block_quality(self, matcher: Any) -> float:
        return self._counted(matcher.block_max_weight())


class _HalvingLeaf(W3LeafMatcher):  # type: ignore[misc]
    """One word's places, that skips to a document within a block by halving, where the library steps.

    Where several words must stand in one thing, most of the time goes into that stepping.
    """

    _i: int

    def skip_to(self, targetid: int) -> None:
        """Skip to this document, or to the next that has the word."""
        if targetid <= self.id():
            return
        if targetid > self._maxid:
            self._skip_to_block(lambda: targetid > self._maxid)
        if self.is_active():
            self.id()  # reads the block
            self._i = bisect_left(self._ids, targetid, self._i)


class QuickSearcher(Searcher):  # type: ignore[misc]
    """The library's searcher, over places that are skipped through quickly."""

    def postings(self, fieldname: str, text: bytes, weighting: Any = None, qf: float = 1) -> Any:
        """Return the places of a word, scored."""
        matcher = super().postings(fieldname, text, weighting=weighting, qf=qf)
        if type(matcher) is W3LeafMatcher:
            matcher.__class__ = _HalvingLeaf
        return matcher


class BestOf(TopCollector):  # type: ignore[misc]
    """Keeps the best few, of some documents or of all, and passes over blocks that hold nothing better.

    The library's own collector begins to pass over blocks only when a document has displaced another, which
    never happens among equals.
    """

    minscore: float

    def __init__(self, most: int, among: Container[int] | None) -> None:
        super().__init__(limit=most)
        self._among = among

    def collect_matches(self) -> None:
        """Collect the best of the matches that are among the documents wanted."""
        items, most, offset, among = self.items, self.limit, self.offset, self._among
        matcher = self.matcher.replace(self.minscore)
        new_block = True
        while matcher.is_active():
            if new_block and self.minscore:
                matcher = matcher.replace(self.minscore)
                if not matcher.is_active():
                    break
                if matcher.supports_block_quality():
                    matcher.skip_to_quality(self.minscore)
                    if not matcher.is_active():
                        break
            number = offset + matcher.id()
            if among is None or number in among:
                score = matcher.score()
                if len(items) < most:
                    heappush(items, (score, -number))
                elif score > items[0][0]:
                    heapreplace(items, (score, -number))
                if len(items) == most:
                    self.minscore = items[0][0]
            new_block = matcher.next()
