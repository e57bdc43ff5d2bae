"""What the index is made of: one field of weighted words, and the key of the thing they belong to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from whoosh import fields, formats

from archive.search import ranking
from archive.search.documents import Text
from archive.search.words import words_of

_GAP = 16  # positions between two texts, so that no phrase runs from one into the next


class WeightedWords(fields.FieldType):  # type: ignore[misc]
    """Takes a thing's texts whole; each word weighs what the texts that hold it weigh together."""

    def __init__(self) -> None:
        self.format = formats.Positions()
        self.analyzer = None
        self.scorable = True
        self.stored = False
        self.unique = False
        self.vector = None
        self.spelling = False
        self.multitoken_query = "phrase"
        self.column_type = None

    def index(self, value: Sequence[Text], **_: Any) -> Iterator[tuple[bytes, int, float, bytes]]:
        """Yield each distinct word as bytes, how often it stands there, its weight, and its positions."""
        places: dict[str, list[int]] = {}
        weights: dict[str, float] = {}
        start = 0
        for weight, text, whole in value:
            position = -1
            seen: dict[str, int] = {}
            for word in words_of(text):
                position = word.position
                if whole or not word.common:
                    places.setdefault(word.text, []).append(start + position)
                    seen[word.text] = seen.get(word.text, 0) + 1
            for name, count in seen.items():
                weights[name] = weights.get(name, 0.0) + weight * ranking.weight_of_repeats(count)
            start += position + 1 + _GAP
        for name, where in places.items():
            yield name.encode(), len(where), weights[name], self.format.encode(where)

    def to_bytes(self, value: str | bytes) -> bytes:
        """Return a word as the index holds it."""
        return value if isinstance(value, bytes) else value.encode()

    def self_parsing(self) -> bool:
        """Tell the library that queries are made by us."""
        return False


def schema() -> fields.Schema:
    """Return the schema of every shelf of the index."""
    key = fields.NUMERIC(int, bits=64, unique=True, shift_step=0, sortable=True)
    return fields.Schema(key=key, words=WeightedWords())
