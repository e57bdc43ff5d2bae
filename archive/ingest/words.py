"""Text found in files, made fit to keep: decoded, and without control characters."""

from __future__ import annotations

import codecs
import unicodedata

_MOST_CHARACTERS = 64_000


def decoded_text(data: bytes) -> str:
    """Bytes of unknown encoding as text: UTF-16 with its mark, UTF-8, perhaps cut off, else the Western code page.

    Every byte string gives some text; the last resort reads each undefined byte as Latin-1.
    """
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        whole = data[: problem.start]
        if not whole.isascii() and problem.reason == "unexpected end of data":
            return whole.decode("utf-8-sig")
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def clean(text: str) -> str | None:
    """Without control characters (line ends and tabs stay) and white space at the ends; None if empty."""
    kept = "".join(
        character
        for character in text[:_MOST_CHARACTERS].replace("\r\n", "\n").replace("\r", "\n")
        if character in "\n\t" or unicodedata.category(character) not in ("Cc", "Cs")
    )
    return kept.strip() or None
