"""Words as they are compared: accents optional, endings taken off, both spellings of English one.

Scripts that leave no spaces between words (Han, kana, Thai and their neighbours) are cut into letters
and pairs of letters, so that a word is found wherever it stands in a run of text.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from whoosh.lang.porter import stem as porter_stem

_ASCII_WORD = re.compile(r"[0-9a-z]+")
_APOSTROPHES = re.compile(r"(?<=\w)['’ʼ＇](?=\w)")
# Letters that Unicode does not take apart into a plain letter and a mark.
_PLAIN_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ς": "σ"}
)
# Blocks whose writing leaves no spaces between words: Thai, Lao, Myanmar, Khmer, kana, Han.
_UNSPACED = (
    (0x0E00, 0x0EFF),
    (0x1000, 0x109F),
    (0x1780, 0x17FF),
    (0x3040, 0x30FF),
    (0x3400, 0x4DBF),
    (0x4E00, 0x9FFF),
    (0xF900, 0xFAFF),
    (0x20000, 0x3FFFF),
)
_HANGUL = (0xAC00, 0xD7AF)
LONGEST_WORD = 60  # letters; what is longer is no word that anybody looks for


class Word(NamedTuple):
    """One word of a text as it is compared, and whether it is common: says nothing of what is looked for."""

    text: str
    common: bool


def fold(text: str) -> str:
    """Return the text as it is compared: case, width and (in Latin, Greek, Cyrillic) accents put aside."""
    if text.isascii():
        return text.lower()
    text = unicodedata.normalize("NFKD", text.replace("\N{LATIN CAPITAL LETTER SHARP S}", "ss").casefold())
    text = "".join(c for c in text if not "\u0300" <= c <= "\u036f")
    return unicodedata.normalize("NFC", text).translate(_PLAIN_LETTERS)


def words_of(text: str) -> Iterator[Word]:
    """Yield the words of a text in order, endings taken off; of an unspaced run its letters and pairs of letters."""
    common = common_words()
    for word in plain_words(text):
        if is_piece_of_run(word):
            yield from (Word(piece, common=False) for piece in (*word, *pairs_of(word)))
        else:
            yield Word(root(word), word in common)


def as_compared(text: str) -> str:
    """Return a text as phrases are looked for in it: its words without their endings, one space between two."""
    return " ".join(map(root, plain_words(text)))


def plain_words(text: str) -> list[str]:
    """Return the words of a text folded but with their endings, unspaced runs whole, others of 60 letters at most."""
    folded = fold(_APOSTROPHES.sub("", text))
    if folded.isascii():
        return [word[:LONGEST_WORD] for word in _ASCII_WORD.findall(folded)]
    return [run if is_piece_of_run(run) else run[:LONGEST_WORD] for run in _runs(folded)]


@lru_cache(maxsize=50_000)
def root(word: str) -> str:
    """Return a folded word without its English ending and in one spelling: 'harbours' and 'harbor' are one."""
    if not word.isascii() or not word.isalpha():
        return word
    stem = str(porter_stem(word))
    return _one_spelling().get(stem, stem)


def is_piece_of_run(word: str) -> bool:
    """Tell whether a folded word belongs to a script that leaves no spaces."""
    return bool(word) and _is_unspaced(word[0])


def pairs_of(run: str) -> tuple[str, ...]:
    """Return the overlapping pairs of letters of an unspaced run."""
    return tuple(run[n : n + 2] for n in range(len(run) - 1))


def _runs(folded: str) -> Iterator[str]:
    """Yield runs of letters, figures and marks; a run changes where spaced writing meets unspaced."""
    start, unspaced = None, False
    for n, c in enumerate(folded):
        belongs = c.isalnum() or unicodedata.category(c)[0] == "M"
        if start is not None and (not belongs or (_is_unspaced(c) != unspaced and not _joins(c))):
            yield folded[start:n]
            start = None
        if belongs and start is None:
            start, unspaced = n, _is_unspaced(c)
    if start is not None:
        yield folded[start:]


def _joins(c: str) -> bool:
    return unicodedata.category(c)[0] == "M"


def _is_unspaced(c: str) -> bool:
    code = ord(c)
    return code >= 0x0E00 and (
        any(low <= code <= high for low, high in _UNSPACED) or _HANGUL[0] <= code <= _HANGUL[1]
    )


@cache
def _told() -> dict[str, Any]:
    told: dict[str, Any] = json.loads(Path(__file__).with_name("words.json").read_text(encoding="utf-8"))
    return told


@cache
def _one_spelling() -> dict[str, str]:
    return {str(porter_stem(gb)): str(porter_stem(us)) for gb, us in _told()["spellings"]}


@cache
def common_words() -> frozenset[str]:
    """Return the words that say nothing of what is looked for ('the', 'some', 'thing'), folded.

    With their endings: without it 'herring' is no more than 'her'.
    """
    return frozenset(_told()["common"].split())


@cache
def other_words() -> dict[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Return, for words as compared, what the other side of the Atlantic says: 'bonnet' for 'hood' and back."""
    found: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
    for british, american in _told()["crossings"]:
        sides = [
            [tuple(root(w) for w in plain_words(phrase)) for phrase in side.split(" | ")]
            for side in (british, american)
        ]
        for here, there in (sides, sides[::-1]):
            for phrase in here:
                found.setdefault(phrase, []).extend(p for p in there if p not in found.get(phrase, []))
    return {phrase: tuple(others) for phrase, others in found.items()}
