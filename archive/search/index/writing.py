"""Writing the shelves of an index: all that the records hold, or what has changed."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import closing, nullcontext
from pathlib import Path
from typing import Any

from whoosh.codec.whoosh3 import W3Codec
from whoosh.filedb.filestore import FileStorage
from whoosh.index import FileIndex

from archive.records.changes import Look
from archive.records.finding.stale import Stale
from archive.records.finding.words import loose_photo_words, subject_words, visit_words
from archive.search.documents import Document, photo_document, subject_document, visit_document
from archive.search.index.fields import schema, text_for_phrases
from archive.search.index.opened import OpenIndex
from archive.search.index.shelf import numbers_of
from archive.search.kind_words import words_of_kinds

SHELVES = ("subjects", "photos", "visits")
_MEMORY_MB = 256


def fill(folder: Path, look: Look) -> None:
    """Put all that the records hold into a new folder."""
    folder.mkdir()
    for shelf, documents in zip(SHELVES, _documents(look), strict=True):
        index = FileIndex.create(FileStorage(str(folder)), schema(), shelf)
        with _writer(index, limitmb=_MEMORY_MB) as writer:
            for document in documents:
                _add(writer, document)


def replace(folder: Path, look: Look, stale: Stale, held: OpenIndex | None, *, wait_seconds: float) -> None:
    """Put what is stale anew; `held` is the index as it is, where it is open already."""
    sets = (stale.subjects, stale.photos, stale.visits)
    for shelf, keys, documents in zip(SHELVES, sets, _documents(look, *sets), strict=True):
        if not keys:
            continue
        index = FileIndex(FileStorage(str(folder)), schema=schema(), indexname=shelf)
        with _writer(index, timeout=wait_seconds) as writer:
            with nullcontext(held.shelf(shelf).reader) if held else closing(writer.reader()) as reader:
                for number in numbers_of(reader, keys):
                    writer.delete_document(number)
            for document in documents:
                _add(writer, document)


def _documents(
    look: Look,
    subjects: set[int] | None = None,
    photos: set[int] | None = None,
    visits: set[int] | None = None,
) -> tuple[Iterable[Document], Iterable[Document], Iterable[Document]]:
    kind_words = words_of_kinds(look)
    return (
        (subject_document(words, kind_words) for words in subject_words(look, subjects)),
        (photo_document(words) for words in loose_photo_words(look, photos)),
        (visit_document(words) for words in visit_words(look, visits)),
    )


def _writer(index: FileIndex, **options: Any) -> Any:
    """Return the library's writer, which as a context commits what was written, or cancels it where that failed."""
    return index.writer(codec=W3Codec(compression=0), **options)  # what is packed takes longer to read


def _add(writer: Any, document: Document) -> None:
    text = text_for_phrases(document.texts)
    writer.add_document(key=document.key, words=document, text=text, _words_boost=document.boost)
