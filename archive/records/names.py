"""Names and ids: how a record is called, by the person and for ever."""

from __future__ import annotations

import re
import secrets
import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches
from functools import lru_cache
from typing import Any, TypeVar

from archive.errors import NotAccepted

# Base 32 without letters that are taken for figures: what stands for each of the 256 bytes.
_ALPHABET = b"0123456789abcdefghjkmnpqrstvwxyz" * 8
_ID_FORM = re.compile(r"[a-z](?=[a-z]*[0-9])[0-9a-hjkmnp-tv-z]{10}")
_Named = TypeVar("_Named", bound=Any)  # with a name
_NUMBER = re.compile(r"[0-9]+")

# The letter that a public id begins with.
LETTERS = {
    "place": "l",
    "visit": "v",
    "photo": "p",
    "subject": "s",
    "sighting": "g",
    "instrument": "i",
    "dimension": "d",
    "reading": "r",
    "build": "b",
    "mark": "m",
    "derivation": "w",
    "instrument_check": "k",
    "visit_file": "f",
    "tape_run": "t",
    "tally": "y",
}


@lru_cache(4096)
def name_key(name: str) -> str:
    """Return the form in which names are compared: 'Wharf  Crane' and 'wharf crane' are one.

    Compatibility caseless matching (Unicode Standard, section 3.13, D146): folding can undo a normal form
    and a normal form can bring new capitals, hence twice. The key of a key is the key.
    """
    key = unicodedata.normalize("NFD", _visible(name)).casefold()
    key = unicodedata.normalize("NFKC", key).casefold()
    return " ".join(unicodedata.normalize("NFKC", key).split())


def natural_key(name: str) -> str:
    """Return the form by which names are put in order: 'Bay 9' before 'Bay 10', 'crane.jpg' before 'crane (2).jpg'."""
    return _NUMBER.sub(_counted, name_key(name)).replace(".", "\t")


def _counted(number: re.Match[str]) -> str:
    """A number after the count of its figures, so that text order is the order of numbers."""
    figures = number[0].lstrip("0")
    return f"{len(figures):03}{figures}"


def in_natural_order(rows: Iterable[_Named]) -> list[_Named]:
    """Return things that have a name in the order of their names."""
    return sorted(rows, key=lambda row: natural_key(row.name))


def new_public_id(sort: str) -> str:
    """Return a fresh id of a record of this sort: its letter and ten random characters, one of them a figure."""
    while True:
        public_id = LETTERS[sort] + secrets.token_bytes(10).translate(_ALPHABET).decode()
        if has_id_form(public_id):
            return public_id


def has_id_form(text: str) -> bool:
    """Tell whether `text` is written like an id; no English word is, for an id holds a figure."""
    return _ID_FORM.fullmatch(text) is not None


def near_names(asked: str, names: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """Return the names that `asked` may be a slip of, nearest first."""
    by_key = {name_key(name): name for name in names}
    return tuple(by_key[key] for key in get_close_matches(name_key(asked), list(by_key), n=most, cutoff=0.6))


def clean_name(text: str, *, longest: int = 200) -> str:
    """Return a name as it is kept: no control characters, no space at the ends, single spaces inside.

    Raises `NotAccepted` for one that is too long: cutting it would lose what the person wrote.
    """
    name = " ".join(_visible(text).split())
    if len(name) > longest:
        raise NotAccepted(
            f"The name '{name[:40]}...' is longer than {longest} characters",
            "Shorten it; notes take the rest.",
        )
    return name


def _visible(text: str) -> str:
    """Leave off what shows nothing: control and format characters, and halves of undecodable bytes."""
    if text.isprintable():
        return text
    return "".join(c for c in text if c.isspace() or unicodedata.category(c) not in ("Cc", "Cf", "Cs"))
