"""What finding costs beside the bare library, bare SQL and SQLite's own full-text search of the same texts.

Every question is put to all of them in turn in one run, and never again: all are warm, no answer is. What is
compared are the medians over many questions of a sort.
"""

from __future__ import annotations

import json
import random
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter, thread_time
from typing import Any

from sqlalchemy import text
from whoosh import fields
from whoosh.analysis import StemmingAnalyzer
from whoosh.filedb.filestore import FileStorage
from whoosh.index import FileIndex
from whoosh.qparser import QueryParser

from archive.records.archive import Archive
from archive.records.finding.words import subject_words
from archive.search import find
from archive.search.documents import subject_document
from archive.search.kind_words import words_of_kinds

MOST = 20
MEMORY_MB = 256
WARMING_UP = 10  # questions


@dataclass
class Times:
    """Seconds that each took, by who was asked."""

    seconds: dict[str, list[float]] = field(default_factory=dict)

    def median_ms(self, who: str) -> float:
        return median(self.seconds[who]) * 1000

    def p95_ms(self, who: str) -> float:
        return quantiles(self.seconds[who], n=20)[-1] * 1000

    def ratio(self, who: str, beside: str) -> float:
        return self.median_ms(who) / self.median_ms(beside)


def asked_in_turns(questions: list[dict[str, Callable[[], Any]]]) -> Times:
    """Put every question to everybody but once, each time to another first; the first few only warm all up.

    Counted is the processor's time: none of them waits for anything, and what else the machine does is not theirs.
    """
    times = Times()
    for number, question in enumerate(questions):
        who_asks = list(question)
        first = number % len(who_asks)
        for who in who_asks[first:] + who_asks[:first]:
            begun = thread_time()
            question[who]()
            if number >= WARMING_UP or number >= len(questions) // 2:
                times.seconds.setdefault(who, []).append(thread_time() - begun)
    return times


def texts_of(archive: Archive) -> Iterator[tuple[str, str]]:
    """Yield what is written of every subject and every photo: an id and all its own words."""
    with archive.look() as look:
        kind_words = words_of_kinds(look)
        for subject in subject_words(look):
            own = replace(subject, captions=[], keywords=[], files=[], visits=[])
            yield (
                f"s{subject.key}",
                " ".join(part.text for part in subject_document(own, kind_words).texts).replace("|", " "),
            )
        for photo in look.all(text(PHOTOS)):
            yield (
                f"p{photo.id}",
                " ".join([photo.caption, *json.loads(photo.keywords), photo.file, photo.name]),
            )


class BareLibrary:
    """The library by itself, as its manual shows it: one text field with stemming, BM25F, the best 20."""

    def __init__(self, folder: Path, texts: list[tuple[str, str]]) -> None:
        folder.mkdir()
        schema = fields.Schema(key=fields.ID(stored=True), words=fields.TEXT(analyzer=StemmingAnalyzer()))
        index = FileIndex.create(FileStorage(str(folder)), schema, "bare")
        begun = perf_counter()
        writer = index.writer(limitmb=MEMORY_MB)
        for key, words in texts:
            writer.add_document(key=key, words=words)
        writer.commit()
        self.seconds = perf_counter() - begun
        self._searcher = index.searcher()
        self._parser = QueryParser("words", schema)

    def search(self, asked: str) -> list[str]:
        return [hit["key"] for hit in self._searcher.search(self._parser.parse(asked), limit=MOST)]

    def close(self) -> None:
        self._searcher.close()


class FullTextOfSqlite:
    """FTS5 with its own English stemming, by its own rank."""

    def __init__(self, file: Path, texts: list[tuple[str, str]]) -> None:
        self._connection = sqlite3.connect(file)
        self._connection.execute(
            "CREATE VIRTUAL TABLE t USING fts5(key UNINDEXED, words, tokenize='porter unicode61')"
        )
        self._connection.executemany("INSERT INTO t VALUES (?, ?)", texts)
        self._connection.commit()

    def search(self, asked: str) -> list[str]:
        ask = "SELECT key FROM t WHERE t MATCH ? ORDER BY rank LIMIT ?"
        return [row[0] for row in self._connection.execute(ask, (asked, MOST))]

    def close(self) -> None:
        self._connection.close()


PHOTOS = "SELECT photo.id, caption, keywords, file, name FROM photo JOIN visit ON visit.id = photo.visit_id"
BARE_RANGE = """
    SELECT subject.public_id, subject.name, estimate.value FROM estimate
    JOIN dimension ON dimension.id = estimate.dimension_id JOIN subject ON subject.id = dimension.subject_id
    WHERE dimension.label_key = :label AND estimate.low_95 <= :high AND estimate.high_95 >= :low
"""


@dataclass
class Study:
    """Everybody who is asked, over one archive."""

    archive: Archive
    library: BareLibrary
    sqlite: FullTextOfSqlite
    chance: random.Random
    words: list[list[str]]  # of some things, in order
    phrases_told: list[str]  # two words that stand side by side in some thing

    def word(self) -> str:
        return self.chance.choice([w for w in self.chance.choice(self.words) if len(w) > 3])

    def pair(self) -> list[str]:
        return self.chance.sample([w for w in self.chance.choice(self.words) if len(w) > 3], 2)

    def neighbours(self) -> list[str]:
        return self.chance.choice(self.phrases_told).split()

    def rows(self, label: str, low: float, high: float) -> list[Any]:
        with self.archive.look() as look:
            return list(look.all(text(BARE_RANGE), {"label": label, "low": low, "high": high}))

    def one_word(self, many: int) -> Times:
        return self._by_words([[self.word()] for _ in range(many)])

    def two_words(self, many: int) -> Times:
        return self._by_words([self.pair() for _ in range(many)])

    def _by_words(self, asked: list[list[str]]) -> Times:
        return asked_in_turns(
            [
                {
                    "ours": lambda q=words: find(self.archive, q),
                    "library": lambda q=words: self.library.search(q),
                    "sqlite": lambda q=words: self.sqlite.search(q),
                }
                for words in (" ".join(each) for each in asked)
            ]
        )

    def phrases(self, many: int) -> Times:
        return asked_in_turns(
            [
                {
                    "ours": lambda q=phrase: find(self.archive, q),
                    "library": lambda q=phrase: self.library.search(q),
                    "sqlite": lambda q=phrase: self.sqlite.search(q),
                }
                for phrase in (f'"{" ".join(self.neighbours())}"' for _ in range(many))
            ]
        )

    def beginnings(self, many: int) -> Times:
        return asked_in_turns(
            [
                {
                    "ours": lambda q=begun: find(self.archive, q, typing=True),
                    "library": lambda q=f"{begun}*": self.library.search(q),
                    "sqlite": lambda q=f"{begun}*": self.sqlite.search(q),
                }
                for begun in (self.word()[:4] for _ in range(many))
            ]
        )

    def sizes(self, many: int) -> Times:
        return asked_in_turns(
            [
                {
                    "ours": lambda q=f"{label} {low:.0f} to {high:.0f} mm": find(self.archive, sizes=[q]),
                    "rows": lambda q=(label, low, high): self.rows(*q),
                }
                for label, low, high in (self.a_range() for _ in range(many))
            ]
        )

    def a_range(self) -> tuple[str, float, float]:
        low = 10 ** self.chance.uniform(2, 4)
        return self.chance.choice(("overall height", "overall length", "post height")), low, low * 1.3

    def word_and_size(self, many: int) -> Times:
        asked = [(self.word(), *self.a_range()) for _ in range(many)]
        return asked_in_turns(
            [
                {
                    "ours": lambda q=word, s=f"{label} {low:.0f} to {high:.0f} mm": find(
                        self.archive, q, sizes=[s]
                    ),
                    "word alone": lambda q=word: find(self.archive, q),
                    "sqlite": lambda q=word: self.sqlite.search(f'"{q}"'),
                }
                for word, label, low, high in asked
            ]
        )

    def near_and_kind(self, many: int) -> Times:
        kinds = ("crane", "bollard", "hut", "wagon", "gate", "lamp")
        asked = []
        for _ in range(many):
            at = f"{self.chance.uniform(51, 55):.3f}, {self.chance.uniform(-4, 0.5):.3f}"
            asked.append((self.word(), at, self.chance.choice(kinds)))
        return asked_in_turns(
            [
                {
                    "ours": lambda q=word, a=at, k=kind: find(self.archive, q, near=(a, "20 km"), kind=k),
                    "without a word": lambda a=at, k=kind: find(self.archive, near=(a, "20 km"), kind=k),
                    "word alone": lambda q=word: find(self.archive, q),
                }
                for word, at, kind in asked
            ]
        )


@contextmanager
def study_of(archive: Archive, folder: Path, *, seed: int = 5) -> Iterator[Study]:
    """Put the archive's texts into the bare library and into FTS5 too."""
    texts = list(texts_of(archive))
    chance = random.Random(seed)
    told = [words.lower() for _, words in chance.sample(texts, 300)]
    words = [found for each in told if len(found := re.findall(r"\b[a-z]{2,}\b", each)) > 4]
    pairs = [pair for each in told for pair in re.findall(r"\b[a-z]{4,} [a-z]{4,}\b", each)]
    with (
        closing(BareLibrary(folder / "bare", texts)) as library,
        closing(FullTextOfSqlite(folder / "fts.db", texts)) as sqlite,
    ):
        find(archive, "crane")
        yield Study(archive, library, sqlite, chance, words, pairs)
