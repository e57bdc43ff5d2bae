"""One shelf of the index, to be read: the words that stand on it, the things that hold each, and their keys.

Things have numbers here, from 0 on. The library keeps those that hold a word in blocks of 128, by number, each
with the greatest weight that the word has in it; blocks are read whole, for one by one takes many times as long.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import suppress
from itertools import accumulate, compress
from typing import Any, NamedTuple

from whoosh.codec.whoosh3 import W3LeafMatcher
from whoosh.filedb.filestore import FileStorage
from whoosh.index import TOC, FileIndex
from whoosh.matching.wrappers import FilterMatcher
from whoosh.reading import IndexReader, MultiReader, SegmentReader, TermNotFound

from archive.search.index.fields import KEY, TEXT, WORDS, is_of_kind, schema

_FEW_WANTED = 500  # numbers; of more most blocks hold some
_MANY_KEYS = 200  # from so many on, reading every key is faster


class Block(NamedTuple):
    """Some things that hold a word: their numbers, and what the word weighs in each."""

    numbers: Sequence[int]
    weights: Sequence[float]


class Shelf:
    """A shelf as it was when it was opened."""

    def __init__(
        self, index: FileIndex, known_keys: dict[str, list[int]], reader: IndexReader | None = None
    ) -> None:
        """`known_keys` are the keys of segments that were read already, which never change; more are added to them."""
        self._index = index
        self.reader: IndexReader = reader or index.reader()
        self._leaves: list[tuple[IndexReader, int]] = [
            (leaf, offset) for leaf, offset in self.reader.leaf_readers() if leaf.doc_count_all()
        ]
        self._known_keys = known_keys
        self._columns: dict[str, Any] = {}
        self._every_key: list[int] = []
        self._numbers: dict[int, int] = {}

    def __len__(self) -> int:
        return int(self.reader.doc_count_all())

    def frequency(self, word: str) -> int:
        """Return how many things hold a word."""
        return sum(leaf.doc_frequency(WORDS, word) for leaf, _ in self._leaves)

    def beginning_with(self, start: str) -> Iterator[str]:
        """Yield the words that begin so."""
        return (word.decode() for word in self.reader.expand_prefix(WORDS, start))

    def within(self, word: str, edits: int) -> Iterator[str]:
        """Yield the words that are no more than so many edits from this one."""
        for leaf, _ in self._leaves:
            yield from (near for near in leaf.terms_within(WORDS, word, edits) if not is_of_kind(near))

    def blocks(
        self, word: str, among: Collection[int] | None = None, above: Callable[[], float] = lambda: 0.0
    ) -> Iterator[Block]:
        """Yield the things that hold a word; where `among` are few, no block that holds none of these numbers.

        `above` is asked at each block for a weight; one that holds no greater weight is passed over.
        """
        wanted = sorted(among) if among is not None and len(among) < _FEW_WANTED else None
        for leaf, offset in self._leaves:
            try:
                held = leaf.postings(WORDS, word)
            except TermNotFound:
                continue
            gone = leaf.deleted_docs_set
            for block in _blocks(
                held.child if isinstance(held, FilterMatcher) else held, offset, wanted, above
            ):
                yield _without(block, {offset + number for number in gone}) if gone else block

    def keys(self, numbers: Collection[int]) -> list[int]:
        """Return the keys of the things that have these numbers."""
        if self._every_key or len(numbers) > _MANY_KEYS:
            every = self._all_keys()
            return [every[number] for number in numbers]
        column = self._column(KEY) if numbers else {}
        return [column[number] for number in numbers]

    def text(self, number: int) -> bytes:
        """Return the text of a thing as phrases are looked for in it."""
        return bytes(self._column(TEXT)[number])

    def _column(self, name: str) -> Any:
        if name not in self._columns:
            self._columns[name] = self.reader.column_reader(name)
        return self._columns[name]

    def numbers(self, keys: Iterable[int]) -> set[int]:
        """Return the numbers of those of these things that stand here."""
        if not self._numbers:
            self._numbers = {key: number for number, key in enumerate(self._all_keys())}
        return {self._numbers[key] for key in keys if key in self._numbers}

    def _all_keys(self) -> list[int]:
        if not self._every_key:
            for leaf, _ in self._leaves:
                segment = leaf.segment().segment_id()
                if segment not in self._known_keys:
                    self._known_keys[segment] = leaf.column_reader(KEY).load()
                self._every_key += self._known_keys[segment]
        return self._every_key

    def renewed(self) -> Shelf:
        """Return the shelf as it is now; of its segments only those that are new or changed are opened.

        To map a large one anew takes longer than all else that follows from one more photo.
        """
        newest = TOC.read(self._index.storage, self._index.indexname, schema=self._index.schema)
        if newest.generation == self.reader.generation():
            return self
        held = {leaf.segment().segment_id(): leaf for leaf, _ in self._leaves}
        leaves: list[IndexReader] = []
        for segment in newest.segments:
            leaf = held.get(segment.segment_id())
            if leaf is None or leaf.deleted_docs_set != frozenset(segment.deleted_docs()):
                leaf = SegmentReader(self._index.storage, self._index.schema, segment, newest.generation)
            leaves.append(leaf)
        for leaf in held.values():
            if leaf not in leaves:
                leaf.close()
        reader = MultiReader(leaves, newest.generation) if leaves else None
        return Shelf(self._index, self._known_keys, reader)

    def close(self) -> None:
        """Let go of the shelf's files."""
        self.reader.close()


def _blocks(
    held: Any, offset: int, wanted: Sequence[int] | None, above: Callable[[], float]
) -> Iterator[Block]:
    if not isinstance(held, W3LeafMatcher):  # a word of one thing alone, which is kept beside the word
        yield Block([offset + number for number in held._ids], held._weights)
        return
    passed = 0  # wanted numbers that lie before the block
    while held.is_active():
        here = bisect_right(wanted, offset + held.block_max_id()) if wanted is not None else passed + 1
        if here > passed and held.block_max_weight() > above():
            held._read_weights()
            numbers = accumulate(held._data[0])
            yield Block([offset + n for n in numbers] if offset else list(numbers), held._weights)
        passed = here if wanted is not None else passed
        held._next_block()


def _without(block: Block, gone: Collection[int]) -> Block:
    stays = [number not in gone for number in block.numbers]
    return Block(list(compress(block.numbers, stays)), list(compress(block.weights, stays)))


def numbers_of(reader: IndexReader, keys: Iterable[int]) -> Iterator[int]:
    """Yield the numbers of the things that have these keys, looked up one by one."""
    for key in keys:
        with suppress(TermNotFound):
            yield from reader.postings(KEY, key).all_ids()


def open_shelf(folder: str, name: str, known_keys: dict[str, list[int]]) -> Shelf:
    """Open a shelf of the index in this folder."""
    return Shelf(FileIndex(FileStorage(folder), schema=schema(), indexname=name), known_keys)
