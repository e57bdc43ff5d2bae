"""Which things of a shelf a question finds, and how well each answers it: BM25 without the length of texts.

A word counts for the more the rarer it is, and each word's weight w in a thing counts as w (k + 1) / (w + k);
what the weights are is in `ranking`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from math import log

from archive.search.index.shelf import Shelf
from archive.search.query import Asked, Choice, Unit

Scores = dict[int, float]  # by a thing's number on the shelf

_EACH_MORE = 0.01  # for each further word of those asked for


@dataclass(frozen=True, slots=True)
class Scorer:
    """Scores the things of one shelf; at the weight `saturation` a word counts for half of the most that it can."""

    shelf: Shelf
    saturation: float

    def all_of(self, asked: Asked) -> Scores:
        """Return what has every unit of a question; the rarest is looked up first, and the others only where it is."""
        scores: Scores | None = None
        for unit in sorted(asked.units, key=self._most_found):
            found = self._unit(unit, scores)
            scores = found if scores is None else {n: scores[n] + score for n, score in found.items()}
        return scores or {}

    def most_of(self, asked: Asked) -> Scores:
        """Return what has any unit of a question; that it has many of them counts a little more than their sum."""
        scores: Scores = {}
        for unit in asked.units:
            for number, score in self._unit(unit, None).items():
                scores[number] = scores[number] + score + _EACH_MORE if number in scores else score
        return scores

    def best_with(self, word: str, most: int, among: Collection[int] | None = None) -> Scores:
        """Return the best that hold one word, of some things or of all; blocks that hold nothing better are not read."""
        best: list[tuple[float, int]] = []

        def enough() -> float:
            return best[-1][0] if len(best) == most else 0.0

        for numbers, weights in self.shelf.blocks(word, above=enough):
            least = enough()
            better = [
                (weight, -number)
                for number, weight in zip(numbers, weights, strict=True)
                if weight > least and (among is None or number in among)
            ]
            if better:
                best = sorted(best + better, reverse=True)[:most]
        return self._scored({-number: weight for weight, number in best}, self.shelf.frequency(word))

    def _most_found(self, unit: Unit) -> int:
        """Return a number that no more things than have a unit."""
        return sum(
            len(self.shelf) if choice.beginning else min(map(self.shelf.frequency, choice.words))
            for choice in unit.choices
        )

    def _unit(self, unit: Unit, among: Scores | None) -> Scores:
        """Return what has a unit, scored by the choice that suits it best; of some things or of all."""
        best, *others = (self._choice(choice, among) for choice in unit.choices)
        for other in others:
            for number, score in other.items():
                if score > best.get(number, 0.0):
                    best[number] = score
        return best

    def _choice(self, choice: Choice, among: Scores | None) -> Scores:
        if choice.beginning:
            return self._beginning(choice, among)
        scores: Scores | None = None
        for word in sorted(choice.words, key=self.shelf.frequency):
            found = self._word(word, among if scores is None else scores, choice.weight)
            scores = found if scores is None else {n: scores[n] + score for n, score in found.items()}
        if choice.phrase and scores:
            phrase = choice.phrase.encode()
            scores = {n: score for n, score in scores.items() if phrase in self.shelf.text(n)}
        return scores or {}

    def _word(self, word: str, among: Scores | None, boost: float) -> Scores:
        weights: dict[int, float] = {}
        for block in self.shelf.blocks(word, among):
            found = zip(block.numbers, block.weights, strict=True)
            weights.update(found if among is None else ((n, w) for n, w in found if n in among))
        return self._scored(weights, self.shelf.frequency(word), boost)

    def _beginning(self, choice: Choice, among: Scores | None) -> Scores:
        """Return what holds a word that begins so, all of them taken for one word."""
        weights: dict[int, float] = {}
        for word in self.shelf.beginning_with(choice.words[0]):
            for block in self.shelf.blocks(word, among):
                for number, weight in zip(block.numbers, block.weights, strict=True):
                    if weight > weights.get(number, 0.0) and (among is None or number in among):
                        weights[number] = weight
        return self._scored(weights, len(weights), choice.weight)

    def _scored(self, weights: dict[int, float], frequency: int, boost: float = 1.0) -> Scores:
        k = self.saturation
        rarity = log(max(len(self.shelf), 1) / (frequency + 1)) + 1
        most = rarity * (k + 1) * boost
        return {number: most * weight / (weight + k) for number, weight in weights.items()}
