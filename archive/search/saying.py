"""What a search says of itself: what it did not find, and what it shows instead."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from archive.kinds import Thesaurus
from archive.records.changes import Look
from archive.records.finding.words import loose_photo_words, subject_words
from archive.search.words import plain_words, root

if TYPE_CHECKING:
    from archive.search.lookup import Found
    from archive.search.query import Choice

_SIGNS_AROUND = re.compile(r"^[\W_]+|[\W_]+$")
_LONGEST_ECHO = 60  # characters of what was typed that a sentence repeats
_KINDS_NAMED = 3
_READ_FOR_WORDS = 5  # best finds whose texts are read for the words that they were found by


def nothing_to_look_for(typed: str, no_conditions: bool) -> str | None:
    """Return the sentence for a search without a word in it; None where it has conditions."""
    if typed.strip():
        return f"There is no word in “{_short(typed)}” to look for."
    return "Say what to find: some words, a kind, a size." if no_conditions else None


def said_of(
    look: Look, typed: str, found: Found, subject_keys: Sequence[int], kinds: Thesaurus
) -> Iterator[str]:
    """Yield the sentences about words that stand nowhere, what is shown for them, and what is only part of it."""
    own = _own_words(typed)
    texts = list(_texts(look, found, subject_keys, kinds))
    nothing = []
    for unit in found.unknown:
        instead = next((u for u in found.replaced if u.typed == unit.typed), None)
        shown = _shown(instead.choices, unit.typed, texts, kinds) if instead else None
        as_typed = f"“{_short(' '.join(own.get(word, word) for word in unit.typed.split()))}”"
        if shown:
            yield f"Nothing for {as_typed}; showing {shown}."
        else:
            nothing.append(as_typed)
    if nothing:
        yield f"Nothing for {' or '.join(nothing)}."
    if not found:
        if not found.unknown:
            yield "Nothing has these words and keeps to all of that."
    elif found.by_use:
        yield "Nothing has all of these words; showing what is used for that."
    elif found.partly:
        yield "Nothing has all of these words; what has the most of them comes first."


def _texts(look: Look, found: Found, subject_keys: Sequence[int], kinds: Thesaurus) -> Iterator[str]:
    if not found.replaced:
        return
    known = {kind.id for kind in kinds}
    for subject in subject_words(look, subject_keys[:_READ_FOR_WORDS]):
        own = [subject.name, *subject.also, subject.numbers, subject.maker, subject.era, subject.place]
        of_kind = kinds.words(subject.kind, with_broader=True) if subject.kind in known else ()
        more = [subject.part_of, *subject.parts, *subject.labels, subject.notes, *subject.captions]
        yield from _written([*own, *of_kind, *more, *subject.keywords, *subject.visits, *subject.files])
    for photo in loose_photo_words(look, list(found.shelves.get("photos", ()))[:_READ_FOR_WORDS]):
        yield from _written([photo.caption, *photo.keywords, photo.file, photo.visit, photo.place])


def _written(texts: Iterable[str | None]) -> Iterator[str]:
    return (text for text in texts if text)


def _shown(choices: Sequence[Choice], typed: str, texts: Sequence[str], kinds: Thesaurus) -> str | None:
    """Return what was found in place of the typed word: kinds, or a word as it stands in what was found."""
    of_kinds = [kind.name for kind in kinds if any(choice.kind == kind.id for choice in choices)]
    if of_kinds:
        return ", ".join(of_kinds[:_KINDS_NAMED])
    written = [word for text in texts for word in plain_words(text)]
    for choice in choices:
        if choice.beginning:
            begun = next((word for word in written if word.startswith(typed)), None)
            if begun is not None:
                return begun
            continue
        stand = [next((word for word in written if root(word) == wanted), None) for wanted in choice.words]
        if all(stand):
            return " ".join(word for word in stand if word)
    return None


def _own_words(typed: str) -> dict[str, str]:
    """Return each word that was typed, by how it is compared: people see their own word again, accents and all."""
    pieces = [_SIGNS_AROUND.sub("", piece) for piece in typed.split()]
    return {words[0]: piece for piece in pieces if len(words := plain_words(piece)) == 1}


def _short(typed: str) -> str:
    typed = " ".join(typed.split())
    return typed if len(typed) <= _LONGEST_ECHO else typed[: _LONGEST_ECHO - 1] + "…"
