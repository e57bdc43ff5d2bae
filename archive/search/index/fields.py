"""How the library indexes a thing: each of its words once, with the weight that all its texts give it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from whoosh import columns, fields, formats

from archive.search import ranking
from archive.search.documents import Document, Text
from archive.search.words import as_compared, words_of

KEY, WORDS, TEXT = "key", "words", "text"  # the fields of every shelf
_KIND = "="
_APART = "|"  # between two texts, so that no phrase runs from one into the next


class WeightedWords(fields.FieldType):  # type: ignore[misc]
    """Takes a thing whole; each word weighs what the texts that hold it weigh together, and each of its kinds is one too."""

    def __init__(self) -> None:
        self.format = formats.Existence()
        self.analyzer = None
        self.scorable = True
        self.stored = False
        self.unique = False
        self.vector = None
        self.spelling = False
        self.multitoken_query = "phrase"
        self.column_type = None

    def index(self, value: Document, **_: Any) -> Iterator[tuple[bytes, int, float, bytes]]:
        """Yield each distinct word as bytes, how many texts hold it, its weight, and nothing of its places."""
        weights: dict[str, list[float]] = {}
        for weight, text, whole in value.texts:
            counts: dict[str, int] = {}
            for word, common in words_of(text):
                if whole or not common:
                    counts[word] = counts.get(word, 0) + 1
            for word, count in counts.items():
                weights.setdefault(word, []).append(weight * ranking.weight_of_repeats(count))
        for word, given in weights.items():
            yield word.encode(), len(given), sum(given), b""
        for kind in value.kinds:
            yield word_of_kind(kind).encode(), 1, ranking.KIND, b""

    def to_bytes(self, value: str | bytes) -> bytes:
        """Return a word as the index holds it."""
        return value if isinstance(value, bytes) else value.encode()

    def self_parsing(self) -> bool:
        """Tell the library that queries are made by us."""
        return False


def word_of_kind(kind_id: str) -> str:
    """Return the word that all things of a kind and of narrower ones hold, and that nobody can write."""
    return _KIND + kind_id


def is_of_kind(word: str) -> bool:
    """Tell whether a word of the index is that of a kind."""
    return word.startswith(_KIND)


def text_for_phrases(texts: Iterable[Text]) -> bytes:
    """Return all the texts of a thing as phrases are looked for in them."""
    pieces = (piece for text in texts for piece in text.text.split(_APART))
    return _APART.join(f" {as_compared(piece)} " for piece in pieces).encode()


def schema() -> fields.Schema:
    """Return the schema of every shelf of the index."""
    key = fields.NUMERIC(int, bits=64, unique=True, shift_step=0, sortable=True)
    text = fields.COLUMN(columns.VarBytesColumn())
    return fields.Schema(**{KEY: key, WORDS: WeightedWords(), TEXT: text})
