"""A picture's fingerprint: the same for the same picture saved again or made smaller, and unlike for others.

128 bits: whether it gets brighter from each of 8 x 8 patches to the next one to the right, and to the next one below
(difference hash of imagehash, both ways). Taken of an upright picture.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from PIL import Image, ImageStat

BITS = 128
_SIDE = 8
# Grey levels: below this a picture is one even surface, and its bits are noise.
_LEAST_SPREAD = 4.0


def fingerprint(jpeg: bytes) -> str:
    """Return the fingerprint of an upright picture as 32 hexadecimal figures; '' for an even surface, which has none.

    `jpeg` is a small picture as `upright_preview` makes it.
    """
    return _fingerprint(_in_grey(jpeg))


def fingerprints_any_way_round(jpeg: bytes) -> tuple[str, ...]:
    """Return the fingerprints of a picture turned by every quarter and mirrored, itself first; none for an even surface."""
    grey = _in_grey(jpeg)
    every_way = (grey, *(grey.transpose(turn) for turn in Image.Transpose))
    return tuple(filter(None, map(_fingerprint, every_way)))


def difference(one: str, other: str) -> int:
    """Return in how many of the 128 bits two fingerprints differ."""
    return (int(one, 16) ^ int(other, 16)).bit_count()


class Fingerprints:
    """Many fingerprints, so that those which are near to one are found at once."""

    def __init__(self, fingerprints: Sequence[str]) -> None:
        import numpy as np

        self._bytes = np.frombuffer(bytes.fromhex("".join(fingerprints)), np.uint8).reshape(-1, BITS // 8)
        self._ones = np.array([byte.bit_count() for byte in range(256)], np.uint8)

    def near(self, number: int, most_difference: int) -> list[int]:
        """Return the numbers of the others that differ from this one in so many bits at most."""
        apart = self._ones[self._bytes ^ self._bytes[number]].sum(axis=1)
        return [int(other) for other in (apart <= most_difference).nonzero()[0] if other != number]


def _in_grey(jpeg: bytes) -> Image.Image:
    with Image.open(io.BytesIO(jpeg)) as picture:
        return picture.convert("L")


def _fingerprint(grey: Image.Image) -> str:
    import imagehash  # here, for it brings numpy

    patches = grey.resize((_SIDE + 1, _SIDE + 1), Image.Resampling.LANCZOS)
    if ImageStat.Stat(patches).stddev[0] < _LEAST_SPREAD:
        return ""
    return f"{imagehash.dhash(grey, _SIDE)}{imagehash.dhash_vertical(grey, _SIDE)}"
