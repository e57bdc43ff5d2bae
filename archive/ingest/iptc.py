"""Read the text of an IPTC block (IPTC-IIM 4.2)."""

from __future__ import annotations

from dataclasses import dataclass

from archive.ingest.words import clean, decoded_text

_CAPTION, _KEYWORD, _BY_LINE, _COPYRIGHT = (2, 120), (2, 25), (2, 80), (2, 116)
_CHARACTER_SET = (1, 90)
# The character sets of ISO 8859 by the last letter of their call (ISO 2022); a text that is UTF-8 is read as that.
_SETS = dict(zip("ABCDFGHLM", (1, 2, 3, 4, 7, 6, 8, 5, 9), strict=True))
_MOST_DATASETS = 5_000


@dataclass(frozen=True, slots=True)
class Texts:
    """What a block of text metadata says; each None or empty when it says nothing."""

    caption: str | None = None
    keywords: tuple[str, ...] = ()
    creator: str | None = None
    rights: str | None = None


def read_iptc(block: bytes) -> Texts:
    """The caption, keywords, creator and rights of an IIM block; what is cut off is left out."""
    datasets = _datasets(block)
    called = datasets.get(_CHARACTER_SET, [b""])[0].decode("latin-1")
    part = _SETS.get(called[-1:]) if called[:2] in ("\x1b-", "\x1b.") else None

    def texts(number: tuple[int, int]) -> list[str]:
        found = [
            clean(d.decode(f"iso8859_{part}", "replace") if part else decoded_text(d))
            for d in datasets.get(number, [])
        ]
        return [text for text in found if text]

    captions, rights = texts(_CAPTION), texts(_COPYRIGHT)
    return Texts(
        caption=captions[0] if captions else None,
        keywords=tuple(dict.fromkeys(texts(_KEYWORD))),
        creator=", ".join(texts(_BY_LINE)) or None,
        rights=rights[0] if rights else None,
    )


def _datasets(block: bytes) -> dict[tuple[int, int], list[bytes]]:
    found: dict[tuple[int, int], list[bytes]] = {}
    offset = 0
    for _ in range(_MOST_DATASETS):
        if block[offset : offset + 1] != b"\x1c" or offset + 5 > len(block):
            break
        record, number = block[offset + 1], block[offset + 2]
        length = int.from_bytes(block[offset + 3 : offset + 5], "big")
        offset += 5
        if length & 0x8000:  # an extended dataset: the length of the length
            size = length & 0x7FFF
            if size > 4:
                break
            length = int.from_bytes(block[offset : offset + size], "big")
            offset += size
        found.setdefault((record, number), []).append(block[offset : offset + length])
        offset += length
    return found
