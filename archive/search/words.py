"""Words as they are compared: accents optional, endings taken off, both spellings of English one.

Scripts that leave no spaces between words (Han, kana, Thai and their neighbours) are cut into letters
and pairs of letters, so that a word is found wherever it stands in a run of text.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

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


@dataclass(frozen=True, slots=True)
class Word:
    """One word of a text: as it is compared, its place in the text, and whether it says anything."""

    text: str
    position: int
    piece: bool = False  # of an unspaced run
    common: bool = False  # says nothing of what is looked for


def fold(text: str) -> str:
    """Return the text as it is compared: case, width and (in Latin, Greek, Cyrillic) accents put aside."""
    if text.isascii():
        return text.lower()
    text = unicodedata.normalize("NFKD", text.replace("\N{LATIN CAPITAL LETTER SHARP S}", "ss").casefold())
    text = "".join(c for c in text if not "\u0300" <= c <= "\u036f")
    return unicodedata.normalize("NFC", text).translate(_PLAIN_LETTERS)


def words_of(text: str) -> Iterator[Word]:
    """Yield the words of a text in order, endings taken off. Pieces of one unspaced run follow each other."""
    folded = fold(_APOSTROPHES.sub("", text))
    common, position = common_words(), 0
    for run in _ASCII_WORD.findall(folded) if folded.isascii() else _runs(folded):
        if len(run) > LONGEST_WORD:
            run = run[:LONGEST_WORD]
        if run.isascii() or not _is_unspaced(run[0]):
            yield Word(root(run), position, common=run in common)
            position += 1
        else:
            yield from _pieces(run, position)
            position += len(run)


def plain_words(text: str) -> list[str]:
    """Return the words of a text folded but with their endings, unspaced runs whole."""
    folded = fold(_APOSTROPHES.sub("", text))
    return _ASCII_WORD.findall(folded) if folded.isascii() else list(_runs(folded))


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


def _pieces(run: str, position: int) -> Iterator[Word]:
    for n, letter in enumerate(run):
        yield Word(letter, position + n, piece=True)
        if n + 1 < len(run):
            yield Word(run[n : n + 2], position + n, piece=True)


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
