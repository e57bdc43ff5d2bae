"""From the records to what is indexed: each thing's texts, with the weight of where they stand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from archive.records.finding.words import PhotoWords, SubjectWords, VisitWords
from archive.search import ranking


class Text(NamedTuple):
    """One text of a thing; `whole` keeps its common words too, as names need them."""

    weight: float
    text: str
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Document:
    """One thing as it is indexed: its key, its texts, what all their words are multiplied by, and the ids of its kinds."""

    key: int
    texts: tuple[Text, ...]
    boost: float = 1.0
    kinds: tuple[str, ...] = ()


class KindWords(NamedTuple):
    """What a kind is called: its own names and synonyms, those of its broader kinds, and the ids of all of them."""

    own: tuple[str, ...]
    broader: tuple[str, ...]
    ids: tuple[str, ...]


NO_KIND = KindWords((), (), ())


def subject_document(words: SubjectWords, kind_words: Callable[[str], KindWords]) -> Document:
    """Return a subject as it is indexed; `kind_words` is for the id of its kind."""
    own, broader, kinds = kind_words(words.kind) if words.kind else NO_KIND
    texts = [_name(name) for name in (words.name, *words.also)]
    texts += _all(ranking.NUMBERS, [words.numbers])
    texts += _each_once(ranking.KIND, own)
    texts += _each_once(ranking.BROADER_KIND, broader)
    texts += _all(ranking.MAKER, [words.maker])
    texts += _all(ranking.ERA, [words.era])
    texts += _all(ranking.PLACE, [words.place])
    texts += _all(ranking.PART, [words.part_of, *words.parts])
    texts += _each_once(ranking.SIZE_LABEL, words.labels)
    texts += _all(ranking.NOTES, [words.notes])
    texts += _each_once(ranking.CAPTION, [*words.captions, *words.keywords])
    texts += _each_once(ranking.FILE_NAME, words.files)
    texts += _each_once(ranking.VISIT, words.visits)
    boost = ranking.coverage_boost(len(words.views), words.known_sizes)
    return Document(words.key, tuple(texts), boost, kinds)


def photo_document(words: PhotoWords) -> Document:
    """Return a photo that shows no subject yet as it is indexed."""
    texts = [
        *_all(ranking.CAPTION * 2, [words.caption, *words.keywords]),
        *_all(ranking.FILE_NAME * 2, [words.file]),
        *_all(ranking.VISIT, [words.visit, words.place, words.camera, words.creator]),
    ]
    return Document(words.key, tuple(texts))


def visit_document(words: VisitWords) -> Document:
    """Return a visit as it is indexed."""
    texts = [
        *(_name(name) for name in (words.name, *words.also)),
        *_all(ranking.PLACE, [words.place]),
        *_all(ranking.NOTES, [words.people, words.access_notes, words.place_notes, *words.days]),
    ]
    return Document(words.key, tuple(texts))


def _name(name: str) -> Text:
    return Text(ranking.name_weight(len(name.split())), name, whole=True)


def _all(weight: float, texts: Iterable[str | None]) -> Iterator[Text]:
    return (Text(weight, text) for text in texts if text)


def _each_once(weight: float, texts: Iterable[str]) -> Iterator[Text]:
    """Return many short texts as one, so that a word in several of them counts as repeats and not anew."""
    joined = " | ".join(text for text in texts if text)
    return _all(weight, [joined])
